"""A job as a whole: its dates, its method, its vehicle; and whether it is here already."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.utils.translation import gettext as _

from shopwarranty.trade import technique
from shopwarranty.trade import vin as trade_vin

from .cells import noon
from .film_planning import FilmPlanner
from .panel_planning import BY_METHOD, PanelPlanner
from .place_planning import PlacePlanner
from .reading import Sheet
from .records import FlatJob
from .shelf import Shelf
from .vehicles import VehicleBook
from .vehicles_here import plate_form, vin_form

OWNED_BY: Final = {"customer": "customer", "own": "shop", "test_panel": "panel"}
KIND_OF: Final = {owned: kind for kind, owned in OWNED_BY.items()}
BASIS_NAMES: Final = tuple(f"{field.key}_basis" for field in technique.fields(technique.Level.JOB))
ABOUT_HOLDER: Final = (
    "holder_since",
    "holder_kind",
    "holder_consumer",
    "holder_email",
    "holder_telephone",
    "holder_address",
    "holder_language",
)
A_DAY: Final = timedelta(days=1)


@dataclass(slots=True)
class JobPlanner:
    """Every rule for one job. Films, people and methods it names are put on the shelf."""

    sheet: Sheet
    shelf: Shelf
    now: datetime
    vehicles: VehicleBook
    panels: PanelPlanner

    @classmethod
    def of(cls, sheet: Sheet, shelf: Shelf, now: datetime) -> "JobPlanner":
        places, film = PlacePlanner(sheet, shelf), FilmPlanner(sheet, shelf)
        return cls(
            sheet, shelf, now, VehicleBook(sheet), PanelPlanner(sheet, shelf, now + A_DAY, places, film)
        )

    def tidy(self, job: FlatJob) -> None:
        """What can be said of the row alone; VIN and plate as they are compared."""
        values = job.said = job.values
        job.values = values._replace(plate=plate_form(values.plate), **self._vin(job))  # type: ignore[arg-type]
        self._owned(job)
        self._check_holder(job)
        if values.plate_since and not values.plate:
            self._say(job, "plate_since", values.plate_since, _("There is no plate."), _("Write it too."))

    def plan(self, job: FlatJob, *, is_here: bool) -> bool:
        """Completes the job and checks all of it. False when it cannot be looked at further."""
        self._handover(job)
        self._start(job)
        self._method(job)
        if job.values.started_at is None:
            return False
        day = job.values.started_at.astimezone(self.sheet.style.zone).date()
        if is_here:
            self.vehicles.recall(job, day)
        elif self.vehicles.place(job, day) is None:
            return False
        values = job.values
        job.values = values._replace(job_kind=values.job_kind or KIND_OF.get(values.vehicle_owned, ""))
        if not values.body_style:
            self._say(job, "body_style", "", _("What body style it is must be said."), _("Write its key."))
            return False
        self.panels.plan(job)
        return True

    def _vin(self, job: FlatJob) -> dict[str, str]:
        values, kind = job.values, job.values.vin_kind
        if not values.vin:
            if kind in ("vin", "chassis"):
                self._say(job, "vin", "", _("There is no number."), _("Write it, or vin_kind to_read."))
            return {"vin": "", "vin_kind": kind if kind in ("to_read", "none") else ""}
        if kind in ("to_read", "none"):
            self._say(job, "vin_kind", kind, _("but there is a number."), _("Write vin or chassis."))
        if kind == "chassis":
            return {"vin": vin_form(values.vin), "vin_kind": kind}
        checked = trade_vin.check(values.vin)
        if checked.faults:
            remedy = _("Correct it, or write vin_kind chassis.")
            self._say(job, "vin", values.vin, checked.faults[0].message, remedy)
        elif checked.is_doubtful:
            self.sheet.note(_("The check digit of this VIN does not agree."), job.line)
        return {"vin": checked.vin, "vin_kind": "vin"}

    def _owned(self, job: FlatJob) -> None:
        values = job.values
        implied = OWNED_BY.get(values.job_kind, "")
        job.values = job.values._replace(vehicle_owned=values.vehicle_owned or implied)

    def _check_holder(self, job: FlatJob) -> None:
        values = job.values
        if not values.holder:
            for name in ABOUT_HOLDER:
                if getattr(values, name) not in (None, ""):
                    problem = _("but no holder is named.")
                    self._say(job, name, getattr(values, name), problem, _("Write the holder's name."))
                    return
        if values.holder_email:
            try:
                validate_email(values.holder_email)
            except ValidationError:
                problem = _("is no e-mail address.")
                self._say(job, "holder_email", values.holder_email, problem, _("Correct it, or empty it."))

    def _handover(self, job: FlatJob) -> None:
        values, zone = job.values, self.sheet.style.zone
        on, at = values.handed_over_on, values.handed_over_at
        if on and not at:
            at = noon(on, zone)
        elif at and not on:
            on = at.astimezone(zone).date()
        elif on and at and abs((at.astimezone(zone).date() - on).days) > 1:
            problem = _("is another day than handed_over_on.")
            self._say(job, "handed_over_at", at.isoformat(), problem, _("Correct one of them."))
        self._check_past(job, "handed_over_on", on)
        state = values.job_state or ("handed_over" if on else "open")
        if (state == "open") == bool(on):
            problem = _("and the handover do not fit.")
            self._say(job, "job_state", state, problem, _("Correct the state or the handover."))
        job.values = values._replace(handed_over_on=on, handed_over_at=at, job_state=state)

    def _check_past(self, job: FlatJob, name: str, on: date | None) -> None:
        """A day of tolerance: it may be tomorrow already where the file was written."""
        if on and on > (self.now + A_DAY).astimezone(self.sheet.style.zone).date():
            self._say(job, name, on.isoformat(), _("lies in the future."), _("Correct the date."))

    def _start(self, job: FlatJob) -> None:
        values = job.values
        finished = [panel.values.finished_at for panel in job.panels if panel.values.finished_at]
        known = (values.started_at, min(finished, default=None), values.handed_over_at, values.entered_at)
        started = next((at for at in known if at), None)
        if started is None:
            problem = _("When this was must be said.")
            self._say(
                job, "started_at", "", problem, _("Write started_at, panel_finished_at or handed_over_on.")
            )
        elif started > self.now + A_DAY:
            self._say(
                job, "started_at", started.isoformat(), _("lies in the future."), _("Correct the date.")
            )
        job.values = values._replace(started_at=started)

    def _method(self, job: FlatJob) -> None:
        values = job.values
        if values.method and values.no_method_reason:
            problem = _("but a method is named.")
            self._say(job, "no_method_reason", values.no_method_reason, problem, _("Empty one of them."))
        if values.method_version is not None and not values.method:
            self._say(job, "method_version", values.method_version, _("Of no method."), _("Name the method."))
        if values.method:
            number = values.method_version or self.shelf.latest_version(values.method)
            self.shelf.version(values.method, number)
            job.values = values._replace(method_version=number)
        if values.confirmed_at is None and any(getattr(values, name) == BY_METHOD for name in BASIS_NAMES):
            problem = _("A value by method counts only once it was confirmed.")
            self._say(job, "confirmed_at", "", problem, _("Write when, or give the values another basis."))

    def _say(self, job: FlatJob, name: str, value: object, problem: str, remedy: str) -> None:
        self.sheet.say(job.line, "job", name, value, problem, remedy)


def refs_of(jobs: Iterable[FlatJob]) -> list[str]:
    return [job.ref for job in jobs if job.ref]
