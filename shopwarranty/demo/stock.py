"""Lots, rolls and what was cut from them, in the order in which the jobs came."""

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from shopwarranty.trade.catalogue import Size
from shopwarranty.trade.cut_plan import Allowance, piece_for, plan
from shopwarranty.trade.cut_plan import Cut as WayRound

from . import sources
from .told import Cut, Lot, Roll

WIDTH_MM, LENGTH_MM = 1524.0, 18288.0  # 60 in by 60 ft
ALLOWANCE_MM = 38.0
UNKNOWN = -1
HELD_BACK = 99
"""The lot the shop set aside itself: one job, then haze was seen along the roll."""

UNKNOWN_LOT_JOBS = {"chroma-satin": (9, 10)}
HELD_BACK_FROM_LAST = {"reed-clear": 3}


@dataclass(slots=True)
class _Open:
    """A roll while it is being used."""

    label: str
    film: str
    lot: int | None
    received_on: date
    opened_on: date | None = None
    finished_on: date | None = None
    left_mm: float = LENGTH_MM
    cuts: list[Cut] = field(default_factory=list)


class Stockroom:
    """Takes pieces off rolls; a new lot or an empty roll means a new roll. `totals`: jobs with each film."""

    def __init__(self, totals: dict[str, int]) -> None:
        self.totals = totals
        self.lots: list[Lot] = []
        self._by_ordinal: dict[tuple[str, int], int] = {}
        self._rolls: list[_Open] = []
        self._seen: dict[str, int] = dict.fromkeys(totals, 0)
        self._now: dict[str, int] = {}

    def next_job(self, film: str, on: date) -> None:
        """The film's roll for a job that begins that day."""
        ordinal = self._ordinal(film, self._seen[film])
        self._seen[film] += 1
        lot = None if ordinal == UNKNOWN else self._lot(film, ordinal, on)
        current = self._now.get(film)
        if current is None or self._rolls[current].lot != lot:
            self._open(film, lot, on)

    def take(self, film: str, size: Size, at: datetime, kind: str = "piece") -> tuple[int, int]:
        """(roll, cut) of a piece; the roll in use, or the next one of its lot when it is too short."""
        if film not in self._now:
            self.next_job(film, at.date())
        way = way_round(size)
        if self._rolls[self._now[film]].left_mm < way.length_used_mm:
            self._open(film, self._rolls[self._now[film]].lot, at.date())
        number = self._now[film]
        roll = self._rolls[number]
        roll.left_mm -= way.length_used_mm
        roll.opened_on = roll.opened_on or at.date()
        across, along = way.across_roll_mm, way.length_used_mm
        roll.cuts.append(Cut(kind, at, along, across, along, way.long_side_across))
        return number, len(roll.cuts) - 1

    def lot_of(self, roll: int) -> int | None:
        return self._rolls[roll].lot

    def lot_at(self, film: str, ordinal: int) -> int:
        return self._by_ordinal[film, ordinal]

    def put_by(self, today: date) -> None:
        """A further roll of each film's lot in use, not opened yet."""
        for film, number in sorted(self._now.items()):
            self._receive(film, self._rolls[number].lot, today - timedelta(days=12))

    def rolls(self) -> tuple[Roll, ...]:
        return tuple(
            Roll(r.label, r.film, r.lot, r.received_on, r.opened_on, r.finished_on, tuple(r.cuts))
            for r in self._rolls
        )

    def _ordinal(self, film: str, nth: int) -> int:
        if nth in UNKNOWN_LOT_JOBS.get(film, ()):
            return UNKNOWN
        if self.totals[film] - nth == HELD_BACK_FROM_LAST.get(film):
            return HELD_BACK
        a_lot = next(one.jobs_a_lot for one in sources.films() if one.key == film)
        return nth // a_lot

    def _lot(self, film: str, ordinal: int, on: date) -> int:
        if (film, ordinal) not in self._by_ordinal:
            made = on - timedelta(days=64 + 3 * (ordinal % 5))
            initials = "".join(word[0] for word in film.split("-")).upper()
            number = f"{initials}{made:%y%m}-{len(self.lots) + 11}"
            self._by_ordinal[film, ordinal] = len(self.lots)
            self.lots.append(Lot(film, number, made))
        return self._by_ordinal[film, ordinal]

    def _open(self, film: str, lot: int | None, on: date) -> None:
        """What is too short for a piece is used up; a roll that was set aside stays on the shelf."""
        before = self._now.get(film)
        held_back = self._by_ordinal.get((film, HELD_BACK))
        if before is not None and (held_back is None or self._rolls[before].lot != held_back):
            self._rolls[before].finished_on = on
        self._now[film] = self._receive(film, lot, on - timedelta(days=9))

    def _receive(self, film: str, lot: int | None, on: date) -> int:
        self._rolls.append(_Open(f"R{len(self._rolls) + 1:03d}", film, lot, on))
        return len(self._rolls) - 1


def way_round(size: Size) -> WayRound:
    """With the shop's allowance, or a smaller one where the roll is not wide enough."""
    for allowance in (ALLOWANCE_MM, 12.0):
        piece = piece_for(size, Allowance(allowance, allowance))
        best = plan(piece, WIDTH_MM, LENGTH_MM).best
        if best is not None:
            return best
    raise ValueError(f"{size} does not fit on the roll")
