"""Trials at the desk: the list, three questions, the answer, what is drawn, what was learnt."""

import secrets
from typing import Any

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.analysis.trial_pooling import NotTheSameTrial, UnreadableFile, write_file
from shopwarranty.analysis.trial_sequence import Said
from shopwarranty.jobs.models import Job, PanelWork
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.access import ANYONE, OWNER, actor_of, allow
from shopwarranty.shops.history import StaleState
from shopwarranty.warranty.views import pdf_response
from shopwarranty.web.notices import tell

from . import actions, doing, paper
from .forms import AdoptForm, FileForm, QuestionForm, WhyForm
from .models import Draw, Trial, TrialState, TrialUnit
from .page import answer_page, jobs_to_draw, learnt_from, place_rows
from .planning import Asked, Forecast, forecast
from .refusals import AlreadySaid, BurdensCustomer, NoPairHere, NotRunning
from .results import results_of
from .technique import field_of
from .words import answer_words, plan_words

PER_PAGE = 50
MOST_BYTES = 2_000_000
ENDS = {
    Said.MORE: TrialState.ENOUGH,
    Said.FEWER: TrialState.ENOUGH,
    Said.NO_DIFFERENCE: TrialState.NO_DIFFERENCE,
}


def the_trial(pk: int) -> Trial:
    return get_object_or_404(Trial.objects.select_related("shop", "set_up_by"), pk=pk)


@require_GET
@allow(ANYONE)
def trials(request: Any) -> HttpResponse:
    page = Paginator(Trial.objects.all(), PER_PAGE).get_page(request.GET.get("page"))
    running = Trial.objects.filter(state=TrialState.RUNNING).count()
    return render(request, "trials/trials.html", {"page": page, "running": running})


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def new_trial(request: Any) -> HttpResponse:
    form = QuestionForm(request.POST or None, shop=request.shop)
    plan: Forecast | None = None
    if form.is_valid():
        plan = forecast(asked_of(form.question()), request.today)
        if request.POST.get("act") == "start":
            return start(request, form, plan)
    context = {
        "form": form,
        "plan": plan,
        "plan_words": plan_words(plan) if plan else "",
        "of_jobs": bool(plan and plan.unit == TrialUnit.JOBS),
    }
    return render(request, "trials/new_trial.html", {**context, "section": "trials"})


def asked_of(question: actions.Question) -> Asked:
    level = field_of(question.field).level
    return Asked(question.unit, level, question.place_kinds, question.panels, question.by_day, question.ratio)


def start(request: Any, form: QuestionForm, plan: Forecast) -> HttpResponse:
    trial = actions.set_up_trial(
        question=form.question(),
        pairs_needed=plan.outlook.pairs,
        size_words=plan_words(plan),
        seed=secrets.randbelow(2**53),
        actor=actor_of(request),
        now=request.now,
    )
    tell(request, _("The trial is set up. Draw before laying, job by job."))
    return redirect("trial", request.shop.slug, trial.pk)


@require_GET
@allow(ANYONE)
def trial(request: Any, pk: int) -> HttpResponse:
    row = the_trial(pk)
    context = {
        **answer_page(row, request.today),
        "jobs": jobs_to_draw(row),
        "learnt": learnt_from(row),
        "file_form": FileForm(),
    }
    return render(request, "trials/trial.html", {**context, "section": "trials"})


@require_GET
@allow(ANYONE)
def trial_pdf(request: Any, pk: int) -> HttpResponse:
    row = the_trial(pk)
    content = paper.render(answer_page(row, request.today), request.shop)
    return pdf_response(content, f"{row.number}.pdf", download=False)


@require_GET
@allow(ANYONE)
def trial_file(request: Any, pk: int) -> HttpResponse:
    """Neither people, vehicles nor dates are in it."""
    row = the_trial(pk)
    response = HttpResponse(write_file(results_of(row, request.today).file), content_type="application/json")
    response["Content-Disposition"] = f'attachment; filename="{row.number}.json"'
    response["Cache-Control"] = "private, no-store"
    return response


@require_GET
@allow(ANYONE)
def trial_places(request: Any, pk: int) -> HttpResponse:
    """For whoever judges: the places of the pairs, without saying which arm is which."""
    row = the_trial(pk)
    draws = row.draws.select_related("job__vehicle", "place__piece__panel_work").order_by("pair", "pk")
    page = Paginator(draws, PER_PAGE).get_page(request.GET.get("page"))
    rows = place_rows(page.object_list, ShopCatalogue(request.shop))
    context = {"trial": row, "page": page, "rows": rows, "section": "trials"}
    return render(request, "trials/places.html", context)


