"""The whole review: one pass from lives and factors to figures, effects, verdicts and notices."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from .bands import Bands, bands_for
from .curve import shares_failed
from .exposure import Lives
from .family import effects_of
from .groups import figures, whole_of
from .notices import notices_of
from .npmle import LateEntry, Mass, turnbull
from .questions import Question
from .results import Review

CUMULATIVE_DAYS = (14, 90, 365, 730)


def analyse(
    question: Question, *, seed: int, bands: Bands | None = None, share_days: Sequence[int] = ()
) -> Review:
    """Run the review. `share_days`: ages of the share failed within groups (none: left out, faster).

    `bands` of the hazard default to one for each planned check, or what the looks suggest. Raises
    nothing for thin data: what cannot be said is None, "cannot tell yet" or a notice.
    """
    lives = question.lives
    chosen = bands_for(lives) if bands is None else bands
    whole = whole_of(lives, question.named(question.mix), chosen)
    groups = tuple(
        (f.name, figures(whole, f.codes, f.levels, seed=seed + i, days=share_days))
        for i, f in enumerate(question.factors)
    )
    found = effects_of(question, chosen)
    review = Review(
        rows=len(lives),
        clusters=len(np.unique(lives.cluster)),
        failures=int(lives.found.sum()),
        edge_days=whole.edge_days,
        never_seen=len(lives) - len(whole.rows),
        npmle=_steps(lives),
        cumulative=tuple(s for s in shares_failed(lives, CUMULATIVE_DAYS) if s is not None),
        groups=groups,
        effects=found,
        notices=(),
    )
    return replace(review, notices=notices_of(question, review))


def _steps(lives: Lives) -> tuple[Mass, ...]:
    """Left out with late entry, where they are unstable; a notice says so."""
    try:
        return turnbull(lives)
    except LateEntry:
        return ()
