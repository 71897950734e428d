"""Taking over from the last job on the same model: looked at first, and taken back in one press."""

from itertools import groupby
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST

from shopwarranty.shops.access import ANYONE, actor_of, allow
from shopwarranty.web.notices import tell

from .. import actions, copying
from ..record import load_record
from .job import about
from .rows import recorded, the_job


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def copy_last(request: Any, pk: int) -> HttpResponse:
    row = the_job(pk)
    record, catalogue = recorded(request, row)
    source = copying.last_similar(row) if copying.is_offered(record) else None
    offered: tuple[copying.Line, ...] = ()
    if source:
        method = row.method_version.values if row.method_version else None
        offered = copying.lines(load_record(source, catalogue), record, request.shop, method)
    if request.method == "POST" and source:
        wanted = copying.chosen(offered, request.POST.getlist("line"))
        if wanted:
            return take_over(request, row, source, wanted)
        tell(request, _("Nothing was chosen."), level=messages.ERROR)
    context = {
        **about(request, record),
        "source": source,
        "groups": [(name, list(each)) for name, each in groupby(offered, key=lambda line: line.panel)],
    }
    return render(request, "jobs/copy_last.html", context)


def take_over(request: Any, row: Any, source: Any, wanted: tuple[copying.Line, ...]) -> HttpResponse:
    actions.copy_from_job(job=row, source=source, lines=wanted, actor=actor_of(request), now=request.now)
    words = ngettext("One line taken over.", "%(n)s lines taken over.", len(wanted)) % {"n": len(wanted)}
    tell(request, words, undo_url=reverse("copy-undo", args=[request.shop.slug, row.pk]))
    return redirect("job", request.shop.slug, row.pk)


@require_POST
@allow(ANYONE)
def copy_undo(request: Any, pk: int) -> HttpResponse:
    row = the_job(pk)
    change = copying.standing_copy(pk)
    if change is None or row.state != row.State.OPEN:
        tell(request, _("There is nothing to take back."), level=messages.WARNING)
    else:
        actions.take_back_copy(change=change, job=row, actor=actor_of(request), now=request.now)
        tell(request, _("Taken back. What somebody changed in between stays."))
    return redirect("job", request.shop.slug, pk)
