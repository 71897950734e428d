"""What the looks at a pair say: which half failed first, by the day that counts, seen at the same visit."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from .paired_test import Discordant, PairedTest, mcnemar
from .trial_sequence import Plan, Standing, standing


class Outcome(StrEnum):
    OPEN = "open"
    OTHER = "other"
    USUAL = "usual"
    BOTH = "both"
    NEITHER = "neither"


@dataclass(frozen=True, slots=True)
class Look:
    """Both halves at one visit, `day` days after laying; True: failed, None: not looked at."""

    day: int
    other_failed: bool | None
    usual_failed: bool | None


@dataclass(frozen=True, slots=True)
class PairResult:
    """`at`: day number since the trial began on which it was settled (for the order only); None: open."""

    pair: int
    outcome: Outcome
    at: int | None


def judge_pair(looks: Iterable[Look], by_day: int) -> tuple[Outcome, int | None]:
    """Outcome and the day of the look that settled it.

    The first visit that saw both halves and found one failed settles a pair for good: a half that fails
    later changes nothing. The first look at or after `by_day` closes a pair with what it shows, if it comes
    by `last_day`; later it would no longer speak of that day, and the pair stays open.
    """
    latest = last_day(by_day)
    for look in sorted(looks, key=lambda each: each.day):
        if look.other_failed is None or look.usual_failed is None:
            continue
        if look.day > latest:
            break
        outcome = _outcome(look.other_failed, look.usual_failed)
        if outcome is not Outcome.NEITHER or look.day >= by_day:
            return outcome, look.day
    return Outcome.OPEN, None


def last_day(by_day: int) -> int:
    """A quarter over the day that counts, at least a fortnight: as late as appointments come."""
    return by_day + max(14, by_day // 4)


def _outcome(other_failed: bool, usual_failed: bool) -> Outcome:
    if other_failed == usual_failed:
        return Outcome.BOTH if other_failed else Outcome.NEITHER
    return Outcome.OTHER if other_failed else Outcome.USUAL


@dataclass(frozen=True, slots=True)
class Answer:
    """What a trial says. `once`: McNemar as if looked at only now; `standing` allows for all looks before."""

    pairs: int
    settled: int
    both: int
    neither: int
    standing: Standing
    once: PairedTest


def answer(results: Sequence[PairResult], plan: Plan) -> Answer:
    """Results in any order; they are counted in the order in which they were settled."""
    done = [r for r in results if r.at is not None]
    signs = signs_in_order(done)
    counted = Discordant(sum(signs), len(signs) - sum(signs))
    return Answer(
        pairs=len(results),
        settled=len(done),
        both=sum(r.outcome is Outcome.BOTH for r in done),
        neither=sum(r.outcome is Outcome.NEITHER for r in done),
        standing=standing(signs, plan),
        once=mcnemar(counted),
    )


def signs_in_order(results: Iterable[PairResult]) -> list[bool]:
    """The discordant pairs in the order in which they were settled; True: only the other arm failed."""
    settled = sorted((r.at, r.pair, r.outcome) for r in results if r.at is not None)
    return [outcome is Outcome.OTHER for *_, outcome in settled if outcome in (Outcome.OTHER, Outcome.USUAL)]
