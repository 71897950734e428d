"""When checks can be booked, as an owner says it."""

from datetime import date
from typing import Any

from django import forms
from django.utils.dates import WEEKDAYS
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.inspections.slots import Stretch
from shopwarranty.shops.actions import Hours
from shopwarranty.shops.forms import as_text, parse_day
from shopwarranty.shops.models import Bay, Shop
from shopwarranty.web.fields import ClockField, DayField
from shopwarranty.web.seen import AsSeen

from .models import BayHours, CheckRules
from .public_holidays import countries, regions


def country_choices() -> list[tuple[str, str]]:
    return [("", _("no public holidays")), *countries()]


class OfferingForm(AsSeen, forms.Form):
    check_minutes = forms.IntegerField(
        label=gettext_lazy("Usual minutes of a check"),
        min_value=15,
        max_value=480,
        widget=forms.NumberInput(attrs={"step": 15}),
        help_text=gettext_lazy("Each check plan may say otherwise."),
    )
    lead_hours = forms.IntegerField(label=gettext_lazy("Hours of notice"), min_value=0, max_value=24 * 14)
    ahead_days = forms.IntegerField(label=gettext_lazy("Days ahead"), min_value=1, max_value=730)
    people_at_once = forms.IntegerField(
        label=gettext_lazy("People who look at once"),
        required=False,
        min_value=1,
        max_value=50,
        widget=forms.NumberInput(attrs={"step": 1, "data-usual": 1}),
        help_text=gettext_lazy("Where they are fewer than the bays. Empty: as many as bays."),
    )
    when_closed = forms.ChoiceField(
        label=gettext_lazy("Due on a day when the shop is closed: offer"),
        choices=CheckRules.WhenClosed.choices,
        widget=forms.RadioSelect,
    )
    holidays_country = forms.ChoiceField(
        label=gettext_lazy("Closed on public holidays of"), required=False, choices=country_choices
    )
    holidays_region = forms.ChoiceField(
        label=gettext_lazy("and of the region"),
        required=False,
        help_text=gettext_lazy("Regions appear once the country is chosen: press “Look” or “Save”."),
    )
    spot_photo = forms.BooleanField(
        label=gettext_lazy("The second look at two places drawn at random needs a photo of each"),
        required=False,
        help_text=gettext_lazy(
            "Without one the visit is not finished, or the sweep counts as not looked at."
        ),
    )

    def __init__(self, typed: Any = None, *, shop: Shop, rules: CheckRules) -> None:
        initial = {name: getattr(shop, name) for name in ("check_minutes", "lead_hours", "ahead_days")}
        names = ("people_at_once", "when_closed", "holidays_country", "holidays_region", "spot_photo")
        super().__init__(typed, initial=initial | {name: getattr(rules, name) for name in names})
        country = (typed or {}).get("holidays_country", rules.holidays_country)
        known = regions(country)
        self.fields["holidays_region"].choices = [("", _("the whole country")), *known]  # type: ignore[attr-defined]
        if typed and typed.get("holidays_region", "") not in dict(known):
            without = typed.copy()
            without["holidays_region"] = ""
            self.data = without


class DayForm(forms.Form):
    """A single day that is not as the week says."""

    on = DayField(label=gettext_lazy("Day"))
    what = forms.ChoiceField(
        label=gettext_lazy("What is different"),
        choices=[("closed", gettext_lazy("closed")), ("own", gettext_lazy("other hours"))],
        widget=forms.RadioSelect,
        initial="closed",
    )
    why = forms.CharField(label=gettext_lazy("Why closed"), max_length=120, required=False)
    opens = ClockField(label=gettext_lazy("Opens"), required=False)
    closes = ClockField(label=gettext_lazy("Closes"), required=False)

    def __init__(self, typed: Any = None, *, today: date) -> None:
        super().__init__(typed)
        self.today = today

    def clean_on(self) -> date:
        on: date = self.cleaned_data["on"]
        if on < self.today:
            raise forms.ValidationError(_("That day is over."))
        return on

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or self.cleaned_data
        if values.get("what") == "own" and "opens" not in self.errors and "closes" not in self.errors:
            opens, closes = values.get("opens"), values.get("closes")
            if not opens or not closes:
                self.add_error("opens", _("Say from when to when the shop is open that day."))
            elif closes <= opens:
                self.add_error("closes", _("It closes after it opens."))
        return values

    def own(self) -> Stretch:
        return Stretch(self.cleaned_data["opens"], self.cleaned_data["closes"])


class BayForm(forms.Form):
    """A line a weekday, for example "8:00-12:00, 13:00-17:00"; all empty means whenever the shop is open."""

    takes_checks = forms.BooleanField(label=gettext_lazy("Takes checks"), required=False)

    def __init__(self, typed: Any = None, *, bay: Bay) -> None:
        rows = BayHours.objects.filter(bay=bay)
        week = [Hours(row.weekday, row.opens, row.closes) for row in rows]
        days = {f"day_{day}": as_text(week, day) for day in range(7)}
        super().__init__(typed, initial={"takes_checks": bay.takes_checks, **days})
        for day in range(7):
            self.fields[f"day_{day}"] = forms.CharField(label=capfirst(WEEKDAYS[day]), required=False)

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or self.cleaned_data
        self.week: list[Hours] = []
        for day in range(7):
            try:
                self.week += parse_day(day, values.get(f"day_{day}", ""))
            except ValueError:
                words = _("Write it like 8:00-12:00, 13:00-17:00, in order, or leave it empty.")
                self.add_error(f"day_{day}", words)
        return values
