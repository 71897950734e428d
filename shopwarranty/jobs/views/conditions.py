"""Readings of a job: taken, corrected, with the dew point worked out while typing."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from shopwarranty.shops.access import IN_THE_BAY, actor_of, allow
from shopwarranty.shops.kept_pages import kept_on_phone
from shopwarranty.shops.rows import Basis
from shopwarranty.shops.sent_once import pressed_at, refuse, sent_once, uid_of
from shopwarranty.trade.units import Unit, fahrenheit
from shopwarranty.web.notices import tell
from shopwarranty.web.templatetags.shop_format import temperature_text

from .. import actions
from ..forms.conditions import ReadingForm
from ..forms.technique import degree_unit
from ..models import Job, PanelWork, Reading
from ..record import reading_record
from ..record_parts import JobRecord, ReadingRecord, number
from ..tells import film_words, margin_words
from .job import about
from .rows import recorded, the_job


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
@sent_once()
@kept_on_phone()
def readings(request: Any, pk: int) -> HttpResponse:
    """All readings of the job, and the next one."""
    row = the_job(pk)
    record, _catalogue = recorded(request, row)
    last = Reading.objects.filter(job=row).last()
    form = ReadingForm(request.POST or None, shop=request.shop, last=last, panels=record.panels)
    if form.is_valid():
        try:
            reading = actions.record_reading(
                job=row,
                conditions=form.conditions(),
                at=form.cleaned_data["at"] or pressed_at(request),
                panel_work=panel_of(row, form.cleaned_data["panel"]),
                reason=request.POST.get("why", ""),
                uid=uid_of(request),
                actor=actor_of(request),
                now=request.now,
            )
            tell(request, what_it_tells(request, reading, record))
            return redirect("job", request.shop.slug, pk)
        except actions.InTheFuture:
            form.add_error("at", _("This is later than now."))
        except actions.ReasonForCorrection:
            form.add_error(None, _("The vehicle is handed over: say below why this is added."))
    refuse(request, form=form)
    return reading_page(request, record, form, None)


def panel_of(row: Job, chosen: str) -> PanelWork | None:
    """The panel a reading was taken for; None for the whole vehicle."""
    return PanelWork.objects.filter(job=row, pk=int(chosen)).first() if chosen else None


def what_it_tells(request: Any, reading: Reading, record: JobRecord) -> str:
    """The sentences of a reading just taken, so that nobody has to look for them."""
    shown = reading_record(reading)
    words = (margin_words(shown, request.shop), *film_words(shown, record.films, request.shop))
    return " ".join(words)


def reading_page(request: Any, record: JobRecord, form: ReadingForm, corrected: Any) -> HttpResponse:
    names = {panel.id: panel.name for panel in record.panels}
    rows = [
        (one, margin_words(one, request.shop), names.get(one.panel_id or 0, ""))
        for one in reversed(record.readings)
    ]
    context = {**about(request, record), "form": form, "rows": rows, "corrected": corrected}
    return render(request, "jobs/readings.html", context)


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
def reading(request: Any, pk: int) -> HttpResponse:
    """One reading typed wrong."""
    row = get_object_or_404(Reading.objects.select_related("job", "member"), pk=pk)
    record, _catalogue = recorded(request, row.job)
    form = ReadingForm(request.POST or None, shop=request.shop, initial=as_typed(request, row))
    del form.fields["panel"]  # what was read is corrected, not where
    if form.is_valid():
        try:
            correct(request, row, form)
            tell(request, _("Corrected. The history keeps what stood there."))
            return redirect("job-readings", request.shop.slug, row.job_id)
        except actions.InTheFuture:
            form.add_error("at", _("This is later than now."))
        except actions.ReasonForCorrection:
            form.add_error(None, _("The vehicle is handed over: say below why this is corrected."))
        except actions.StaleSave:
            form.add_error(None, stale_words(request, row))
    return reading_page(request, record, form, row)


def as_typed(request: Any, row: Reading) -> dict[str, Any]:
    """In the unit it was read in, if all of it was; else in the shop's."""
    typed = {text[-1] for text in (row.air_typed, row.surface_typed) if text}
    unit = Unit(typed.pop()) if len(typed) == 1 and typed <= {"C", "F"} else degree_unit(request.shop)

    def shown(value: float | None) -> float | None:
        if value is None:
            return None
        return round(fahrenheit(value) if unit is Unit.FAHRENHEIT else value, 1)

    return {
        "air": shown(row.air_c),
        "surface": shown(row.surface_c),
        "humidity": row.humidity,
        "unit": str(unit),
        "instrument": row.instrument,
        "at": row.at,
    }


def correct(request: Any, row: Reading, form: ReadingForm) -> None:
    version = request.POST.get("version", "")
    actions.correct_reading(
        reading=row,
        conditions=form.conditions(),
        at=form.cleaned_data["at"] or row.at,
        version=int(version) if version.isdecimal() else row.version,
        reason=request.POST.get("why", ""),
        actor=actor_of(request),
        now=request.now,
    )


def stale_words(request: Any, row: Reading) -> str:
    now = Reading.objects.select_related("member").get(pk=row.pk)
    shown = figures(request, reading_record(now))
    return _("Somebody corrected it in between: now %(now)s. Yours is still below.") % {"now": shown}


def figures(request: Any, one: ReadingRecord) -> str:
    parts = (
        _("air %(value)s") % {"value": temperature_text(number(one.air), request.shop)},
        _("panel %(value)s") % {"value": temperature_text(number(one.surface), request.shop)},
    )
    return ", ".join(parts)


@require_GET
@allow(IN_THE_BAY)
def dew_point(request: Any, pk: int) -> HttpResponse:
    """The sentences for figures not saved yet: what the page shows while typing."""
    row: Job = the_job(pk)
    record, _catalogue = recorded(request, row)
    form = ReadingForm(request.GET, shop=request.shop, panels=record.panels)
    words: tuple[str, ...] = ()
    if form.is_valid():
        found = form.conditions()
        shown = unsaved(request, found)
        words = (margin_words(shown, request.shop), *film_words(shown, record.films, request.shop))
    return render(request, "jobs/dew_point.html", {"words": words})


def unsaved(request: Any, found: actions.Conditions) -> ReadingRecord:
    columns = {name: getattr(found, name) for name in ("air_c", "surface_c", "humidity")}
    row = Reading(pk=0, at=request.now, entered_at=request.now, **columns)
    for name, value in columns.items():
        setattr(row, f"{name}_basis", "" if value is None else Basis.MEASURED)
    return reading_record(row)
