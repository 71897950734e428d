"""How long a place held: from what was recorded to its lives. Pure: no framework, no clock.

A life starts the day its panel was finished (day 0) or the day a remedy was done, and ends once: when a look
finds it failed, when its film ends or is changed without having failed, or not yet. Two readings of the same
looks are kept:

* as the planned checks saw it, for rates. A lift reported in between counts as found at the next planned
  check at which that place is looked at; with none yet, the life has only its last planned clean look.
  Counting the report itself would add failures in stretches in which places that held add no clean time.
* as every visit saw it, with "since when" as the holder says, for lists, claims and the second analysis.

Also decided here:
* What was looked at and has not failed is clean time, a watched defect included. What nobody looked at is
  neither clean nor failed.
* What the handover look finds is rework. The life starts when it was put right; left as it is, it says
  nothing.
* A failure already there when a place came under record is no failure of a watched place.
* Looks on the day of a remedy belong to the life before it. A failure on the first day counts as found on
  day 1, since a stretch of no length cannot hold it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from itertools import pairwise
from typing import Final

from shopwarranty.defects.failure_rule import Seen

AT_HANDOVER: Final = "at_handover"
BEFORE_RECORD: Final = "before_record"
DAMAGE: Final = "damage"
PUT_RIGHT: Final = "put_right"


@dataclass(frozen=True, slots=True)
class Look:
    """One look at one place. `defect` is the one that decided `seen`; `since` as the holder says."""

    on: date
    seen: Seen
    planned: bool = False
    handover: bool = False
    since: date | None = None
    defect: int | None = None

    @property
    def is_rework(self) -> bool:
        return self.handover and self.seen in (Seen.FAILED, Seen.DAMAGED)


@dataclass(frozen=True, slots=True)
class Watched:
    """A place as it is watched.

    `finished`: day its film was laid, None while it is not. `added`: day it came under record, if later.
    `gone`: day its film ended or was taken off. `planned`: days of all planned visits of its job.
    """

    finished: date | None
    added: date | None = None
    gone: date | None = None
    gone_why: str = ""
    planned: tuple[date, ...] = ()


class Ended(StrEnum):
    OPEN = "open"
    FAILED = "failed"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class LifeFound:
    """Days of age, counted from `starts`. See the module's text for the two readings."""

    number: int
    starts: date
    entry: int = 0
    clean: int | None = None
    failed: int | None = None
    all_clean: int | None = None
    all_failed: int | None = None
    ended: Ended = Ended.OPEN
    ended_day: int | None = None
    ended_why: str = ""
    defect: int | None = None


@dataclass(frozen=True, slots=True)
class _Span:
    """One life's days. `until`: the last day on which a look is still of this life; None: to this day."""

    starts: date
    until: date | None
    until_why: str
    takes_first_day: bool
    added: date

    def holds(self, day: date) -> bool:
        begun = day >= self.starts if self.takes_first_day else day > self.starts
        return begun and day >= self.added and (self.until is None or day <= self.until)

    def age(self, day: date) -> int:
        return (day - self.starts).days

    @property
    def entry(self) -> int:
        return max(0, self.age(self.added))

    def after(self, day: date, clean: int | None) -> int:
        """The age on that day, but later than the last clean look and than entry."""
        return max(self.age(day), (self.entry if clean is None else clean) + 1)


def lives_of(place: Watched, looks: Iterable[Look], remedied: Iterable[date]) -> tuple[LifeFound, ...]:
    """The lives of one place, oldest first. `remedied`: days on which something started a new life.

    The order of `looks` and `remedied` does not matter. None while the panel is not finished.
    """
    if place.finished is None:
        return ()
    told = sorted((look for look in looks if look.seen is not Seen.NOTHING), key=_by_day)
    rework = next((look for look in told if look.is_rework), None)
    starts = _starts(place, place.finished, rework, sorted(set(remedied)))
    if rework is not None and not starts:
        return (_left_as_it_was(place.finished, rework, place.gone_why),)
    later = [look for look in told if not look.is_rework]
    spans = [span for span in _spans(place, starts) if span.until is None or span.added <= span.until]
    return tuple(_life(number, span, place, later) for number, span in enumerate(spans, 1))


def _by_day(look: Look) -> tuple[date, bool, date, int]:
    """Looks of one day in one order, whichever was entered first."""
    return look.on, not look.planned, look.since or date.max, look.defect or 0


