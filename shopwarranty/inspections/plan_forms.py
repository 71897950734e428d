"""What an owner says about a check plan."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopwarranty.web.seen import AsSeen

from .models import CheckPlan
from .plan_changes import PlanValues

FIXED_AT_HANDOVER = ("offset_months", "offset_days", "days_before", "days_after")


def _count(label: Any, most: int, least: int = 0, step: int = 1, **more: Any) -> forms.IntegerField:
    widget = forms.NumberInput(attrs={"step": step})
    return forms.IntegerField(label=label, min_value=least, max_value=most, widget=widget, **more)


class CheckPlanForm(AsSeen, forms.Form):
    """Give the plan that is edited, or nothing for a new one."""

    name = forms.CharField(label=_("Name"), max_length=80, help_text=_("Holders read it in their mails."))
    offset_months = _count(_("Months after handover"), 240)
    offset_days = _count(_("and days"), 730, help_text=_("Two weeks are 14 days."))
    days_before = _count(_("Days it may be earlier"), 180)
    days_after = _count(_("Days it may be later"), 365)
    minutes = _count(_("Minutes it takes"), 480, least=15, step=15)
    places = forms.ChoiceField(
        label=_("What is looked at"),
        choices=CheckPlan.Places.choices,
        widget=forms.RadioSelect,
        help_text=_(
            "Recesses: the check asks for these alone. Those likeliest to lift: it asks for all places and "
            "begins with the panels that hold them."
        ),
    )
    for_whom = forms.ChoiceField(
        label=_("Who asks for it"),
        choices=[
            ("holder", _("offered to the holder, who is written to and called")),
            ("routine", _("the shop's own routine: nobody is written to")),
        ],
        widget=forms.RadioSelect,
    )
    repeats_yearly = forms.BooleanField(
        label=_("Again every year while the vehicle is covered"), required=False
    )

    def __init__(
        self, typed: Any = None, *, plan: CheckPlan | None = None, at_handover: bool = False
    ) -> None:
        usual = {"places": "all", "for_whom": "holder", "minutes": 45, **dict.fromkeys(FIXED_AT_HANDOVER, 0)}
        super().__init__(typed, initial=values_shown(plan) if plan else usual)
        self.plan = plan
        if at_handover:
            for name in (*FIXED_AT_HANDOVER, "for_whom", "repeats_yearly"):
                del self.fields[name]

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or self.cleaned_data
        asked = [name for name in ("offset_months", "offset_days") if name in self.fields]
        if asked and not self.errors and not any(values[name] for name in asked):
            self.add_error("offset_days", _("Say how long after handover: at least one day."))
        return values

    def values(self) -> PlanValues:
        """What was typed, the rest as it stands."""
        typed = dict(self.cleaned_data)
        if "for_whom" in typed:
            typed["offered_to_holder"] = typed.pop("for_whom") == "holder"
        stands = values_of(self.plan) if self.plan else {}
        return PlanValues(**{**stands, **typed})


def values_of(plan: CheckPlan) -> dict[str, Any]:
    return {name: getattr(plan, name) for name in PlanValues.__slots__}


def values_shown(plan: CheckPlan) -> dict[str, Any]:
    whom = "holder" if plan.offered_to_holder else "routine"
    return {**values_of(plan), "for_whom": whom}
