"""Import and export in the browser: send, look at what it would do, take it in; and get it out again."""

import tempfile
from collections.abc import Callable
from contextlib import suppress
from typing import IO, Any, Final

from django.contrib import messages
from django.db import transaction
from django.http import FileResponse, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.shops.access import OWNER, actor_of, allow
from shopwarranty.shops.history import record_change
from shopwarranty.web.notices import tell
from shopwarranty.web.trade_names import is_american

from . import documentation, exporting, pending
from .checking import Outlook
from .faults import FilesRefused
from .forms import FilesForm, TakeInForm
from .importing import ChangedMeanwhile, check_files, import_files
from .outlook_words import headline, new_names
from .pending import NothingPending

SECTION: Final = "import-jobs"
BOTH: Final = ("jobs", "findings")


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def import_jobs(request: Any) -> HttpResponse:
    """The form; after it was sent: what these files would do. Nothing is written."""
    form = FilesForm(request.POST, request.FILES) if request.method == "POST" else FilesForm()
    if not form.is_valid():
        return render(request, "desk/import_jobs.html", {"form": form, "section": SECTION})
    let_go(request)
    kept = pending.keep(request.shop, form.cleaned_data["jobs"], form.cleaned_data["findings"])
    pending.remember(request.session, request.shop, kept)
    with pending.on_disk(request.shop, kept) as files:
        outlook = check_files(files=files, shop=request.shop, now=request.now)
    if outlook.faults:
        let_go(request)
    return checked_page(request, outlook)


@require_POST
@allow(OWNER)
def take_in(request: Any) -> HttpResponse:
    """Writes what was looked at before."""
    form = TakeInForm(request.POST)
    form.full_clean()
    try:
        kept = pending.recall(request.session, request.shop)
        with pending.on_disk(request.shop, kept) as files:
            outlook = import_files(
                files=files,
                shop=request.shop,
                actor=actor_of(request),
                now=request.now,
                with_checks=form.cleaned_data["with_checks"],
            )
    except NothingPending:
        tell(request, _("The files are no longer here. Choose them again."), level=messages.WARNING)
        return redirect("import-jobs", request.shop.slug)
    except ChangedMeanwhile:
        words = _("Somebody else wrote the same meanwhile. Nothing was written; check the files again.")
        tell(request, words, level=messages.WARNING)
        return redirect("import-jobs", request.shop.slug)
    except FilesRefused as refused:
        return checked_page(request, Outlook(faults=refused.faults))
    let_go(request)
    tell(request, headline(outlook, done=True))
    return redirect("jobs", request.shop.slug)


def checked_page(request: Any, outlook: Outlook) -> HttpResponse:
    context = {
        "outlook": outlook,
        "headline": headline(outlook, done=False),
        "new_names": list(new_names(outlook)),
        "form": TakeInForm(),
        "section": SECTION,
    }
    return render(request, "desk/import_checked.html", context)


def let_go(request: Any) -> None:
    """Deletes files that this person sent before, if they still wait."""
    with suppress(NothingPending):
        pending.forget(request.shop, pending.recall(request.session, request.shop))
    pending.remember(request.session, request.shop, None)


@require_GET
@allow(OWNER)
def import_format(request: Any) -> HttpResponse:
    """The format, column by column."""
    american = is_american(request.shop)
    context = {
        "rules": documentation.RULES,
        "files": documentation.described_files(),
        "lists": list(documentation.key_lists(american=american)),
        "panels": list(documentation.panel_lists(american=american)),
        "section": SECTION,
    }
    return render(request, "desk/import_format.html", context)


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def export_jobs(request: Any) -> HttpResponseBase:
    """Two buttons; each answers with its file. Who took one out stands in the history."""
    which = request.POST.get("file", "")
    if request.method != "POST" or which not in BOTH:
        return render(request, "desk/export_jobs.html", {"section": SECTION})
    record_change(
        row=request.member, act=f"{which} exported", actor=actor_of(request), at=request.now, after={}
    )
    writers: dict[str, Callable[[IO[str]], object]] = {
        "jobs": lambda file: exporting.export_jobs(request.shop, file),
        "findings": exporting.export_findings,
    }
    return as_attachment(writers[which], f"{request.shop.slug}-{which}-{request.today:%Y-%m-%d}.csv")


def as_attachment(write: Callable[[IO[str]], object], name: str) -> FileResponse:
    """Written to disk first: the shop's scope is over when an answer is sent bit by bit."""
    file = tempfile.NamedTemporaryFile("w+", encoding="utf-8", newline="", suffix=".csv")  # noqa: SIM115
    with transaction.atomic():
        write(file)
    file.flush()
    whole = open(file.name, "rb")  # noqa: SIM115 - closed by the answer, and then gone
    file.close()
    return FileResponse(whole, as_attachment=True, filename=name, content_type="text/csv; charset=utf-8")
