"""What concerns the job as a whole: method, dates, technique, sessions, history."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from shopwarranty.shops.access import ANYONE, IN_THE_BAY, actor_of, allow
from shopwarranty.web.notices import tell
from shopwarranty.web.seen import SAVED_JUST_NOW

from .. import actions
from ..forms.opening import JobDetailsForm, MethodForm
from ..forms.technique import TechniqueForm
from ..models import Job, ShopField
from ..record_parts import JobRecord
from ..technique_rows import JOB_FIELDS
from ..usual import usual_of_job
from .job import about
from .rows import recorded, the_job


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def job_method(request: Any, pk: int) -> HttpResponse:
    """Another method, or none. Confirmed panels have to be confirmed again."""
    row = the_job(pk)
    now_used = str(row.method_version_id) if row.method_version_id else "none"
    initial = {"method": now_used, "no_method_reason": row.no_method_reason}
    form = MethodForm(request.POST or None, initial=initial)
    if form.is_valid():
        try:
            actions.change_method(
                job=row,
                method_version=form.version(),
                no_method_reason=form.cleaned_data["no_method_reason"],
                reason=request.POST.get("why", ""),
                actor=actor_of(request),
                now=request.now,
            )
            tell(request, _("Method changed. Confirm the panels again."))
            return redirect("job", request.shop.slug, pk)
        except actions.ReasonForCorrection:
            form.add_error(None, _("The vehicle is handed over: say below why this is corrected."))
    confirmed = row.panels.filter(confirmed_at__isnull=False).count()
    context = {"form": form, "job": row, "confirmed": confirmed, "section": "jobs"}
    return render(request, "jobs/job_method.html", context)


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def job_details(request: Any, pk: int) -> HttpResponse:
    """Dates, bay, notes and safety answers."""
    row = the_job(pk)
    names = (*JobDetailsForm.VALUES, *JobDetailsForm.SAFETY)
    initial = {name: getattr(row, name) for name in names}
    form = JobDetailsForm(request.POST or None, initial=initial, corrects=row.state != Job.State.OPEN)
    if form.is_valid():
        try:
            save_details(request, row, form)
            tell(request, _("Saved."))
            return redirect("job", request.shop.slug, pk)
        except actions.InTheFuture:
            form.add_error("started_at", _("This is later than now."))
        except actions.StaleSave:
            form.add_error(None, SAVED_JUST_NOW)
    record, _catalogue = recorded(request, row)
    at_work = row.sessions.filter(stopped_at__isnull=True, member=request.member).exists()
    context = {**about(request, record), "form": form, "at_work": at_work}
    return render(request, "jobs/job_details.html", context)


def save_details(request: Any, row: Job, form: JobDetailsForm) -> None:
    values, actor = form.cleaned_data, actor_of(request)
    kept = {name: values[name] for name in form.VALUES}
    why = values.get("why", "")
    actions.change_job(job=row, values=kept, why=why, actor=actor, now=request.now)
    answers = {name: values[name] for name in form.SAFETY}
    actions.note_safety(job=row, answers=answers, actor=actor, now=request.now)


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
def job_work(request: Any, pk: int) -> HttpResponse:
    """Technique of the job as a whole: one press confirms the usual way, anything else is stated."""
    row = the_job(pk)
    record, _catalogue = recorded(request, row)
    form = job_form(request, row, record)
    if request.method == "POST" and request.POST.get("confirm"):
        return confirm_whole(request, row)
    if form.is_bound and form.is_valid():
        try:
            save_job_values(request, row, form)
            tell(request, _("Saved."))
            return redirect("job", request.shop.slug, pk)
        except actions.ReasonForCorrection:
            form.add_error(None, _("The vehicle is handed over: say below why this is corrected."))
    return render(request, "jobs/job_work.html", {**about(request, record), "form": form})


def job_form(request: Any, row: Job, record: JobRecord) -> TechniqueForm:
    own = ShopField.objects.filter(level=ShopField.Level.JOB, retired_at__isnull=True)
    return TechniqueForm(
        request.POST or None,
        shop=request.shop,
        fields=JOB_FIELDS,
        values=record.values,
        usual=usual_of_job(row),
        own_fields=own,
        own=record.own,
    )


def save_job_values(request: Any, row: Job, form: TechniqueForm) -> None:
    actions.set_job_values(
        job=row,
        values=form.said(),
        own=form.own_said(),
        reason=request.POST.get("why", ""),
        actor=actor_of(request),
        now=request.now,
    )


def confirm_whole(request: Any, row: Job) -> HttpResponse:
    try:
        actions.confirm_job(job=row, actor=actor_of(request), now=request.now)
        tell(request, _("The whole job as usual."))
    except actions.NoMethod:
        tell(request, _("No method fits this job: say below what was done."))
    except actions.ReasonForCorrection:
        tell(request, _("The vehicle is handed over: state the values below, and why."))
    return redirect("job", request.shop.slug, row.pk)


@require_POST
@allow(IN_THE_BAY)
def job_ready(request: Any, pk: int) -> HttpResponse:
    """The bay says ready for handover; pressed again it takes that back."""
    row = the_job(pk)
    ready = row.ready_at is None
    actions.say_ready(job=row, ready=ready, actor=actor_of(request), now=request.now)
    undo = reverse("job-ready", args=[request.shop.slug, pk]) if ready else ""
    tell(
        request, _("The desk sees: ready for handover.") if ready else _("Not ready any more."), undo_url=undo
    )
    return redirect("job", request.shop.slug, pk)


@require_POST
@allow(ANYONE)
def job_session(request: Any, pk: int) -> HttpResponse:
    """Work starts, or pauses: one button for whoever presses it."""
    row = the_job(pk)
    running = row.sessions.filter(stopped_at__isnull=True, member=request.member).first()
    actor, now = actor_of(request), request.now
    if running:
        actions.stop_session(session=running, actor=actor, now=now)
        tell(request, _("Paused."))
    else:
        actions.start_session(job=row, member=request.member, actor=actor, now=now)
        tell(request, _("Work goes on."))
    return redirect("job-details", request.shop.slug, pk)
