"""Check plans and their changes as a person reads them."""

from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from shopwarranty.shops.models import Change

from .models import CheckPlan

LABELS = {
    "name": gettext_lazy("name"),
    "offset_months": gettext_lazy("months after handover"),
    "offset_days": gettext_lazy("days after handover"),
    "days_before": gettext_lazy("days earlier"),
    "days_after": gettext_lazy("days later"),
    "minutes": gettext_lazy("minutes"),
    "places": gettext_lazy("what is looked at"),
    "offered_to_holder": gettext_lazy("offered to the holder"),
    "repeats_yearly": gettext_lazy("every year"),
}


def when_words(plan: CheckPlan) -> str:
    """Two weeks after handover, in days; a window where there is one."""
    parts = [
        ngettext("%(n)d month", "%(n)d months", plan.offset_months) % {"n": plan.offset_months},
        ngettext("%(n)d day", "%(n)d days", plan.offset_days) % {"n": plan.offset_days},
    ]
    said = [part for part, count in zip(parts, (plan.offset_months, plan.offset_days), strict=True) if count]
    if not said:
        return _("At handover")
    words = _("%(time)s after handover") % {"time": _(" and ").join(said)}
    if plan.days_before or plan.days_after:
        window = {"before": plan.days_before, "after": plan.days_after}
        words += ", " + _("up to %(before)d days earlier or %(after)d later") % window
    return words + (", " + _("again every year") if plan.repeats_yearly else "")


ACTS = {
    "check plan added": gettext_lazy("added"),
    "check plan retired": gettext_lazy("retired"),
    "check plan taken up again": gettext_lazy("planned again"),
}


def change_lines(change: Change) -> list[str]:
    """One line for each value that changed, or for what was done."""
    if change.act in ACTS:
        return [str(ACTS[change.act])]
    return [
        _("%(what)s: %(before)s, now %(after)s")
        % {
            "what": label,
            "before": value_words(name, change.before[name]),
            "after": value_words(name, change.after.get(name)),
        }
        for name, label in LABELS.items()
        if name in change.before
    ]


def value_words(name: str, value: Any) -> str:
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if name == "places":
        return str(dict(CheckPlan.Places.choices).get(value, value))
    return str(value)
