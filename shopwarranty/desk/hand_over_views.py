"""The handover page: what is missing in the order to fix it, the look, the preview, and one button."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.inspections.actions import start_visit, sweep_panel, take_back_sweep
from shopwarranty.inspections.actions.refusals import CheckRefusal
from shopwarranty.inspections.models import Check, Visit
from shopwarranty.inspections.words import refusal_words
from shopwarranty.jobs.models import Job, PanelWork
from shopwarranty.shops.access import ANYONE, actor_of, allow
from shopwarranty.warranty.actions import in_force
from shopwarranty.warranty.certificate_drawing import drawing_of
from shopwarranty.warranty.certificate_pdf import render as render_pdf
from shopwarranty.warranty.models import PlanVersion
from shopwarranty.warranty.paper_words import cover_rows
from shopwarranty.warranty.plan_actions import published_versions
from shopwarranty.warranty.preparing import logo_of
from shopwarranty.warranty.telling import times_sent
from shopwarranty.web.notices import tell

from .hand_over_forms import HandOverForm
from .handover import (
    Blocked,
    OwnerAsked,
    ReasonsAsked,
    gaps_of,
    give_reasons,
    issue_beforehand,
    issue_late,
    next_check,
)
from .handover import hand_over as hand_over_job
from .handover_gaps import link
from .handover_situation import Situation, load_situation


def the_job(pk: int) -> Job:
    return get_object_or_404(Job.objects.select_related("shop", "vehicle"), pk=pk)


def chosen(request: Any) -> PlanVersion | None:
    """The plan looked at; the usual one where none is named."""
    wanted = request.POST.get("plan") or request.GET.get("plan") or ""
    return next((each for each in published_versions() if str(each.pk) == wanted), None)


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def hand_over(request: Any, pk: int) -> HttpResponse:
    job = the_job(pk)
    if job.state != Job.State.OPEN:
        return redirect("handed-over", request.shop.slug, job.pk)
    at = load_situation(job, request.now, chosen(request))
    form = form_for(request, at)
    if request.method == "POST" and form.is_valid():
        keep_only = "keep" in request.POST
        response = keep(request, job, form) if keep_only else act(request, job, form)
        if response is not None:
            return response
    return render(request, "desk/hand_over.html", context_of(request, at, form))


def form_for(request: Any, at: Situation) -> HandOverForm:
    return HandOverForm(
        request.POST or None,
        gaps=gaps_of(at),
        plans=published_versions() if at.is_customers else [],
        can_mail=bool(at.is_customers and at.record.holder and at.record.holder.email),
        is_owner=request.member.is_owner,
        initial={"plan": at.plan.pk if at.plan else None},
    )


def act(request: Any, job: Job, form: HandOverForm) -> HttpResponse | None:
    """Hands over, or puts what was refused into the form and gives None."""
    try:
        hand_over_job(
            job=job,
            actor=actor_of(request),
            now=request.now,
            reasons=form.reasons,
            plan=form.chosen_plan,
            mail=form.by_mail,
        )
    except Blocked as refusal:
        form.ask_for(refusal.gaps, _("Something still has to be put right first; see above."))
    except ReasonsAsked as refusal:
        form.ask_for(refusal.gaps, _("Write why this goes on all the same."))
    except OwnerAsked as refusal:
        form.ask_for(refusal.gaps, _("Only an owner may give this reason."))
    else:
        return redirect("handed-over", request.shop.slug, job.pk)
    return None


def keep(request: Any, job: Job, form: HandOverForm) -> HttpResponse | None:
    """Reasons kept, so that somebody else can hand over later."""
    try:
        count = give_reasons(job=job, reasons=form.reasons, actor=actor_of(request), now=request.now)
    except OwnerAsked as refusal:
        form.ask_for(refusal.gaps, _("Only an owner may give this reason."))
        return None
    if count:
        tell(request, _("Kept. The vehicle is not handed over yet."))
    return redirect("hand-over", request.shop.slug, job.pk)


def context_of(request: Any, at: Situation, form: HandOverForm) -> dict[str, Any]:
    found = gaps_of(at)
    snapshot = at.built.snapshot if at.built else None
    return {
        "job": at.job,
        "record": at.record,
        "at": at,
        "form": form,
        "blocks": [gap for gap in found if gap.blocks],
        "asks": [gap for gap in found if gap.asks],
        "tells": [gap for gap in found if not gap.blocks and not gap.asks and not gap.of_text],
        "of_text": [gap for gap in found if not gap.blocks and not gap.asks and gap.of_text],
        "is_owner": request.member.is_owner,
        "snapshot": snapshot,
        "covered": list(cover_rows(snapshot)) if snapshot else [],
        "drawing": drawing_of(snapshot, on_paper=False) if snapshot else None,
        "look_url": link("visit", at.slug, at.visit.pk) if at.visit else "",
        "planned": planned_ahead(at),
        "section": "jobs",
    }


def planned_ahead(at: Situation) -> date | None:
    """The planned day, when a certificate could be issued for it already."""
    day = at.record.planned_handover_on
    ready = at.is_customers and at.beforehand is None and day is not None and day > at.today
    return day if ready else None


@require_GET
@allow(ANYONE)
def preview(request: Any, pk: int) -> HttpResponse:
    """The certificate as it would be issued now, marked on every page as not issued."""
    at = load_situation(the_job(pk), request.now, chosen(request))
    if at.built is None:
        tell(request, _("There is nothing to preview yet; see what is missing."), level=messages.WARNING)
        return redirect("hand-over", request.shop.slug, pk)
    content = render_pdf(at.built.snapshot, logo=logo_of(request.shop), preview=True)
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="preview.pdf"'
    response["Cache-Control"] = "no-store"
    return response


@require_POST
@allow(ANYONE)
def begin_look(request: Any, pk: int) -> HttpResponse:
    """Opens the look of day 0, to be done place by place."""
    visit = look_of(request, the_job(pk))
    url = link("visit", request.shop.slug, visit.pk) if visit else ""
    return redirect(url) if url else redirect("hand-over", request.shop.slug, pk)


@require_POST
@allow(ANYONE)
def look_clean(request: Any, pk: int, panel: int) -> HttpResponse:
    """One deliberate act: everything on this panel nobody said anything about was looked at and is clean."""
    job = the_job(pk)
    work = get_object_or_404(PanelWork, pk=panel, job=job)
    visit = look_of(request, job)
    if visit is not None:
        try:
            undo = "undo" in request.POST
            if undo:
                take_back_sweep(visit=visit, panel_work=work)
            else:
                sweep_panel(visit=visit, panel_work=work, now=request.now)
        except CheckRefusal:
            tell(request, _("The look is finished already."), level=messages.WARNING)
    response = redirect("hand-over", request.shop.slug, pk)
    response["Location"] += "#look"
    return response


def look_of(request: Any, job: Job) -> Visit | None:
    try:
        return start_visit(
            job=job,
            origin=Visit.Origin.PLANNED,
            is_handover_look=True,
            actor=actor_of(request),
            now=request.now,
            today=request.today,
        )
    except CheckRefusal as refusal:
        tell(request, refusal_words(refusal), level=messages.WARNING)
        return None


@require_POST
@allow(ANYONE)
def issue_apart(request: Any, pk: int) -> HttpResponse:
    """The certificate without the handover: beforehand on the planned day, or after one that had none."""
    job = the_job(pk)
    act = issue_beforehand if job.state == Job.State.OPEN else issue_late
    try:
        certificate = act(job=job, actor=actor_of(request), now=request.now)
    except Blocked as refusal:
        words = " ".join(gap.words for gap in refusal.gaps) or _("No handover day is planned.")
        tell(request, words, level=messages.WARNING)
        return redirect("hand-over", request.shop.slug, pk)
    tell(request, _("Certificate %(number)s is issued.") % {"number": certificate.number})
    return redirect("certificate", request.shop.slug, certificate.pk)


@require_GET
@allow(ANYONE)
def handed_over(request: Any, pk: int) -> HttpResponse:
    """What the act left behind: the certificate, whether it was sent, the next check."""
    job = the_job(pk)
    if job.state == Job.State.OPEN:
        return redirect("hand-over", request.shop.slug, job.pk)
    certificate = in_force(job)
    checks = tuple(Check.objects.filter(job=job).select_related("plan"))
    following = next_check(checks, request.today)
    context = {
        "job": job,
        "certificate": certificate,
        "holder": certificate.holder if certificate else None,
        "sent": times_sent(certificate) if certificate else 0,
        "next_check": following,
        "check_url": link("book-check", request.shop.slug, following.pk) if following else "",
        "section": "jobs",
    }
    return render(request, "desk/handed_over.html", context)
