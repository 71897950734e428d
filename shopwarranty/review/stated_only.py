"""The same comparisons once more on what somebody stated or measured, without what is known by method alone.

A value filled in from the shop's method says what should have been done; if people confirm it unread, blame
and praise both fade. Where much of a comparison rests on it, that is said beside the verdict.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from shopwarranty.analysis.bands import bands_for
from shopwarranty.analysis.family import effects_of

from .asking import Asked, ask
from .columns import BASIS_CODE
from .lives import LifeTable
from .selection import Selection


@dataclass(frozen=True, slots=True)
class StatedOnly:
    """`by_method`: share of the watched places whose value is known by method alone, 0..1."""

    by_method: float
    ratio: float
    low: float
    high: float


def stated_only(table: LifeTable, selection: Selection, asked: Asked) -> Mapping[tuple[str, str], StatedOnly]:
    """By factor and level, for the comparisons that rest on values by method at all."""
    shares = {name: _by_method(table, asked, name) for name in asked.question.claimed}
    resting = tuple(name for name, share in shares.items() if share > 0)
    if not resting:
        return {}
    again = ask(table, selection, only_stated=True)
    kept = tuple(name for name in resting if again.factor(name) is not None)
    question = replace(again.question, claimed=kept, everything=None)
    usual = {f.name: f.levels[f.reference] for f in asked.question.factors}
    return {
        (e.contrast.factor, e.contrast.level): StatedOnly(
            shares[e.contrast.factor], e.contrast.ratio, *e.contrast.interval()
        )
        for e in effects_of(question, bands_for(question.lives))
        if usual[e.contrast.factor] == e.contrast.reference
    }


def _by_method(table: LifeTable, asked: Asked, name: str) -> float:
    basis = table.columns[name].basis
    if basis is None:
        return 0.0
    of_lives = basis[asked.rows][asked.question.lives.watched]
    known = int((of_lives >= 0).sum())
    return float(np.count_nonzero(of_lives == BASIS_CODE["by_method"]) / known) if known else 0.0
