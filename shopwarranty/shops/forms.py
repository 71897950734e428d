"""Forms of sign-in, people and the shop's settings."""

from datetime import time
from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.conf import settings
from django.utils.dates import WEEKDAYS
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.web.seen import AsSeen

from .actions import ROLES, Hours
from .models import Shop, User

ROLE_CHOICES = [
    ("owner", gettext_lazy("Owner: everything, also plans, methods, people")),
    ("installer", gettext_lazy("Installer: records work, looks at vehicles")),
    ("desk", gettext_lazy("Front desk: hands over, books, takes claims")),
]


class RolesField(forms.MultipleChoiceField):
    widget = forms.CheckboxSelectMultiple

    def __init__(self, **more: Any) -> None:
        super().__init__(choices=ROLE_CHOICES, label=gettext_lazy("May act as"), **more)

    def clean(self, value: Any) -> frozenset[str]:
        return frozenset(super().clean(value))


class InviteForm(forms.Form):
    name = forms.CharField(label=gettext_lazy("Name"), max_length=120)
    email = forms.EmailField(label=gettext_lazy("E-mail"))
    roles = RolesField()


class MemberForm(forms.Form):
    name = forms.CharField(label=gettext_lazy("Name"), max_length=120)
    roles = RolesField()


class JoinForm(forms.Form):
    """For somebody new: their name. Somebody known signs in instead."""

    name = forms.CharField(label=gettext_lazy("Your name"), max_length=120)


class AccountForm(forms.ModelForm):  # type: ignore[type-arg]
    language = forms.ChoiceField(
        label=gettext_lazy("Language"),
        required=False,
        choices=[("", gettext_lazy("As the shop")), *settings.LANGUAGES],
    )

    class Meta:
        model = User
        fields = ["name", "language"]
        labels = {"name": gettext_lazy("Name")}


def zone_choices() -> list[tuple[str, str]]:
    return [
        (name, name.replace("_", " "))
        for name in sorted(available_timezones())
        if "/" in name or name == "UTC"
    ]


class ShopForm(AsSeen, forms.ModelForm):  # type: ignore[type-arg]
    public_url = forms.URLField(
        label=gettext_lazy("Public address"),
        help_text=gettext_lazy("Where customers reach this installation, with https."),
        required=False,
        assume_scheme="https",
    )
    time_zone = forms.ChoiceField(label=gettext_lazy("Time zone"), choices=zone_choices)
    language = forms.ChoiceField(label=gettext_lazy("Language"), choices=settings.LANGUAGES)

    class Meta:
        model = Shop
        fields = [
            "name",
            "legal_name",
            "street",
            "town",
            "country",
            "telephone",
            "email",
            "public_url",
            "time_zone",
            "units",
            "currency",
            "language",
            "legal_profile",
            "certificate_prefix",
            "failure_line",
            "check_minutes",
            "lead_hours",
            "ahead_days",
            "cutting_allowance_mm",
            "dew_point_margin_c",
            "installer_figures",
        ]
        labels = {
            "name": gettext_lazy("Name"),
            "legal_name": gettext_lazy("Legal name"),
            "street": gettext_lazy("Street"),
            "town": gettext_lazy("Town"),
            "country": gettext_lazy("Country"),
            "telephone": gettext_lazy("Telephone"),
            "email": gettext_lazy("E-mail"),
            "units": gettext_lazy("Units"),
            "currency": gettext_lazy("Currency"),
            "legal_profile": gettext_lazy("Legal profile"),
            "certificate_prefix": gettext_lazy("Letters before certificate numbers"),
            "failure_line": gettext_lazy("Failure line"),
            "check_minutes": gettext_lazy("Usual minutes of a check"),
            "lead_hours": gettext_lazy("Hours of notice"),
            "ahead_days": gettext_lazy("Days ahead"),
            "cutting_allowance_mm": gettext_lazy("Cutting allowance"),
            "dew_point_margin_c": gettext_lazy("Distance to the dew point"),
            "installer_figures": gettext_lazy("Figures by installer"),
        }
        help_texts = {
            "legal_name": gettext_lazy("Who stands behind the warranty, as it appears on certificates."),
            "country": gettext_lazy("Two letters, for example US."),
            "currency": gettext_lazy("Three letters, for example USD."),
            "failure_line": gettext_lazy(
                "From this severity on a finding counts as a failure; below it is watched."
            ),
            "cutting_allowance_mm": gettext_lazy("Added on each side when film is cut, in mm."),
            "dew_point_margin_c": gettext_lazy(
                "Tell when a panel is less than this above the dew point, in C."
            ),
            "installer_figures": gettext_lazy(
                "Owners see figures by installer, and each installer their own."
            ),
        }

    def clean_public_url(self) -> str:
        url: str = self.cleaned_data["public_url"].rstrip("/")
        if url and not url.startswith("https://"):
            raise forms.ValidationError(_("Customers need an address that starts with https://."))
        return url

    def clean_country(self) -> str:
        return str(self.cleaned_data["country"]).upper()

    def clean_currency(self) -> str:
        return str(self.cleaned_data["currency"]).upper()


