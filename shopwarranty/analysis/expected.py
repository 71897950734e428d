"""Failures expected of each place if its group were no better or worse than the whole.

The expectation comes from the interval-censored fit, in residual form: a life contributes
H(e, L) + [found](1 - D / (exp(D) - 1)) with D = H(L, R), so that observed minus expected is the
score of its group. Counting at the middle of intervals instead would make every young group look
bad and every old one good.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .arrays import FloatArray
from .bands import CHECK_BANDS, Bands
from .exposure import Lives
from .hazard import Fit, fit
from .patterns import Factor, Looks, Patterned, looks_of, packed_by


def expected_failures(lives: Lives, mix: Sequence[Factor] = (), bands: Bands = CHECK_BANDS) -> FloatArray:
    """Expected failures of each life, shape (n,); they sum to the failures found.

    `mix` are factors known to differ and no merit of the group (kind of place, for example); the
    whole is standardised for them. Raises hazard.NoFailures when nothing was found failing.
    """
    looks = looks_of(lives, bands)
    patterned = packed_by(looks, mix)
    return expected_under(looks, patterned, fit(patterned.packed))


def expected_under(looks: Looks, patterned: Patterned, found: Fit) -> FloatArray:
    """Expected failures of each life under a fit, shape (n,)."""
    by_day = looks.table @ np.exp(found.log_hazard)
    ratio = np.exp(patterned.packed.design @ found.log_ratio)[patterned.pattern]
    expected: FloatArray = ratio * (by_day[looks.last_clean] - by_day[looks.lives.entry])
    rows = looks.failures
    failing = ratio[rows] * (by_day[looks.lives.failed[rows]] - by_day[looks.last_clean[rows]])
    with np.errstate(over="ignore"):
        expected[rows] += 1.0 - np.where(failing > 0, failing / np.expm1(np.maximum(failing, 1e-300)), 1.0)
    return expected
