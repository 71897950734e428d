"""Places of a film piece: which there are, of what kind, and what may be said of them."""

import difflib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _

from shopwarranty.trade import technique
from shopwarranty.trade.panels import FIELD_KEY, PlaceKind

from .doubts import Doubter
from .laying import LayingEvents
from .order import AFTER, Rank, is_seam, known_places, place_rank
from .reading import Sheet
from .records import FlatPiece, FlatPlace, PlaceValues
from .shelf import Shelf

ALL: Final = "all"
FIELDS: Final = technique.fields(technique.Level.PLACE)
BASIS_NAMES: Final = tuple(f"{field.key}_basis" for field in FIELDS)
MOST_KEPT: Final = 50_000


@dataclass(frozen=True, slots=True)
class Problem:
    name: str
    value: object
    words: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Resolved:
    """One place with its kind, its rank on the panel, and what is wrong or doubtful about it."""

    values: PlaceValues
    rank: Rank
    by_method: bool
    problems: tuple[Problem, ...] = ()
    doubts: tuple[str, ...] = ()


class PlacePlanner:
    """Works out each distinct place of a panel once."""

    def __init__(self, sheet: Sheet, shelf: Shelf) -> None:
        self.sheet, self.shelf = sheet, shelf
        self.doubter = Doubter(sheet)
        self.events = LayingEvents(sheet.style.zone)
        self.kept: dict[tuple[str, str, PlaceValues], Resolved] = {}

    def plan(self, body: str, panel: str, piece: FlatPiece) -> bool:
        """Puts the piece's places in order. Says whether any value is by method."""
        by_method = False
        ranked: list[tuple[Rank, int, FlatPlace]] = []
        for place in self._spread(body, panel, piece.places):
            found = self.resolve(body, panel, place.values)
            place.values = found.values
            by_method = by_method or found.by_method
            for problem in found.problems:
                self.sheet.say(
                    place.line, "place", problem.name, problem.value, problem.words, problem.remedy
                )
            for doubt in found.doubts:
                self.sheet.note(doubt, place.line)
            ranked.append((found.rank, len(ranked), place))
        ranked.sort(key=lambda each: each[:2])
        piece.places = [place for _rank, _order, place in ranked]
        return by_method

    def resolve(self, body: str, panel: str, values: PlaceValues) -> Resolved:
        key = (body, panel, values)
        found = self.kept.get(key)
        if found is None:
            if len(self.kept) >= MOST_KEPT:
                self.kept.clear()
            found = self.kept[key] = self._resolve(body, panel, values)
        return found

    def _spread(self, body: str, panel: str, places: list[FlatPlace]) -> list[FlatPlace]:
        """`all` becomes every place the catalogue knows that no other row of the piece names."""
        if not any(place.values.place == ALL for place in places):
            return places
        named = {place.values.place for place in places}
        spread: list[FlatPlace] = []
        for place in places:
            if place.values.place != ALL:
                spread.append(place)
                continue
            known = known_places(body, panel)
            if not known:
                self._cannot_spread(place)
            keys = ((key, kind) for key, kind in known.items() if key not in named)
            spread += [FlatPlace(_only(place.values, key, kind), place.own, place.line) for key, kind in keys]
        return spread

    def _cannot_spread(self, place: FlatPlace) -> None:
        problem = _("means every place of the panel, but the list knows none on this one.")
        self.sheet.say(place.line, "place", "place", ALL, problem, _("Write its places one by one."))

    def _resolve(self, body: str, panel: str, values: PlaceValues) -> Resolved:
        kind, problems = self._kind(body, panel, values)
        if kind:
            problems += _does_not_apply(values, kind)
        events = self.events.resolve(values.laying_events) if values.laying_events else ()
        if events is None:
            problems.append(Problem("laying_events", values.laying_events[0].head, *self.events.refusal()))
        resolved = values._replace(place_kind=kind, laying_events=events or ())
        rank = place_rank(body, panel, values.place, kind) if kind else (1, AFTER)
        by_method = any(getattr(values, name) == "by_method" for name in BASIS_NAMES)
        return Resolved(resolved, rank, by_method, tuple(problems), self.doubter.of_place(values))

    def _kind(self, body: str, panel: str, values: PlaceValues) -> tuple[str, list[Problem]]:
        if not values.place:
            remedy = _("Write its key, or: all.")
            return "", [Problem("place", "", _("Which place this is must be said."), remedy)]
        known = self.known_kind(body, panel, values.place)
        said = values.place_kind
        if known and said and known != said:
            words = _("but this place is of the kind %(kind)s.") % {"kind": known}
            return known, [Problem("place_kind", said, words, _("Correct it, or leave it empty."))]
        if known or said:
            return known or said, []
        return "", [
            Problem(
                "place",
                values.place,
                _("There is no such place on this panel."),
                self._near(body, panel, values.place),
            )
        ]

    def known_kind(self, body: str, panel: str, key: str) -> str:
        """ "" for a place that neither the catalogue nor the shop knows there."""
        own = self.shelf.panels.get(panel)
        if key in known_places(body, panel):
            return known_places(body, panel)[key]
        if (panel, key) in self.shelf.places:
            return self.shelf.places[panel, key]
        if key == FIELD_KEY:
            return str(PlaceKind.FIELD)
        if own and key.removeprefix("edge-").isdecimal():
            return str(PlaceKind.EDGE)
        return str(PlaceKind.SEAM) if is_seam(key) else ""

    def _near(self, body: str, panel: str, key: str) -> str:
        near = difflib.get_close_matches(key, list(known_places(body, panel)), n=1, cutoff=0.6)
        if near:
            return _("Did you mean %(near)s? For a new place write place_kind too.") % {"near": near[0]}
        return _("Write a key from the list; for a new place write place_kind and place_name too.")


def _does_not_apply(values: PlaceValues, kind: str) -> list[Problem]:
    return [
        Problem(
            field.key,
            getattr(values, field.key),
            _("does not apply to the kind %(kind)s.") % {"kind": kind},
            _("Leave it empty here."),
        )
        for field in FIELDS
        if PlaceKind(kind) not in field.places and getattr(values, field.key) not in (None, "")
    ]


def _only(values: PlaceValues, key: str, kind: str) -> PlaceValues:
    """The row's values for one place, without those that make no sense for its kind."""
    out: dict[str, object] = dict(_cleared(kind))
    return values._replace(place=key, place_kind=kind, **out)  # type: ignore[arg-type]


def _cleared(kind: str) -> Iterator[tuple[str, object]]:
    for field in FIELDS:
        if PlaceKind(kind) not in field.places:
            yield field.key, "" if field.kind is technique.FieldKind.CHOICE else None
            yield f"{field.key}_basis", ""
