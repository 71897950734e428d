"""What a film piece is made of: film, lot, roll and cut, held against what the shop has."""

from dataclasses import dataclass, field
from typing import Final, NamedTuple

from django.utils.translation import gettext as _

from .reading import Sheet
from .records import FlatJob, FlatPanel, FlatPiece, PieceValues
from .shelf import FilmOnShelf, LotOnShelf, RollOnShelf, Shelf, lot_key

UNKNOWN: Final = "unknown"


class PieceRef(NamedTuple):
    """A film piece by what a file can say."""

    job_ref: str
    panel: str
    number: int


@dataclass(slots=True)
class Replacement:
    """A piece took the place of another, perhaps of a job that comes later in the file."""

    piece: PieceRef
    replaced: PieceRef
    line: int


@dataclass(slots=True)
class FilmPlanner:
    sheet: Sheet
    shelf: Shelf
    replacements: list[Replacement] = field(default_factory=list)

    def plan(self, job: FlatJob, panel: FlatPanel, piece: FlatPiece) -> None:
        values = self._with_lot(piece, self._from_roll(piece.values))
        film = self._film(piece, values)
        if film:
            values = values._replace(film_family=film.family)
            lot = self._lot(film, values)
            self._roll(piece, values, film, lot)
        elif values.lot not in ("", UNKNOWN) or values.roll:
            name = "roll" if values.roll else "lot"
            problem = _("Of which film this is must be said.")
            self._say(piece, name, getattr(values, name), problem, _("Write film and film_family."))
        values = self._with_cut(job, piece, values)
        self._check_end(piece, values)
        self._note_replaced(job, panel, piece)
        piece.values = values._replace(
            piece=piece.number, layer=values.layer or 1, supplied_by_owner=bool(values.supplied_by_owner)
        )

    def _from_roll(self, values: PieceValues) -> PieceValues:
        """A roll the shop knows brings its film and lot."""
        roll = self.shelf.rolls.get(values.roll)
        if roll is None:
            return values
        if not values.film:
            values = values._replace(film=roll.film.name, film_maker=roll.film.maker)
        if not values.lot and not values.lot_unknown_reason:
            number = roll.lot.number.strip() if roll.lot else UNKNOWN if roll.lot_unknown_reason else ""
            values = values._replace(lot=number, lot_unknown_reason=roll.lot_unknown_reason)
        return values

    def _with_lot(self, piece: FlatPiece, values: PieceValues) -> PieceValues:
        unknown = values.lot.casefold() == UNKNOWN
        if unknown and not values.lot_unknown_reason:
            problem, remedy = _("Why the lot is unknown must be said."), _("Say it in a few words.")
            self._say(piece, "lot_unknown_reason", "", problem, remedy)
        if values.lot and not unknown and values.lot_unknown_reason:
            problem = _("but a lot is given.")
            self._say(
                piece, "lot_unknown_reason", values.lot_unknown_reason, problem, _("Empty one of them.")
            )
        return (
            values._replace(lot=UNKNOWN)
            if unknown or (values.lot_unknown_reason and not values.lot)
            else values
        )

    def _film(self, piece: FlatPiece, values: PieceValues) -> FilmOnShelf | None:
        if not values.film:
            if values.film_maker or values.film_family:
                problem = _("The film has no name.")
                self._say(piece, "film", "", problem, _("Name it."))
            return None
        known = self.shelf.films.get((values.film_maker, values.film))
        if known is None:
            if not values.film_family:
                problem = _("This film is new here: its family must be said.")
                self._say(piece, "film_family", "", problem, _("Write one of the words of that column."))
                return None
            known = FilmOnShelf(maker=values.film_maker, name=values.film, family=values.film_family)
            self.shelf.films[known.maker, known.name] = known
        elif values.film_family and values.film_family != known.family:
            problem = _("but this film is %(family)s.") % {"family": known.family}
            self._say(piece, "film_family", values.film_family, problem, _("Correct it, or the film's name."))
        return known

    def _lot(self, film: FilmOnShelf, values: PieceValues) -> LotOnShelf | None:
        if values.lot in ("", UNKNOWN):
            return None
        return self.shelf.lots.setdefault(lot_key(film, values.lot), LotOnShelf(film=film, number=values.lot))

    def _roll(self, piece: FlatPiece, values: PieceValues, film: FilmOnShelf, lot: LotOnShelf | None) -> None:
        if not values.roll:
            return
        fresh = RollOnShelf(0, values.roll, film, lot, values.lot_unknown_reason, piece.line)
        roll = self.shelf.rolls.setdefault(values.roll, fresh)
        if roll.film is not film:
            problem = _("but this roll is of %(film)s.") % {"film": roll.film.name}
            self._say(piece, "roll", values.roll, problem, _("Correct the roll or the film."))
        elif lot and roll.lot and roll.lot is not lot:
            problem = _("but this roll is of lot %(lot)s.") % {"lot": roll.lot.number}
            self._say(piece, "roll", values.roll, problem, _("Correct the roll or the lot."))
        elif lot and not roll.pk:
            roll.lot, roll.lot_unknown_reason = lot, ""

    def _with_cut(self, job: FlatJob, piece: FlatPiece, values: PieceValues) -> PieceValues:
        said = (values.cut_across, values.cut_off_roll, values.cut_at, values.long_side_across)
        if values.cut_along is None:
            if any(each is not None for each in said):
                problem = _("How long the cut is must be said.")
                self._say(
                    piece, "cut_along", "", problem, _("Give it, or empty the other columns of the cut.")
                )
            return values
        off_roll = values.cut_off_roll
        if off_roll is None:
            off_roll = values.cut_along if values.roll else 0.0
        at = values.cut_at or job.values.started_at
        return values._replace(cut_off_roll=float(off_roll), cut_at=at)

    def _check_end(self, piece: FlatPiece, values: PieceValues) -> None:
        if values.ended_on and not values.ended_why:
            self._say(
                piece, "ended_why", "", _("Why the piece came off must be said."), _("replaced, removed …")
            )
        if values.ended_why and not values.ended_on:
            self._say(piece, "ended_on", "", _("When the piece came off must be said."), _("Write the day."))

    def _note_replaced(self, job: FlatJob, panel: FlatPanel, piece: FlatPiece) -> None:
        values = piece.values
        if values.replaces_piece is None:
            if values.replaces_job:
                problem = _("Which piece of that job must be said.")
                self._say(piece, "replaces_piece", "", problem, _("Write its number."))
            return
        own = PieceRef(job.ref, panel.values.panel, piece.number)
        other = PieceRef(values.replaces_job or job.ref, panel.values.panel, values.replaces_piece)
        if own == other:
            self._say(
                piece, "replaces_piece", values.replaces_piece, _("is the piece itself."), _("Correct it.")
            )
            return
        self.replacements.append(Replacement(own, other, piece.line))

    def _say(self, piece: FlatPiece, name: str, value: object, problem: str, remedy: str) -> None:
        self.sheet.say(piece.line, "piece", name, value, problem, remedy)
