"""A temperature logger's file: what it says is shown, what it does not say is asked, then it is kept."""

from datetime import UTC
from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods

from shopwarranty.shops.access import ANYONE, actor_of, allow
from shopwarranty.trade.readings import Quantity, doubts
from shopwarranty.trade.units import Unit, temperature
from shopwarranty.web.formats import is_us
from shopwarranty.web.notices import tell

from .. import actions
from ..actions.logger import conditions_of, import_readings, of_this_job
from ..logger_file import Line, LoggerFile, NotALoggerFile, read_logger_file
from .job import about
from .rows import recorded, the_job

MOST_BYTES = 2 * 1024 * 1024
SHOWN = 6


class LoggerForm(forms.Form):
    """`text` carries the file from the first look to keeping it."""

    file = forms.FileField(label=gettext_lazy("The logger's file"), required=False)
    text = forms.CharField(required=False, widget=forms.HiddenInput, strip=False)
    unit = forms.ChoiceField(
        label=gettext_lazy("C or F?"),
        choices=[("C", "°C"), ("F", "°F")],
        widget=forms.RadioSelect,
        required=False,
    )
    order = forms.ChoiceField(
        label=gettext_lazy("Days are written"),
        choices=[("day", gettext_lazy("day first")), ("month", gettext_lazy("month first"))],
        widget=forms.RadioSelect,
        required=False,
    )
    clock = forms.ChoiceField(
        label=gettext_lazy("Its clock"),
        choices=[("shop", gettext_lazy("the shop's time")), ("utc", "UTC")],
        widget=forms.RadioSelect,
        required=False,
    )

    def sent(self) -> bytes:
        file = self.cleaned_data.get("file")
        if file is not None and file.size > MOST_BYTES:
            raise NotALoggerFile
        return bytes(file.read()) if file is not None else str(self.cleaned_data.get("text") or "").encode()


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def logger_file(request: Any, pk: int) -> HttpResponse:
    row = the_job(pk)
    record, _catalogue = recorded(request, row)
    form = LoggerForm(request.POST, request.FILES) if request.method == "POST" else LoggerForm()
    context = {**about(request, record), "form": form}
    if request.method == "POST" and form.is_valid():
        try:
            found = read_logger_file(form.sent())
        except NotALoggerFile:
            form.add_error(
                "file", _("No row of it names a time and a temperature. Export it as CSV, up to 2 MB.")
            )
        else:
            return looked_at(request, row, form, found, context)
    return render(request, "jobs/logger_file.html", context)


def looked_at(
    request: Any, row: Any, form: LoggerForm, found: LoggerFile, context: dict[str, Any]
) -> HttpResponse:
    unit = form.cleaned_data["unit"] or found.unit
    day_first = (form.cleaned_data["order"] or ("month" if is_us(request.shop) else "day")) == "day"
    zone = UTC if form.cleaned_data["clock"] == "utc" else request.shop.zone
    lines = found.lines(zone=zone, day_first=day_first)
    kept = of_this_job(row, lines, request.now)
    if request.POST.get("act") == "keep" and unit and kept:
        try:
            return keep(request, row, kept, Unit(unit))
        except actions.ReasonForCorrection:
            form.add_error(None, _("The vehicle is handed over: say below why this is added."))
    text = "\n".join([";".join(quoted(cell) for cell in cells) for cells in (found.head, *found.rows)])
    again = LoggerForm(
        initial={
            "text": form.cleaned_data["text"] or text,
            "unit": unit,
            "order": "day" if (found.day_first if found.day_first is not None else day_first) else "month",
            "clock": form.cleaned_data["clock"] or "shop",
        }
    )
    context |= {
        "form": again,
        "problems": form.non_field_errors(),
        "found": found,
        "read": len(lines),
        "kept": kept,
        "shown": [shown(line, unit) for line in kept[:SHOWN]],
        "unit": unit,
        "doubtful": bool(unit) and is_doubtful(kept, Unit(unit)),
    }
    return render(request, "jobs/logger_file.html", context)


def is_doubtful(lines: tuple[Line, ...], unit: Unit) -> bool:
    """Whether the numbers would be at home in the other unit."""
    typed = (temperature(f"{one.air:g} {unit}", unit) for one in lines[:50] if one.air is not None)
    return any(doubt.meant for each in typed for doubt in doubts(Quantity.AIR, each))


def quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"'


def shown(line: Line, unit: str) -> tuple[Line, Any]:
    return line, conditions_of(line, Unit(unit)) if unit else None


def keep(request: Any, row: Any, kept: tuple[Line, ...], unit: Unit) -> HttpResponse:
    made = import_readings(
        job=row,
        lines=kept,
        unit=unit,
        reason=request.POST.get("why", ""),
        actor=actor_of(request),
        now=request.now,
    )
    tell(request, ngettext("One reading kept.", "%(n)s readings kept.", made) % {"n": made})
    return redirect("job-readings", request.shop.slug, row.pk)
