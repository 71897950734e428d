"""One fixed review a month makes claims; in between figures move, and a claim may fall but none is added.

Whoever looks every day and claims whatever crosses the line that day claims something by luck far more often
than the family of claims allows (Armitage P, McPherson CK, Rowe BC 1969 J R Stat Soc A 132:235-244: at 5 %
a look, ten looks cross once in five). Withdrawing a claim makes no false one, so that is always allowed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from .results import Effect
from .verdicts import Phrase, Reason, Verdict

STANDS_BELOW = 0.05
"""p of the comparison taken alone below which a claim still stands; a judgement."""

GATES = (Reason.TOO_FEW_EXPECTED, Reason.CALLBACKS_STAY_AWAY, Reason.MOVES_TOGETHER)
"""These do not depend on how often somebody looks, so they speak as of today."""

Key = tuple[str, str, str]


@dataclass(frozen=True, slots=True)
class Claim:
    """A claim of the fixed review: which comparison, which way, and its p in the family."""

    factor: str
    level: str
    reference: str
    more: bool
    q: float
    holm: float

    @property
    def key(self) -> Key:
        return self.factor, self.level, self.reference


@dataclass(frozen=True, slots=True)
class Held:
    """Effects with verdicts as the fixed review allows; `waiting` would be claimed if it were made today."""

    effects: tuple[Effect, ...]
    waiting: frozenset[Key]


def claims_of(effects: Sequence[Effect]) -> tuple[Claim, ...]:
    """What a review claims, to be kept as the fixed one."""
    return tuple(
        Claim(*_key(e), e.verdict.phrase is Phrase.MORE, e.q, e.holm) for e in effects if e.verdict.claimed
    )


def held(effects: Sequence[Effect], claims: Sequence[Claim]) -> Held:
    """Today's effects under the claims of the last fixed review."""
    by_key = {claim.key: claim for claim in claims}
    found = tuple(_under(effect, by_key) for effect in effects)
    new = (
        _key(now)
        for now, kept in zip(effects, found, strict=True)
        if now.verdict.claimed > kept.verdict.claimed
    )
    return Held(found, frozenset(new))


def _under(effect: Effect, claims: Mapping[Key, Claim]) -> Effect:
    claim = claims.get(_key(effect))
    if effect.verdict.reason in GATES:
        return effect
    if claim is not None and _stands(effect, claim):
        phrase = Phrase.MORE if claim.more else Phrase.FEWER
        verdict = Verdict(phrase, Reason.SIGNIFICANT)
        return replace(effect, verdict=verdict, q=claim.q, holm=claim.holm, more_edges=None)
    if effect.verdict.claimed:
        return replace(effect, verdict=Verdict(Phrase.NOT_YET, Reason.INTERVAL_OPEN))
    return effect


def _stands(effect: Effect, claim: Claim) -> bool:
    same_way = (effect.contrast.log_ratio > 0) == claim.more
    return same_way and effect.contrast.p < STANDS_BELOW


def _key(effect: Effect) -> Key:
    contrast = effect.contrast
    return contrast.factor, contrast.level, contrast.reference