def _starts(place: Watched, finished: date, rework: Look | None, remedied: list[date]) -> list[date]:
    """Days on which lives start; none when a defect of the handover look was never put right."""
    if rework is None:
        starts = [finished, *(day for day in remedied if day > finished)]
    else:
        starts = [day for day in remedied if day >= rework.on]
    return [day for day in starts if place.gone is None or day < place.gone or day == finished]


def _left_as_it_was(finished: date, rework: Look, gone_why: str) -> LifeFound:
    day = max(0, (rework.on - finished).days)
    why = gone_why or AT_HANDOVER
    return LifeFound(1, finished, ended=Ended.OTHER, ended_day=day, ended_why=why, defect=rework.defect)


def _spans(place: Watched, starts: Sequence[date]) -> list[_Span]:
    """Only the first life takes its first day's looks; after a remedy they belong to the life before."""
    ends = [(following, PUT_RIGHT) for _, following in pairwise(starts)]
    ends.append((place.gone, place.gone_why) if place.gone else (None, ""))  # type: ignore[arg-type]
    return [
        _Span(day, until, why, day == place.finished, place.added or day)
        for day, (until, why) in zip(starts, ends, strict=True)
    ]


def _life(number: int, span: _Span, place: Watched, looks: Sequence[Look]) -> LifeFound:
    own = [look for look in looks if span.holds(look.on)]
    found = next((look for look in own if look.seen is Seen.FAILED), None)
    hurt = next((look for look in own if look.seen is Seen.DAMAGED), None)
    if hurt is not None and (found is None or hurt.on < found.on):
        return _ended(number, span, own, hurt.on, DAMAGE, hurt.defect)
    if found is None:
        return _held(number, span, own)
    if span.entry and span.age(found.on) <= span.entry:
        return _ended(number, span, own, found.on, BEFORE_RECORD, found.defect)
    return _failed(number, span, own, found, _next_planned(place, looks, found.on))


def _held(number: int, span: _Span, own: Sequence[Look]) -> LifeFound:
    planned, every = _clean_days(span, own, None)
    if span.until is None:
        return LifeFound(number, span.starts, span.entry, planned, None, every)
    return LifeFound(
        number,
        span.starts,
        span.entry,
        planned,
        None,
        every,
        ended=Ended.OTHER,
        ended_day=span.age(span.until),
        ended_why=span.until_why,
    )


def _ended(
    number: int, span: _Span, own: Sequence[Look], day: date, why: str, defect: int | None
) -> LifeFound:
    planned, every = _clean_days(span, own, day)
    return LifeFound(
        number,
        span.starts,
        span.entry,
        planned,
        None,
        every,
        ended=Ended.OTHER,
        ended_day=span.age(day),
        ended_why=why,
        defect=defect,
    )


def _failed(number: int, span: _Span, own: Sequence[Look], found: Look, at_check: date | None) -> LifeFound:
    planned, every = _clean_days(span, own, found.on)
    return LifeFound(
        number,
        span.starts,
        span.entry,
        planned,
        None if at_check is None else span.after(at_check, planned),
        every,
        span.after(_since(span, found, every), every),
        Ended.FAILED,
        span.age(found.on),
        "",
        found.defect,
    )


def _clean_days(span: _Span, own: Sequence[Look], before: date | None) -> tuple[int | None, int | None]:
    """Ages of the last look that found it holding, by planned checks and by all visits."""
    held = [look for look in own if look.seen is Seen.HELD and (before is None or look.on < before)]
    planned = [span.age(look.on) for look in held if look.planned]
    return max(planned, default=None), max((span.age(look.on) for look in held), default=None)


def _since(span: _Span, found: Look, clean: int | None) -> date:
    """The holder's "since when", unless a look or the laying itself speaks against it."""
    if found.since is None or not span.starts <= found.since < found.on:
        return found.on
    age = span.age(found.since)
    return found.on if age <= (span.entry or -1) or (clean is not None and age <= clean) else found.since


def _next_planned(place: Watched, looks: Sequence[Look], day: date) -> date | None:
    """The first planned check from that day on at which the place was looked at, or would have been.

    Once its film is gone any planned visit of the job is one: the place can no longer be left out.
    """
    days = [look.on for look in looks if look.planned]
    if place.gone is not None:
        days += [on for on in place.planned if on >= place.gone]
    return min((on for on in days if on >= day), default=None)