@require_POST
@allow(ANYONE)
def trial_draw(request: Any, pk: int) -> HttpResponse:
    row = the_trial(pk)
    number = request.POST.get("job", "")
    job = get_object_or_404(Job.objects.select_related("vehicle"), pk=number if number.isdecimal() else 0)
    try:
        drawn = actions.draw(trial=row, job=job, actor=actor_of(request), now=request.now)
    except BurdensCustomer:
        context = {"trial": row, "job": job, "section": "trials"}
        return render(request, "trials/burdens.html", context, status=409)
    except (NoPairHere, NotRunning):
        tell(request, _("Nothing is left to draw on job %(job)s.") % {"job": job.ref})
        return redirect("trial", request.shop.slug, row.pk)
    said = (
        _("Drawn: job %(job)s. The job and its panels say what to do.")
        if row.unit == TrialUnit.JOBS
        else _("Drawn: %(n)s places of job %(job)s. Each panel says what to do there.")
    )
    tell(request, said % {"n": len(drawn), "job": job.ref})
    return redirect("job", request.shop.slug, job.pk)


@require_POST
@allow(ANYONE)
def draw_done(request: Any, pk: int) -> HttpResponse:
    row = get_object_or_404(Draw.objects.select_related("place__piece"), pk=pk)
    why, did = request.POST.get("why", "").strip()[:160], request.POST.get("did", "")
    by = {"draw": row, "actor": actor_of(request), "now": request.now}
    try:
        if did == "drawn":
            doing.say_done_as_drawn(**by)
        elif why and did == "neither":
            doing.say_done_as_neither(why=why, **by)
        elif why:
            doing.say_done_otherwise(why=why, **by)
        else:
            tell(request, _("Say why it was not done as drawn; nothing was kept."))
            return back_to(request, row)
    except AlreadySaid:
        tell(request, _("That was said already."))
        return back_to(request, row)
    tell(request, _("Kept. Record what was done instead.") if did == "neither" else _("Kept."))
    return back_to(request, row)


def back_to(request: Any, row: Draw) -> HttpResponse:
    """The panel of the draw; of a whole job, the job."""
    slug = request.shop.slug
    if row.place:
        return redirect("panel", slug, row.place.piece.panel_work_id)
    work = PanelWork.objects.filter(job=row.job_id, panel=row.panel).first() if row.panel else None
    return redirect("panel", slug, work.pk) if work else redirect("job", slug, row.job_id)


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def trial_stop(request: Any, pk: int) -> HttpResponse:
    row = the_trial(pk)
    form = WhyForm(request.POST or None)
    if form.is_valid():
        said = results_of(row, request.today).as_drawn.standing.said
        state = ENDS.get(said, TrialState.STOPPED)
        try:
            actions.stop_trial(
                trial=row, state=state, why=form.cleaned_data["why"], actor=actor_of(request), now=request.now
            )
        except StaleState:
            tell(request, _("It is over already."))
        return redirect("trial", request.shop.slug, row.pk)
    context = {
        "question": _("End trial %(number)s?") % {"number": row.number},
        "explain": answer_words(row, results_of(row, request.today).as_drawn),
        "consequences": [_("Nothing more is drawn."), _("What is laid is still looked at and counted.")],
        "form": form,
        "act": _("End the trial"),
        "back_url": reverse("trial", args=[request.shop.slug, row.pk]),
        "section": "trials",
    }
    return render(request, "web/confirm.html", context)


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def trial_adopt(request: Any, pk: int) -> HttpResponse:
    """What was learnt becomes a new version of a method, in one step."""
    row = the_trial(pk)
    form = AdoptForm(request.POST or None)
    if form.is_valid():
        note = _("Learnt in trial %(number)s: %(question)s") % {
            "number": row.number,
            "question": row.question,
        }
        version = actions.adopt(
            trial=row, method=form.cleaned_data["method"], actor=actor_of(request), now=request.now, note=note
        )
        tell(request, _("%(version)s is written. The review watches it from today.") % {"version": version})
        return redirect("trial", request.shop.slug, row.pk)
    context = {
        "question": _("Make the other way the usual way?"),
        "explain": answer_words(row, results_of(row, request.today).as_drawn),
        "consequences": [
            _("A new version of the method is written; recorded jobs keep theirs."),
            _("The review compares what is laid before and since."),
        ],
        "form": form,
        "act": _("Write the new version"),
        "back_url": reverse("trial", args=[request.shop.slug, row.pk]),
        "section": "trials",
    }
    return render(request, "web/confirm.html", context)


@require_POST
@allow(OWNER)
def trial_pool(request: Any, pk: int) -> HttpResponse:
    row = the_trial(pk)
    form = FileForm(request.POST, request.FILES)
    if not form.is_valid() or form.cleaned_data["file"].size > MOST_BYTES:
        tell(request, _("Choose a trial's file of at most 2 MB."))
        return redirect("trial", request.shop.slug, row.pk)
    try:
        actions.add_other_file(
            trial=row,
            ours=results_of(row, request.today).file,
            content=form.cleaned_data["file"].read(),
            actor=actor_of(request),
            now=request.now,
        )
        tell(request, _("The file is put together with ours."))
    except UnreadableFile as unreadable:
        tell(request, _("Not read: %(why)s.") % {"why": _(str(unreadable))})
    except NotTheSameTrial as other:
        tell(request, _("Not put together: %(why)s.") % {"why": _(str(other))})
    return redirect("trial", request.shop.slug, row.pk)
