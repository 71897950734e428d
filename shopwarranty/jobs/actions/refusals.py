"""Why an act was refused, in a form a page can answer to."""

from collections.abc import Mapping
from typing import Any

from shopwarranty.trade.vin import VinFault


class JobRefusal(Exception):
    """An act on a job that is not possible as asked; nothing was written."""


class StaleSave(JobRefusal):
    """Somebody saved the row in between. `theirs` stands there now, `yours` was about to be saved."""

    def __init__(self, row: Any, theirs: Mapping[str, Any], yours: Mapping[str, Any]) -> None:
        super().__init__(f"{type(row).__name__} {row.pk} was changed in between")
        self.row, self.theirs, self.yours = row, theirs, yours


class ReasonForCorrection(JobRefusal):
    """The vehicle is handed over and the panel finished: a change is a correction, and needs a reason."""


class ReasonForFilm(JobRefusal):
    """The film chosen is quarantined: that needs a reason."""


class NoMethod(JobRefusal):
    """The job follows no method, so there is nothing to confirm."""


class DoesNotApply(JobRefusal):
    """The technique field belongs to another level or another kind of place."""


class PanelThere(JobRefusal):
    """The panel is already part of the job."""


class PanelNotEmpty(JobRefusal):
    """The panel carries records and cannot be taken out of the job."""


class InTheFuture(JobRefusal):
    """Something that was done cannot have been done later than now."""


class PanelsElsewhere(JobRefusal):
    """Jobs on this vehicle carry panels that the other body style does not have."""

    def __init__(self, panels: tuple[str, ...]) -> None:
        super().__init__(", ".join(panels))
        self.panels = panels


class VinRefused(JobRefusal):
    """What was typed cannot be a 17-character VIN."""

    def __init__(self, faults: tuple[VinFault, ...], suggestion: str | None) -> None:
        super().__init__("; ".join(fault.message for fault in faults))
        self.faults, self.suggestion = faults, suggestion


class VinKnown(JobRefusal):
    """A vehicle with this VIN is recorded already."""

    def __init__(self, vehicle: Any) -> None:
        super().__init__(str(vehicle))
        self.vehicle = vehicle


class NameTaken(JobRefusal):
    """A method, field, panel or place of that name exists already."""


class FaultyMethod(JobRefusal):
    """The values of a method version do not fit the technique fields."""

    def __init__(self, faults: tuple[Any, ...]) -> None:
        super().__init__("; ".join(str(fault) for fault in faults))
        self.faults = faults
