"""Certificates at the desk: the list, one certificate, its bytes, and what may become of it."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.shops import stored_bytes
from shopwarranty.shops.access import ANYONE, OWNER, actor_of, allow
from shopwarranty.shops.models import Change
from shopwarranty.web.notices import tell

from . import actions, refusals
from .certificate_drawing import drawing_of
from .certificate_list import SHOWN, certificates, standing_of, with_standing
from .forms import WhyForm, WithdrawForm
from .models import Certificate, ReasonGiven
from .moved_on import moved_on
from .paper_words import cover_rows, facts
from .snapshot import NoHolder, NothingToCertify
from .snapshot_parts import read_snapshot
from .telling import can_be_written_to, file_name, times_sent
from .transfers import ended_by_sale


@require_GET
@allow(ANYONE)
def certificate_list(request: Any) -> HttpResponse:
    words, shown = request.GET.get("q", ""), request.GET.get("show", "")
    rows = certificates(words=words, shown=shown, today=request.today)
    page = Paginator(rows, 50).get_page(request.GET.get("page"))
    with_standing(page.object_list, request.today)
    context = {"page": page, "words": words, "shown": shown, "choices": SHOWN}
    return render(request, "warranty/certificates.html", context)


def the_certificate(pk: int) -> Certificate:
    rows = Certificate.objects.select_related("shop", "vehicle", "holder", "job", "issued_by", "withdrawn_by")
    return get_object_or_404(rows, pk=pk)


@require_GET
@allow(ANYONE)
def certificate(request: Any, pk: int) -> HttpResponse:
    row = the_certificate(pk)
    snapshot = read_snapshot(row.snapshot)
    sold_on = ended_by_sale([row]).get(row.pk)
    standing, words = standing_of(row, request.today, sold=sold_on is not None)
    editions = Certificate.objects.filter(number=row.number).defer("snapshot").order_by("-edition")
    context = {
        "row": row,
        "snapshot": snapshot,
        "standing": standing,
        "standing_words": words,
        "sold_on": sold_on,
        "moved_on": moved_on(row) if row.state == Certificate.State.ISSUED and sold_on is None else (),
        "facts": list(facts(snapshot)),
        "covered": list(cover_rows(snapshot)),
        "drawing": drawing_of(snapshot, on_paper=False),
        "editions": with_standing(list(editions), request.today),
        "history": Change.objects.filter(table=Certificate._meta.db_table, row=row.pk)[:50],
        "reasons": ReasonGiven.objects.filter(job=row.job).select_related("member").order_by("at"),
        "nth": times_sent(row) + 1,
        "can_mail": row.state == Certificate.State.ISSUED and can_be_written_to(row.holder),
        "section": "certificates",
    }
    return render(request, "warranty/certificate.html", context)


@require_GET
@allow(ANYONE)
def certificate_pdf(request: Any, pk: int) -> HttpResponse:
    """The stored bytes, exactly; a damaged file is said to be damaged and not shown."""
    row = the_certificate(pk)
    if not row.pdf_sha256:
        tell(request, _("The paper was erased with the holder's personal data."))
        return redirect("certificate", request.shop.slug, row.pk)
    try:
        content = stored_bytes.read(row.pdf_sha256)
    except stored_bytes.DamagedFile:
        tell(
            request,
            _("The stored file is damaged or gone. Restore it from a backup; nothing is shown in its place."),
            level=messages.ERROR,
        )
        return redirect("certificate", request.shop.slug, row.pk)
    return pdf_response(content, file_name(row), download="download" in request.GET)


def pdf_response(content: bytes, name: str, *, download: bool) -> HttpResponse:
    response = HttpResponse(content, content_type="application/pdf")
    how = "attachment" if download else "inline"
    response["Content-Disposition"] = f'{how}; filename="{name}"'
    response["Cache-Control"] = "private, no-store"
    response["X-Content-Type-Options"] = "nosniff"
    return response


@require_POST
@allow(ANYONE)
def send_again(request: Any, pk: int) -> HttpResponse:
    row = the_certificate(pk)
    nth = request.POST.get("nth", "")
    try:
        actions.resend_certificate(
            certificate=row, nth=int(nth) if nth.isdecimal() else 1, actor=actor_of(request), now=request.now
        )
    except refusals.NoAddressOfHolder:
        words = _("The holder has no e-mail address that works. Print it, or add an address at the vehicle.")
        tell(request, words, level=messages.WARNING)
    except refusals.NotInForce:
        words = _("It is not in force any more, and the mail would say that it is. Download it instead.")
        tell(request, words, level=messages.WARNING)
    else:
        tell(request, _("The same file goes to %(mail)s again.") % {"mail": row.holder.email})
    return redirect("certificate", request.shop.slug, row.pk)


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def replace_certificate(request: Any, pk: int) -> HttpResponse:
    """A correction, or panels finished later, as the next edition; what will change is shown first."""
    row = the_certificate(pk)
    form = WhyForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        done = replaced(request, row, form)
        if done is not None:
            tell(request, _("Edition %(edition)s is issued and takes its place.") % {"edition": done.edition})
            return redirect("certificate", request.shop.slug, done.pk)
    context = {
        "question": _("Issue a new edition of %(number)s?") % {"number": row.number},
        "explain": _(
            "The certificate is printed anew from the record as it stands now. Correct name, VIN or panels "
            "at the vehicle and the job first."
        ),
        "consequences": [
            _("Edition %(edition)s keeps its number, and is kept as replaced.") % {"edition": row.edition},
            _("Film that was covered keeps its dates; panels finished since are covered from today."),
            _("If the earlier edition was sent by mail, the new one is too."),
        ],
        "form": form,
        "act": _("Issue edition %(edition)s") % {"edition": row.edition + 1},
        "back_url": reverse("certificate", args=[request.shop.slug, row.pk]),
        "section": "certificates",
    }
    return render(request, "web/confirm.html", context)


def replaced(request: Any, row: Certificate, form: WhyForm) -> Certificate | None:
    try:
        return actions.replace_certificate(
            certificate=row, **form.cleaned_data, actor=actor_of(request), now=request.now
        )
    except refusals.HolderDiffers:
        words = _("The vehicle has another holder by now. If it was sold, record the sale at the vehicle.")
        form.add_error("wrong_holder", words)
    except refusals.NothingDiffers:
        form.add_error(None, _("The record says the same as the certificate: there is nothing to replace."))
    except refusals.NotInForce:
        form.add_error(None, _("It is not in force any more; somebody was quicker."))
    except (NoHolder, NothingToCertify, refusals.CertificateRefusal):
        words = _(
            "It cannot be issued as the record stands: holder, VIN, panels or plan are missing something."
        )
        form.add_error(None, words)
    return None


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def withdraw_certificate(request: Any, pk: int) -> HttpResponse:
    row = the_certificate(pk)
    form = WithdrawForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            actions.withdraw_certificate(
                certificate=row, actor=actor_of(request), now=request.now, **form.cleaned_data
            )
        except refusals.NotInForce:
            form.add_error(None, _("It is not in force any more; somebody was quicker."))
        else:
            tell(request, _("Withdrawn. The holder is told, and the public page says so."))
            return redirect("certificate", request.shop.slug, row.pk)
    context = {
        "question": _("Withdraw certificate %(number)s?") % {"number": row.number},
        "explain": _(
            "Only when it was issued in error, or the contract was undone for both sides. Never because "
            "something is unpaid, a check was missed, or somebody else did a repair."
        ),
        "consequences": [
            _("Nothing is deleted: it stays in the list, marked withdrawn with day and reason."),
            _("The holder is told by mail, if there is an address."),
            _("Rights that the holder has under the law are not touched."),
        ],
        "form": form,
        "act": _("Withdraw it"),
        "back_url": reverse("certificate", args=[request.shop.slug, row.pk]),
        "section": "certificates",
    }
    return render(request, "web/confirm.html", context)
