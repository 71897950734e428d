"""What a review says, frozen: the shape the page, the files and the messages all read."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from .aliasing import Tangle
from .curve import ShareFailed
from .effects import Contrast
from .groups import GroupFigure
from .npmle import Mass
from .verdicts import CLAIM_AT, Verdict


class NoticeKind(Enum):
    """What could fool the reader, as a sentence with places for this review's numbers."""

    NOTHING_FAILED = "Nothing was found failing, so nothing can be compared."
    NEVER_SEEN = (
        "{count} of {total} places were never looked at after their start; they are in no denominator."
    )
    LATE_ENTRY = (
        "{count} places came under record late; the steps are left out, the other figures allow for it."
    )
    FEW_CLUSTERS = "Only {count} vehicles with a failure: every interval here is rough below 20."
    NOT_RECORDED = "{factor} is not recorded for {count} of {total} places."
    MANY_LEVELS = "{factor} has {count} levels: it is ranked, not compared (at most {most})."
    ONE_LEVEL = "{factor} has only one recorded level, so there is nothing to compare."
    SIGN_TURNS = (
        "{factor} {level}: taken alone it goes with {alone} failures, beside the others with {beside}."
    )
    TANGLED = "{factor} {level} moved with {other}: {kept} % of what it could tell is left beside it."
    FEW_WITNESSES = "{factor} {level}: fewer than {least} vehicles with a failure on one side."
    DEPENDS_ON_CALLBACKS = "{factor} {level}: the verdict depends on people who came back."
    CALLBACKS_STAY_AWAY = (
        "Vehicles that came back attend their planned checks {ratio} times as often as others: "
        "rates are too low, and what an owner can see is not judged."
    )
    MANY_QUESTIONS = "{count} comparisons were looked at; about one in twenty claimed verdicts may be wrong."
    ADJUSTED_FOR = "Every comparison is held beside: {factors}."


@dataclass(frozen=True, slots=True)
class Notice:
    """A kind and its values by name, so that a page can word it in the reader's language."""

    kind: NoticeKind
    values: tuple[tuple[str, str | int], ...] = ()

    @property
    def words(self) -> str:
        return self.kind.value.format(**dict(self.values))


@dataclass(frozen=True, slots=True)
class Effect:
    """A level against its reference, with everything said beside it.

    q, holm        adjusted p among all claimed contrasts of the review
    crude_ratio, stratified_ratio   odds of failed by `early_day` among seen; None if a cell is empty
    tangled        other factors it moved with, the most tangled first
    joint_p        for a pair that cannot be told apart: p that neither matters
    more_edges     further watched places, both sides, until a doubling is called; None once settled
    with_callbacks verdict when callbacks count when they happened; None without a second analysis
    """

    contrast: Contrast
    q: float
    holm: float
    crude_ratio: float | None
    stratified_ratio: float | None
    early_day: int
    verdict: Verdict
    tangled: tuple[Tangle, ...]
    joint_p: float | None
    more_edges: int | None
    few_witnesses: bool
    with_callbacks: Verdict | None = None

    @property
    def depends_on_callbacks(self) -> bool:
        """The verdict turns with what people who came back are taken to show."""
        return self.with_callbacks is not None and self.with_callbacks.phrase is not self.verdict.phrase


@dataclass(frozen=True, slots=True)
class Review:
    """Everything a review says; groups hold (factor, its levels)."""

    rows: int
    clusters: int
    failures: int
    edge_days: float
    never_seen: int
    npmle: tuple[Mass, ...]
    cumulative: tuple[ShareFailed, ...]
    groups: tuple[tuple[str, tuple[GroupFigure, ...]], ...]
    effects: tuple[Effect, ...]
    notices: tuple[Notice, ...]

    @property
    def headline(self) -> tuple[Effect, ...]:
        """Claims that also hold against any false claim at all, the surest first."""
        sure = [e for e in self.effects if e.verdict.claimed and e.holm <= CLAIM_AT]
        return tuple(sorted(sure, key=lambda e: e.holm))
