"""What holders sent in, at the desk: read, accepted as a visit by photo, or put aside; and their links."""

from typing import Any
from urllib.parse import urlsplit

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, OuterRef, Subquery
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.jobs.models import HolderLink, Holding, Job, Party, Plate, Vehicle
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.access import ANYONE, DESK, actor_of, allow
from shopwarranty.shops.history import record_change
from shopwarranty.web.notices import tell
from shopwarranty.web.trade_names import first_upper

from ..actions.refusals import CheckRefusal
from ..models import HolderReport
from ..words import refusal_words
from .links import holder_link, revoke_links
from .report_forms import AcceptForm, ReportAsideForm
from .reports import (
    NoJobNamed,
    ReportSettled,
    accept_report,
    panel_work_of,
    set_report_aside,
    take_report_up_again,
)

SHOWN = ("waiting", "accepted", "set_aside")


@require_GET
@allow(ANYONE)
def reports(request: Any) -> HttpResponse:
    state = request.GET.get("show", "") if request.GET.get("show") in SHOWN else "waiting"
    rows = with_details(HolderReport.objects.filter(state=state))
    page = Paginator(rows.order_by("sent_at" if state == "waiting" else "-sent_at", "pk"), 50).get_page(
        request.GET.get("page")
    )
    catalogue = ShopCatalogue(request.shop)
    lines = [(row, where_words(row, catalogue)) for row in page.object_list]
    waiting = HolderReport.objects.filter(state="waiting").count()
    context = {"page": page, "lines": lines, "state": state, "waiting": waiting, "section": "checks"}
    return render(
        request, "inspections/holder/reports.html", context | {"choices": HolderReport.State.choices}
    )


def with_details(rows: Any) -> Any:
    plate = Plate.objects.filter(vehicle=OuterRef("vehicle"), until__isnull=True).order_by("-since", "-pk")
    return rows.select_related("vehicle", "party", "place").annotate(
        plate_now=Subquery(plate.values("text")[:1]), photo_count=Count("photos")
    )


def where_words(report: HolderReport, catalogue: ShopCatalogue) -> str:
    """Panel and place as the holder named them; "" when he named none."""
    if not report.panel:
        return ""
    body = report.vehicle.body_style
    panel = first_upper(catalogue.panel_name(body, report.panel))
    if report.place is None:
        return panel
    place = catalogue.place_name(body, report.panel, report.place.key, report.place.name)
    return f"{panel}, {place}"


def the_report(pk: int) -> HolderReport:
    rows = with_details(HolderReport.objects.all()).select_related("settled_by", "visit", "shop", "job")
    report: HolderReport = get_object_or_404(rows, pk=pk)
    return report


@require_GET
@allow(ANYONE)
def report(request: Any, pk: int) -> HttpResponse:
    return report_page(request, the_report(pk))


def report_page(request: Any, row: HolderReport, form: AcceptForm | None = None) -> HttpResponse:
    jobs = Job.objects.filter(vehicle=row.vehicle_id).order_by("-started_at")
    if form is None and row.job is None and len(jobs) > 1:
        form = AcceptForm()
    if form is not None:
        form.fields["job"].queryset = jobs  # type: ignore[attr-defined]
    context = {
        "report": row,
        "where": where_words(row, ShopCatalogue(request.shop)),
        "photos": [link.photo for link in row.photos.select_related("photo").order_by("pk")],
        "form": form,
        "work": panel_work_of(row, row.visit) if row.visit else None,
        "section": "checks",
    }
    return render(request, "inspections/holder/report_at_desk.html", context)


@require_POST
@allow(ANYONE)
def report_accept(request: Any, pk: int) -> HttpResponse:
    """On to the visit by photo, at the panel the holder named."""
    row = the_report(pk)
    jobs = list(Job.objects.filter(vehicle=row.vehicle_id))
    form = AcceptForm(request.POST)
    form.fields["job"].queryset = Job.objects.filter(vehicle=row.vehicle_id)  # type: ignore[attr-defined]
    chosen = form.cleaned_data["job"] if form.is_valid() else None
    try:
        visit = accept_report(
            report=row,
            job=chosen or (jobs[0] if len(jobs) == 1 else None),
            actor=actor_of(request),
            now=request.now,
            today=request.today,
        )
    except NoJobNamed:
        return report_page(request, row, form)
    except CheckRefusal as refusal:
        tell(request, words_of(refusal), level=messages.ERROR)
        return redirect("report", request.shop.slug, pk)
    tell(request, _("Accepted. Say what the photos show; what they do not show stays not looked at."))
    work = panel_work_of(row, visit)
    if work is not None:
        return redirect("check-panel", request.shop.slug, visit.pk, work.pk)
    return redirect("visit", request.shop.slug, visit.pk)


