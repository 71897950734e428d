"""Panels of a job and the film pieces on them."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from django.utils.translation import gettext as _

from shopwarranty.trade import catalogue, technique
from shopwarranty.trade.words import REMOVED_PARTS

from .columns import keys_of
from .film_planning import FilmPlanner
from .order import AFTER, known_places, panel_place_in_line
from .place_planning import PlacePlanner
from .reading import Sheet
from .records import FlatJob, FlatPanel, FlatPiece, PanelValues
from .shelf import PanelOnShelf, Shelf

BASIS_NAMES: Final = (*(f"{field.key}_basis" for field in technique.fields(technique.Level.PANEL)),)
MEASURED: Final = ("air_c", "surface_c", "humidity")
OUTCOMES: Final = ("", *keys_of(REMOVED_PARTS))
BY_METHOD: Final = "by_method"


@dataclass(slots=True)
class PanelPlanner:
    """Every rule for what stands on one panel. Nothing happened after `latest`."""

    sheet: Sheet
    shelf: Shelf
    latest: datetime
    places: PlacePlanner
    film: FilmPlanner

    def plan(self, job: FlatJob) -> None:
        """Resolves the panels and puts them in walking order."""
        body = job.values.body_style
        for panel in job.panels:
            self._plan_panel(job, panel)
        order = {id(panel): number for number, panel in enumerate(job.panels)}
        job.panels.sort(key=lambda each: (panel_place_in_line(body, each.values.panel), order[id(each)]))

    def _plan_panel(self, job: FlatJob, panel: FlatPanel) -> None:
        body, key = job.values.body_style, panel.values.panel
        if not key:
            self._say(panel, "panel", "", _("Which panel this is must be said."), _("Write its key."))
            return
        self._check_known(body, panel)
        self._check_dates(panel)
        self._resolve_entries(panel)
        panel.values = self._with_reading(job, panel)
        panel.pieces.sort(key=lambda piece: piece.number)
        by_method = [self._plan_piece(job, panel, piece) for piece in panel.pieces]
        self._check_seams(panel)
        if any(by_method) or any(getattr(panel.values, name) == BY_METHOD for name in BASIS_NAMES):
            self._check_confirmed(panel)
        for doubt in self.places.doubter.of_panel(panel.values):
            self.sheet.note(doubt, panel.line)

    def _plan_piece(self, job: FlatJob, panel: FlatPanel, piece: FlatPiece) -> bool:
        self.film.plan(job, panel, piece)
        return self.places.plan(job.values.body_style, panel.values.panel, piece)

    def _check_seams(self, panel: FlatPanel) -> None:
        numbers = {piece.number for piece in panel.pieces}
        for piece in panel.pieces:
            for place in piece.places:
                other = place.values.meets_piece
                if other is not None and (other not in numbers or other == piece.number):
                    problem = _("There is no such other piece on this panel.")
                    self.sheet.say(
                        place.line, "place", "meets_piece", other, problem, _("Correct the number.")
                    )

    def _check_known(self, body: str, panel: FlatPanel) -> None:
        key, name = panel.values.panel, panel.values.panel_name
        if panel_place_in_line(body, key) < AFTER or known_places(body, key) or key in self.shelf.panels:
            return
        if not name:
            problem = _("There is no such panel on this body style.")
            self._say(panel, "panel", key, problem, self._near(body, key))
            return
        edges = tuple(
            place.values.place_name or place.values.place
            for piece in panel.pieces[:1]
            for place in piece.places
            if place.values.place_kind == "edge" and place.values.place.startswith("edge-")
        )
        self.shelf.panels[key] = PanelOnShelf(key=key, name=name, edges=edges)

    def _near(self, body: str, key: str) -> str:
        keys = ", ".join(catalogue.panel_keys(body))
        return _("Its panels: %(keys)s. For a panel of your own write panel_name too.") % {"keys": keys}

    def _check_dates(self, panel: FlatPanel) -> None:
        for name in ("finished_at", "confirmed_at", "measured_at"):
            at = getattr(panel.values, name)
            if at is not None and at > self.latest:
                self._say(panel, name, at.isoformat(), _("lies in the future."), _("Correct the date."))

    def _check_confirmed(self, panel: FlatPanel) -> None:
        if panel.values.confirmed_at is None:
            problem = _("A value by method counts only once the installer confirmed the panel.")
            remedy = _("Write when that was, or give the values another basis.")
            self._say(panel, "confirmed_at", "", problem, remedy)

    def _with_reading(self, job: FlatJob, panel: FlatPanel) -> PanelValues:
        values, at = panel.values, panel.values.measured_at
        if any(getattr(values, name) is not None for name in MEASURED):
            known = (at, values.finished_at, job.values.handed_over_at, job.values.started_at)
            return values._replace(measured_at=next((moment for moment in known if moment), None))
        if at is not None or values.instrument:
            problem = _("There is no reading in this row.")
            self._say(panel, "measured_at" if at else "instrument", "", problem, _("Give what was measured."))
        return values

    def _resolve_entries(self, panel: FlatPanel) -> None:
        values = panel.values
        for item in values.removed_items:
            if item.note not in OUTCOMES or len(item.head) > 80:
                words = ", ".join(OUTCOMES[1:])
                remedy = _("Write name: outcome, the outcome one of: %(words)s.") % {"words": words}
                self._say(panel, "removed_items", item.head, _("says no such outcome."), remedy)
        events = self.places.events.resolve(values.laying_events)
        if events is None:
            self._say(panel, "laying_events", values.laying_events[0].head, *self.places.events.refusal())
        else:
            panel.values = values._replace(laying_events=events)
        self._check_people(panel)

    def _check_people(self, panel: FlatPanel) -> None:
        values = panel.values
        names = [values.installer] if values.installer else []
        names += [entry.head for entry in values.other_installers]
        if len(set(names)) < len(names):
            again = next(name for name in names if names.count(name) > 1)
            self._say(panel, "other_installers", again, _("is named twice."), _("Name everybody once."))
        if any(len(name) > 120 for name in names) or any(len(e.note) > 80 for e in values.other_installers):
            self._say(panel, "other_installers", "", _("A name or part is too long."), _("Shorten it."))
        for name in names:
            self.shelf.person(name)

    def _say(self, panel: FlatPanel, name: str, value: object, problem: str, remedy: str) -> None:
        self.sheet.say(panel.line, "panel", name, value, problem, remedy)
