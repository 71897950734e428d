"""What may differ between the two ways: every technique field of the trade, and those the shop defined."""

from typing import Final

from django.utils.translation import gettext_lazy as _

from shopwarranty.jobs.actions import as_technique_field
from shopwarranty.jobs.models import ShopField
from shopwarranty.trade.technique import BY_KEY, FIELDS, Level, TechniqueField

from .models import Trial, TrialUnit

OWN: Final = "own:"
"""Before the key of a field the shop defined, so that it cannot be taken for one of the trade's."""

UNITS_OF: Final = {
    Level.PLACE: (TrialUnit.SIDES, TrialUnit.PLACES, TrialUnit.JOBS),
    Level.PANEL: (TrialUnit.SIDES, TrialUnit.JOBS),
    Level.JOB: (TrialUnit.JOBS,),
}
"""What can be compared: a panel is done one way, and so is what concerns a whole job."""

LEVELS: Final = ((Level.PLACE, _("of a place")), (Level.PANEL, _("of a panel")), (Level.JOB, _("of the job")))


def fields_to_try() -> dict[str, TechniqueField]:
    """By key, those of places first. One query."""
    own = {
        OWN + row.key: as_technique_field(row) for row in ShopField.objects.filter(retired_at__isnull=True)
    }
    every = {field.key: field for field in FIELDS} | own
    return {key: field for level, _words in LEVELS for key, field in every.items() if field.level is level}


def field_of(key: str) -> TechniqueField:
    """A field of the shop's stays known when it is retired."""
    if key.startswith(OWN):
        return as_technique_field(ShopField.objects.get(key=key.removeprefix(OWN)))
    return BY_KEY[key]


def technique_of(trial: Trial) -> TechniqueField:
    """Asked once for each row of a trial in memory."""
    known: TechniqueField | None = trial.__dict__.get("technique")
    if known is None:
        known = trial.__dict__["technique"] = field_of(trial.field)
    return known


def is_own(trial: Trial) -> bool:
    return bool(trial.field.startswith(OWN))