def words_of(refusal: CheckRefusal) -> str:
    if isinstance(refusal, ReportSettled):
        return _("Somebody has answered this report in the meantime.")
    return refusal_words(refusal)


@require_http_methods(["GET", "POST"])
@allow(DESK)
def report_aside(request: Any, pk: int) -> HttpResponse:
    row = the_report(pk)
    form = ReportAsideForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            set_report_aside(
                report=row, why=form.cleaned_data["why"], actor=actor_of(request), now=request.now
            )
        except CheckRefusal as refusal:
            tell(request, words_of(refusal), level=messages.ERROR)
        else:
            undo = reverse("report-again", args=[request.shop.slug, pk])
            tell(request, _("Put aside, with its photos."), undo_url=undo)
        return redirect("reports", request.shop.slug)
    context = {
        "question": _("Put this report aside?"),
        "explain": _("For what is not about our film, or was settled with the holder already."),
        "consequences": [
            _("It and its photos are kept, and it can be taken up again."),
            _("The holder's page says that it was read."),
            _("It refuses nothing: a claim is decided on its own page."),
        ],
        "form": form,
        "act": _("Put it aside"),
        "back_url": reverse("report", args=[request.shop.slug, pk]),
        "section": "checks",
    }
    return render(request, "web/confirm.html", context)


@require_POST
@allow(DESK)
def report_again(request: Any, pk: int) -> HttpResponse:
    try:
        take_report_up_again(report=the_report(pk), actor=actor_of(request), now=request.now)
    except CheckRefusal as refusal:
        tell(request, words_of(refusal), level=messages.ERROR)
    return redirect("report", request.shop.slug, pk)


@require_http_methods(["GET", "POST"])
@allow(DESK)
def holder_links(request: Any, pk: int) -> HttpResponse:
    """Who has a private address of this vehicle. A press shows one, to be read out or sent another way."""
    vehicle = get_object_or_404(Vehicle.objects.select_related("shop"), pk=pk)
    people = people_of(vehicle)
    address, shown_for = "", None
    wanted = request.POST.get("party", "")
    if request.method == "POST" and wanted.isdecimal():
        shown_for = get_object_or_404(people, pk=int(wanted))
        address = holder_link(vehicle, to=shown_for, now=request.now)
        record_change(row=vehicle, act="holder's address shown", actor=actor_of(request), at=request.now)
    links = HolderLink.objects.filter(vehicle=vehicle).select_related("party").order_by("-made_at", "-pk")
    context = {
        "vehicle": vehicle,
        "people": people,
        "links": links[:50],
        "address": address,
        "path": urlsplit(address).path,
        "shown_for": shown_for,
        "section": "jobs",
    }
    return render(request, "inspections/holder/links.html", context)


def people_of(vehicle: Vehicle) -> Any:
    standing = Holding.objects.filter(vehicle=vehicle, until__isnull=True).exclude(role=Holding.Role.PAYER)
    return Party.objects.filter(pk__in=standing.values("party")).order_by("name", "pk")


@require_POST
@allow(DESK)
def revoke(request: Any, pk: int) -> HttpResponse:
    vehicle = get_object_or_404(Vehicle.objects.all(), pk=pk)
    count = revoke_links(vehicle=vehicle, now=request.now)
    record_change(
        row=vehicle,
        act="holder's addresses revoked",
        actor=actor_of(request),
        at=request.now,
        after={"count": count},
    )
    words = ngettext("One address opens nothing any more.", "%(n)s addresses open nothing any more.", count)
    tell(request, words % {"n": count})
    return redirect("holder-links", request.shop.slug, pk)