class ClosedDayForm(forms.Form):
    on = forms.DateField(label=gettext_lazy("Day"), widget=forms.DateInput(attrs={"type": "date"}))
    name = forms.CharField(label=gettext_lazy("Why"), max_length=120, required=False)


class BaysForm(forms.Form):
    names = forms.CharField(
        label=gettext_lazy("Bays, one a line"),
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text=gettext_lazy("As many checks fit at once as there are bays."),
    )

    def clean_names(self) -> list[str]:
        names = [line.strip() for line in self.cleaned_data["names"].splitlines() if line.strip()]
        if len(set(names)) < len(names):
            raise forms.ValidationError(_("Two bays have the same name."))
        if any(len(name) > 60 for name in names):
            raise forms.ValidationError(_("A bay's name has at most 60 letters."))
        return names


class HoursForm(forms.Form):
    """A line a weekday, for example "8:00-12:00, 13:00-17:00"; empty means closed."""

    def __init__(self, *args: Any, week: list[Hours] | None = None, **more: Any) -> None:
        if week is not None:
            more["initial"] = {f"day_{day}": as_text(week, day) for day in range(7)}
        super().__init__(*args, **more)
        for day in range(7):
            self.fields[f"day_{day}"] = forms.CharField(label=capfirst(WEEKDAYS[day]), required=False)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        self.week: list[Hours] = []
        for day in range(7):
            try:
                self.week += parse_day(day, values.get(f"day_{day}", ""))
            except ValueError:
                self.add_error(
                    f"day_{day}", _("Write it like 8:00-12:00, 13:00-17:00, in order, or leave it empty.")
                )
        return values


def as_text(week: list[Hours], day: int) -> str:
    return ", ".join(f"{h.opens:%H:%M}-{h.closes:%H:%M}" for h in week if h.weekday == day)


def parse_day(day: int, text: str) -> list[Hours]:
    """Raises ValueError for anything that is not stretches of opening, one after the other."""
    stretches = [part.strip() for part in text.split(",") if part.strip()]
    found: list[Hours] = []
    for stretch in stretches:
        opens, closes = (clock(part) for part in stretch.split("-"))
        if closes <= opens or (found and opens < found[-1].closes):
            raise ValueError(stretch)
        found.append(Hours(day, opens, closes))
    return found


def clock(text: str) -> time:
    """Raises ValueError."""
    hour, _colon, minute = text.strip().partition(":")
    if len(hour) > 2 or len(minute) > 2:
        raise ValueError(text)
    return time(int(hour), int(minute or 0))


def chosen_roles(row: Any) -> list[str]:
    return [role for role in ROLES if getattr(row, f"is_{role}")]
