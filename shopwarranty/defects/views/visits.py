"""Starting a visit, its summary, finishing it."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.inspections import actions as inspections
from shopwarranty.inspections.actions.refusals import CheckRefusal
from shopwarranty.inspections.models import Check, Visit
from shopwarranty.jobs.models import Job
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.access import ANYONE, IN_THE_BAY, actor_of, allow
from shopwarranty.shops.kept_pages import kept_on_phone
from shopwarranty.shops.sent_once import refuse, sent_once
from shopwarranty.web.nav import address
from shopwarranty.web.notices import tell

from .. import actions
from ..actions.refusals import NotDescribed
from ..visit_forms import EndForm, LookForm, StartForm
from ..visit_summary import load_summary
from ..walk import load_walk, small_map
from ..words import refusal_words


def visit_or_404(pk: int) -> Visit:
    rows = Visit.objects.select_related("shop", "job__vehicle", "check_due__plan", "booking", "member")
    return get_object_or_404(rows, pk=pk)


def job_or_404(pk: int) -> Any:
    return get_object_or_404(Job.objects.with_vehicle(), pk=pk)


def sent(request: Any) -> Any:
    """What was sent, even when nothing was filled in: every field here may stay empty."""
    return request.POST if request.method == "POST" else None


def vehicle_words(job: Any) -> str:
    """Make and model with the present plate."""
    return f"{job.vehicle}, {job.plate_now}" if job.plate_now else str(job.vehicle)


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
def start_visit(request: Any, pk: int) -> HttpResponse:
    """The check that is due, with the vehicle here."""
    check = get_object_or_404(Check.objects.select_related("plan"), pk=pk)
    job, form = job_or_404(check.job_id), StartForm(sent(request))
    words = {"question": check.plan.name, "explain": vehicle_words(job)}
    more = {"check": check, "origin": Visit.Origin.PLANNED}
    return start(request, job, form, words, reverse("check", args=[request.shop.slug, pk]), more)


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
def start_look(request: Any, pk: int) -> HttpResponse:
    """A vehicle that came by itself: walked in, because of a defect, or for a claim."""
    job, form = job_or_404(pk), LookForm(sent(request))
    words = {"question": _("Look at this vehicle"), "explain": vehicle_words(job)}
    return start(request, job, form, words, address("job", request.shop.slug, pk), {})


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
def start_handover_look(request: Any, pk: int) -> HttpResponse:
    """The look before the vehicle leaves: what it finds is put right first and counts as rework."""
    job, form = job_or_404(pk), StartForm(sent(request))
    words = {
        "question": _("Handover look"),
        "explain": _("%(vehicle)s. What is found now is put right before it leaves.")
        % {"vehicle": vehicle_words(job)},
    }
    more = {"origin": Visit.Origin.PLANNED, "is_handover_look": True}
    return start(request, job, form, words, address("job", request.shop.slug, pk), more)


def start(
    request: Any, job: Job, form: Any, words: dict[str, Any], back: str, more: dict[str, Any]
) -> HttpResponse:
    """One press; a visit that is open already is simply gone on with."""
    already = Visit.objects.filter(job=job, state=Visit.State.OPEN, by_photo=False).first()
    if already is not None and request.method == "GET":
        return redirect("visit-go-on", request.shop.slug, already.pk)
    if request.method == "POST" and form.is_valid():
        said = {name: value for name, value in form.cleaned_data.items() if value}
        try:
            visit = inspections.start_visit(
                job=job, actor=actor_of(request), now=request.now, today=request.today, **{**more, **said}
            )
        except CheckRefusal as refusal:
            tell(request, refusal_words(refusal), level=messages.ERROR)
        else:
            return redirect("visit-go-on", request.shop.slug, visit.pk)
    return render(request, "defects/start.html", {**words, "form": form, "back_url": back, "job": job})


@require_GET
@allow(IN_THE_BAY)
def go_on(request: Any, pk: int) -> HttpResponse:
    """To the first panel with something still to be said, else to the end."""
    visit = visit_or_404(pk)
    stop = load_walk(visit, ShopCatalogue(request.shop)).next_open
    if visit.state == Visit.State.OPEN and stop is not None:
        return redirect("check-panel", request.shop.slug, pk, stop.work_id)
    return redirect("visit", request.shop.slug, pk)


@require_GET
@allow(IN_THE_BAY)
@kept_on_phone()
def visit(request: Any, pk: int) -> HttpResponse:
    """How it stands: looked at, clean, wrong, not looked at; while it is open, with the end of it."""
    row, catalogue = visit_or_404(pk), ShopCatalogue(request.shop)
    if row.state != Visit.State.OPEN and request.member.device:
        tell(request, _("The visit is finished."))
        return redirect("bay-home", request.shop.slug)
    walk = load_walk(row, catalogue)
    form = EndForm(initial={"note": row.note})
    response = render(request, page_of(row), context_of(row, walk, catalogue, form))
    if row.state != Visit.State.OPEN:
        response["Cache-Control"] = "no-store"  # it names who stood beside it
    return response


def page_of(row: Visit) -> str:
    return "defects/visit_end.html" if row.state == Visit.State.OPEN else "defects/visit.html"


def context_of(row: Visit, walk: Any, catalogue: ShopCatalogue, form: EndForm) -> dict[str, Any]:
    return {
        "visit": row,
        "walk": walk,
        "map": small_map(row, walk, None, catalogue),
        "summary": load_summary(row, catalogue),
        "form": form,
        "section": "checks",
    }


@require_POST
@allow(IN_THE_BAY)
@sent_once()
def finish(request: Any, pk: int) -> HttpResponse:
    row, form = visit_or_404(pk), EndForm(request.POST)
    if row.state != Visit.State.OPEN and request.member.device:
        return redirect("visit", request.shop.slug, pk)  # that page names who stood beside it
    if not form.is_valid():
        refuse(request, form=form)
        catalogue = ShopCatalogue(request.shop)
        return render(request, page_of(row), context_of(row, load_walk(row, catalogue), catalogue, form))
    note, signed = form.cleaned_data["note"], form.cleaned_data["signed_name"]
    keep_end(row, note, signed, form.cleaned_data["signature"])
    if not not_described(row) and actions.draw_spots(visit=row, now=request.now):
        return redirect("visit-spots", request.shop.slug, pk)
    return finish_and_go(request, row, note, signed)


def not_described(row: Visit) -> bool:
    """What is wrong is said first; the places drawn come last."""
    wrong = row.findings.filter(result="defect", corrected_at__isnull=True, sightings__isnull=True)
    return wrong.exists()


def keep_end(row: Visit, note: str, signed_name: str, signature: bytes | None) -> None:
    """What was typed and signed at the end stays while two places are looked at once more."""
    if row.state != Visit.State.OPEN:
        return
    values: dict[str, Any] = {"note": actions.with_lines_kept(row, note), "signed_name": signed_name}
    if signature:
        values["signature_sha256"] = stored_bytes.keep(signature).sha256
    Visit.objects.filter(pk=row.pk, state=Visit.State.OPEN).update(**values)
    row.refresh_from_db(fields=list(values))


@require_GET
@allow(ANYONE)
def signature(request: Any, pk: int) -> HttpResponse:
    row = visit_or_404(pk)
    if not row.signature_sha256:
        raise Http404
    try:
        content = stored_bytes.read(row.signature_sha256)
    except stored_bytes.DamagedFile as error:
        raise Http404 from error
    answer = HttpResponse(content, content_type="image/jpeg")
    answer["Cache-Control"] = "private, no-store"
    return answer


def finish_and_go(request: Any, row: Visit, note: str | None, signed_name: str) -> HttpResponse:
    pk = row.pk
    try:
        actions.finish_look(
            visit=row, actor=actor_of(request), now=request.now, note=note, signed_name=signed_name
        )
    except NotDescribed as refusal:
        panel = refusal.places[0].piece.panel_work_id
        tell(request, _("Say what is wrong here before the visit is finished."), level=messages.ERROR)
        return redirect("check-panel", request.shop.slug, pk, panel)
    except CheckRefusal as refusal:
        tell(request, refusal_words(refusal), level=messages.ERROR)
        return redirect("visit", request.shop.slug, pk)
    return after_finish(request, row)


def after_finish(request: Any, row: Visit) -> HttpResponse:
    onward = address("hand-over", request.shop.slug, row.job_id) if row.is_handover_look else ""
    if onward and row.job.state == Job.State.OPEN:
        tell(request, _("The handover look is finished."))
        return redirect("bay-home", request.shop.slug) if request.member.device else redirect(onward)
    check = row.check_due
    if check is not None and check.state != Check.State.DONE:
        tell(request, _("Kept. The check itself stays open."), level=messages.WARNING)
    else:
        tell(request, _("Finished."))
    return redirect("visit", request.shop.slug, row.pk)


@require_POST
@allow(IN_THE_BAY)
def drop(request: Any, pk: int) -> HttpResponse:
    row = visit_or_404(pk)
    try:
        inspections.drop_visit(visit=row, actor=actor_of(request), now=request.now)
    except CheckRefusal as refusal:
        tell(request, refusal_words(refusal), level=messages.ERROR)
        return redirect("visit", request.shop.slug, pk)
    tell(request, _("The visit was dropped. It says and settles nothing."))
    return redirect("bay-home" if request.member.device else "week", request.shop.slug)
