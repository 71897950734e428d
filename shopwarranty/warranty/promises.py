"""Which promise covers which film piece, from when until when."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date

from shopwarranty.jobs.record_parts import PanelRecord, PieceRecord
from shopwarranty.trade.catalogue import is_horizontal
from shopwarranty.warranty.cover import (
    CoverDates,
    ReplacementCover,
    Term,
    add_term,
    cover_after_replacement,
)

from .models import CoverLine, CoverLineSurface


@dataclass(frozen=True, slots=True)
class Earlier:
    """What an earlier edition promised: dates by film piece and cover line. Pieces in it keep their dates."""

    covers: Mapping[tuple[int, int], CoverDates] = field(default_factory=dict)

    def starts(self, piece_id: int) -> date | None:
        found = (dates.first_day for (piece, _), dates in self.covers.items() if piece == piece_id)
        return min(found, default=None)


NOTHING_EARLIER = Earlier()


@dataclass(frozen=True, slots=True)
class PieceCover:
    """One promise for one film piece."""

    panel: PanelRecord
    piece: PieceRecord
    line: CoverLine
    dates: CoverDates

    @property
    def last_day(self) -> date:
        """A term always has an end; only history that was brought in may lack one."""
        assert self.dates.last_day is not None
        return self.dates.last_day


def term_of(line: CoverLine) -> Term:
    return Term(line.years, line.months, line.days)


def covers(
    panels: Iterable[PanelRecord],
    lines: Iterable[CoverLine],
    starts_on: date,
    earlier: Earlier = NOTHING_EARLIER,
    relaid: ReplacementCover = ReplacementCover.ORIGINAL_END,
) -> tuple[PieceCover, ...]:
    """Every promise for every film piece that still lies on a panel; lines keep the plan's order.

    A piece that an earlier edition covered keeps its dates, and one laid anew in its place takes them over,
    unless `relaid` gives it a term of its own from the day it was laid; all else starts on `starts_on`.
    """
    panels = tuple(panels)
    pieces = {piece.id: piece for panel in panels for piece in panel.pieces}
    of = _Laying(pieces, starts_on, earlier, relaid)
    found = [
        PieceCover(panel, piece, line, _dates(piece, line, of))
        for line in lines
        for panel in panels
        for piece in panel.standing_pieces
        if applies(line, panel, piece)
    ]
    return tuple(found)


def applies(line: CoverLine, panel: PanelRecord, piece: PieceRecord) -> bool:
    """A film maker promises nothing for film that the owner brought, nor for film nobody named."""
    if line.surface != CoverLineSurface.ALL and (
        is_horizontal(panel.key) != (line.surface == CoverLineSurface.HORIZONTAL)
    ):
        return False
    if line.family and (piece.film is None or piece.film.family != line.family):
        return False
    if line.warrantor == CoverLine.Warrantor.MAKER:
        return piece.film is not None and not piece.supplied_by_owner
    return True


@dataclass(frozen=True, slots=True)
class _Laying:
    """Every piece of the panels, those that ended included, and what was promised before."""

    pieces: Mapping[int, PieceRecord]
    starts_on: date
    earlier: Earlier
    relaid: ReplacementCover

    def original(self, piece: PieceRecord, line: CoverLine) -> CoverDates | None:
        """What was promised for the film that this piece, or the one before it, took the place of."""
        before = self.pieces.get(piece.replaces_id or 0)
        while before is not None:
            if (before.id, line.pk) in self.earlier.covers:
                return self.earlier.covers[before.id, line.pk]
            before = self.pieces.get(before.replaces_id or 0)
        return None

    def laid_on(self, piece: PieceRecord) -> date:
        """A piece cut back to make room stays: then the new one counts from this edition."""
        before = self.pieces.get(piece.replaces_id or 0)
        return before.ended_on if before and before.ended_on else self.starts_on


def _dates(piece: PieceRecord, line: CoverLine, of: _Laying) -> CoverDates:
    term = term_of(line)
    if (piece.id, line.pk) in of.earlier.covers:
        return of.earlier.covers[piece.id, line.pk]
    original = of.original(piece, line)
    if original and of.relaid is ReplacementCover.ORIGINAL_END:
        return original
    if original:
        return cover_after_replacement(original, laid_on=of.laid_on(piece), term=term, policy=of.relaid)
    first_day = of.earlier.starts(piece.id) or of.starts_on
    return CoverDates(first_day, add_term(first_day, term))


def pieces_without_promise(panels: Iterable[PanelRecord], of: Iterable[PieceCover]) -> Iterator[PanelRecord]:
    """Panels on which some film piece has no promise at all."""
    covered = {cover.piece.id for cover in of}
    for panel in panels:
        if any(piece.id not in covered for piece in panel.standing_pieces):
            yield panel
