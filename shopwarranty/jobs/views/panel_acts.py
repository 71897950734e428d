"""What is pressed on a panel: as usual, finished, open again, taken back, out of the job."""

from datetime import datetime
from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from shopwarranty.shops.access import IN_THE_BAY, actor_of, allow
from shopwarranty.shops.sent_once import pressed_at, refuse, sent_once
from shopwarranty.web.notices import tell
from shopwarranty.web.trade_names import first_upper

from .. import actions
from ..actions.panels import handed_over_as_finished
from ..forms.panels import FinishForm, ReasonForm
from ..models import Job, PanelWork
from .job import about, next_panel
from .panel import reason_of
from .rows import recorded, the_deviation, the_panel, the_place


@require_POST
@allow(IN_THE_BAY)
@sent_once()
def confirm(request: Any, pk: int) -> HttpResponse:
    """As usual, all places; finished in the same press where that is said. Then the next panel."""
    row = the_panel(pk)
    finished = bool(request.POST.get("finished"))
    version = request.POST.get("version", "")
    try:
        actions.confirm_panel(
            panel_work=row,
            finished=finished,
            finished_at=pressed_at(request),
            version=int(version) if version.isdecimal() else None,
            reason=request.POST.get("why", ""),
            actor=actor_of(request),
            now=request.now,
        )
    except actions.NoMethod:
        actions.finish_panel(
            panel_work=row, finished_at=pressed_at(request), actor=actor_of(request), now=request.now
        )
    except actions.StaleSave:
        return not_done(request, row, _("Somebody changed this panel in between. Look, then confirm again."))
    except actions.ReasonForCorrection:
        return not_done(request, row, _("The vehicle is handed over. Open the panel again with a reason."))
    return after_panel(request, row, finished)


def not_done(request: Any, row: PanelWork, words: str) -> HttpResponse:
    tell(request, words)
    refuse(request, words)
    return redirect("panel", request.shop.slug, row.pk)


def after_panel(request: Any, row: PanelWork, finished: bool) -> HttpResponse:
    record, _catalogue = recorded(request, row.job)
    name, slug = first_upper(record.panel(row.pk).name), request.shop.slug
    words = _("%(panel)s: as usual, finished.") if finished else _("%(panel)s: as usual, not finished yet.")
    tell(request, words % {"panel": name}, undo_url=reverse("unconfirm-panel", args=[slug, row.pk]))
    following = next_panel(record, after=row.pk)
    return redirect("panel", slug, following.id) if following else redirect("job", slug, row.job_id)


@require_POST
@allow(IN_THE_BAY)
def unconfirm(request: Any, pk: int) -> HttpResponse:
    """Takes back confirmation and finish of a moment ago, as long as the vehicle is here."""
    row, actor = the_panel(pk), actor_of(request)
    if row.job.state != Job.State.OPEN:
        tell(request, _("The vehicle is handed over. Open the panel again with a reason."))
        return redirect("panel", request.shop.slug, pk)
    if row.finished_at:
        reason = _("taken back at once")
        row = actions.reopen_panel(panel_work=row, reason=reason, actor=actor, now=request.now)
    actions.unconfirm_panel(panel_work=row, actor=actor, now=request.now)
    tell(request, _("Taken back. Nothing by method counts for this panel now."))
    return redirect("panel", request.shop.slug, pk)


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
@sent_once()
def finish(request: Any, pk: int) -> HttpResponse:
    """Finished now, or at a time that is typed in later."""
    row = the_panel(pk)
    at: datetime = row.finished_at or handed_over_as_finished(row) or request.now
    form = FinishForm(request.POST or None, initial={"finished_at": at})
    now_pressed = request.method == "POST" and "finished_at" not in request.POST
    if now_pressed or form.is_valid():
        try:
            moment = pressed_at(request) if now_pressed else form.cleaned_data["finished_at"]
            actions.finish_panel(panel_work=row, finished_at=moment, actor=actor_of(request), now=request.now)
            return after_panel(request, row, finished=True)
        except actions.InTheFuture:
            form.add_error("finished_at", _("This is later than now."))
    refuse(request, form=form)
    record, _catalogue = recorded(request, row.job)
    context = {**about(request, record), "panel": record.panel(pk), "form": form}
    return render(request, "jobs/finish_panel.html", context)


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
def reopen(request: Any, pk: int) -> HttpResponse:
    row = the_panel(pk)
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        reason = form.cleaned_data["reason"]
        actions.reopen_panel(panel_work=row, reason=reason, actor=actor_of(request), now=request.now)
        tell(request, _("Open again. Finish it when it is done."))
        return redirect("panel", request.shop.slug, pk)
    context = {
        "question": _("Open this panel again?"),
        "explain": _("Its days count from when it is finished again. The history keeps the first day.")
        if row.job.state == Job.State.OPEN
        else _("Finished again, its days count as before, unless another time is typed."),
        "form": form,
        "act": _("Open it again"),
        "back_url": reverse("panel", args=[request.shop.slug, pk]),
        "section": "jobs",
    }
    return render(request, "web/confirm.html", context)


@require_POST
@allow(IN_THE_BAY)
def drop(request: Any, pk: int) -> HttpResponse:
    """Out of the job again, as long as nothing is recorded of it."""
    row = the_panel(pk)
    job_id = row.job_id
    try:
        actions.drop_panel(panel_work=row, actor=actor_of(request), now=request.now)
        tell(request, _("Taken out of the job."))
    except actions.PanelNotEmpty:
        tell(request, _("Something is recorded of this panel, so it stays. Say what happened instead."))
        return redirect("panel", request.shop.slug, pk)
    return redirect("job", request.shop.slug, job_id)


@require_POST
@allow(IN_THE_BAY)
@sent_once()
def as_usual_again(request: Any, pk: int) -> HttpResponse:
    stored = the_place(pk)
    try:
        actions.as_usual_again(
            place=stored, reason=reason_of(request), actor=actor_of(request), now=request.now
        )
        tell(request, _("As usual again."))
    except actions.ReasonForCorrection:
        words = _("The vehicle is handed over: open the place and say why it is corrected.")
        tell(request, words)
        refuse(request, words)
    return redirect("panel", request.shop.slug, stored.piece.panel_work_id)


@require_POST
@allow(IN_THE_BAY)
def undo_deviation(request: Any, pk: int) -> HttpResponse:
    row = the_deviation(pk)
    try:
        actions.undo_deviation(deviation=row, actor=actor_of(request), now=request.now)
        tell(request, _("As usual again."))
    except actions.ReasonForCorrection:
        tell(request, _("The vehicle is handed over: open the place and say why it is corrected."))
    if row.panel_work_id:
        return redirect("panel", request.shop.slug, row.panel_work_id)
    return redirect("job", request.shop.slug, row.job_id)
