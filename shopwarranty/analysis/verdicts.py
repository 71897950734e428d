"""From estimates to words: five fixed phrases, each with the reason it was chosen.

Verdicts hold the false discovery rate (Benjamini-Hochberg at 0.04, where a simulated review of
idle factors claims anything in about one of twenty). The headline and messages ask Holm as well.
"No clear difference" is two one-sided tests at 5 % (Schuirmann DJ 1987 J Pharmacokinet Biopharm
15:657-680): the 90 % interval lies inside 0.67 to 1.5.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from .aliasing import Tangle
from .effects import Contrast

CLAIM_AT = 0.04
FEWEST_EXPECTED = 5.0
FEWEST_FAILED_VEHICLES = 20
ATTENDANCE_LINE = 0.8
ALIKE = (0.67, 1.5)


class Phrase(Enum):
    """The five phrases, spelled as they are printed and exported."""

    TANGLED = "cannot be told apart from {other}"
    MORE = "goes with more failures"
    FEWER = "goes with fewer failures"
    NO_DIFFERENCE = "no clear difference"
    NOT_YET = "cannot tell yet"


class Reason(Enum):
    """Why a phrase was chosen, for the page to explain."""

    TOO_FEW_EXPECTED = "fewer than five expected failures on a side"
    CALLBACKS_STAY_AWAY = "vehicles that came back miss their planned checks"
    MOVES_TOGETHER = "moved together with another factor"
    SIGNIFICANT = "holds up among all questions asked"
    INTERVAL_INSIDE = "the interval lies inside the margin"
    INTERVAL_OPEN = "the interval leaves both open"


@dataclass(frozen=True, slots=True)
class Verdict:
    """A phrase, its reason, and the other factor where one is named."""

    phrase: Phrase
    reason: Reason
    other: str | None = None

    @property
    def words(self) -> str:
        return self.phrase.value.format(other=self.other)

    @property
    def claimed(self) -> bool:
        return self.phrase in (Phrase.MORE, Phrase.FEWER)

    @property
    def settled(self) -> bool:
        """More of the same record would not say more: tangled factors stay tangled in it."""
        return self.phrase is not Phrase.NOT_YET


def verdict(contrast: Contrast, q: float, tangle: Tangle | None, informative_return: bool = False) -> Verdict:
    """Gates in order; the first that holds speaks.

    q       Benjamini-Hochberg adjusted p of the contrast in its family
    tangle  the most tangled other factor, if any
    informative_return  vehicles that came back attend their next check too rarely for a factor that
            changes what an owner can see
    """
    if min(contrast.expected, contrast.reference_expected) < FEWEST_EXPECTED:
        return Verdict(Phrase.NOT_YET, Reason.TOO_FEW_EXPECTED)
    if informative_return:
        return Verdict(Phrase.NOT_YET, Reason.CALLBACKS_STAY_AWAY)
    if tangle is not None and tangle.cannot_tell:
        return Verdict(Phrase.TANGLED, Reason.MOVES_TOGETHER, tangle.other)
    if q <= CLAIM_AT:
        phrase = Phrase.MORE if contrast.log_ratio > 0 else Phrase.FEWER
        return Verdict(phrase, Reason.SIGNIFICANT)
    low, high = contrast.interval(0.9)
    if ALIKE[0] < low and high < ALIKE[1]:
        return Verdict(Phrase.NO_DIFFERENCE, Reason.INTERVAL_INSIDE)
    return Verdict(Phrase.NOT_YET, Reason.INTERVAL_OPEN)


def few_witnesses(contrast: Contrast) -> bool:
    """Fewer than 20 vehicles with a failure on the smaller side: said beside the verdict."""
    return min(contrast.failed_vehicles, contrast.reference_failed_vehicles) < FEWEST_FAILED_VEHICLES
