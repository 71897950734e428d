"""Drift: the recursion written out, published run lengths, and a limit that keeps its promise."""

import numpy as np
import pytest

from shopwarranty.analysis.drift import cusum, limit_for

from .reference import case


def test_the_path_is_the_recursion_written_out() -> None:
    rng = np.random.default_rng(91)
    observed, expected = rng.poisson(0.8, 60).astype(float), rng.uniform(0.3, 1.2, 60)
    path, level = [], 0.0
    for o, e in zip(observed, expected, strict=True):
        level = max(0.0, level + o * np.log(2) - e)
        path.append(level)
    found = cusum(observed, expected, limit=2.0)
    np.testing.assert_allclose(found.path, path, atol=1e-12)
    over = [i for i, w in enumerate(path) if w >= 2.0]
    assert found.signal == (over[0] if over else None)


def test_run_lengths_of_poisson_charts_are_the_published_ones() -> None:
    """S = max(0, S + x - k) with a signal above h is W with h ln m, k = (m - 1) mu / ln m.

    Average run lengths after Lucas (1985): within three standard errors of 4,000 simulated streams.
    """
    rng = np.random.default_rng(92)
    for row in case("j_open_cusum_arl")["expected"]["poisson"][:2]:
        times = _times_for(row["k"] / row["mu"])
        limit = (row["h"] + 1e-9) * np.log(times)
        expected = np.full(6000, float(row["mu"]))
        streams = (rng.poisson(row["mu"], 6000).astype(float) for _ in range(2500))
        signals = [cusum(stream, expected, limit, times).signal for stream in streams]
        lengths = np.array([6000 if s is None else s + 1 for s in signals])
        assert lengths.mean() == pytest.approx(row["arl"], abs=3 * lengths.std() / np.sqrt(2500))


def _times_for(ratio: float) -> float:
    """The multiple m whose reference value (m - 1) / ln m is this ratio."""
    from scipy.optimize import brentq

    return float(brentq(lambda m: (m - 1) / np.log(m) - ratio, 1.0001, 50))


def test_the_simulated_limit_is_reached_by_about_one_stream_in_ten() -> None:
    expected = np.full(300, 0.12)
    limit = limit_for(expected, 0.45, seed=1)
    rng = np.random.default_rng(93)
    ratio = rng.gamma(1 / 0.45, 0.45, (3000, 300))
    reached = [
        cusum(row.astype(float), expected, limit).signal is not None for row in rng.poisson(ratio * expected)
    ]
    assert np.mean(reached) == pytest.approx(0.10, abs=0.025)


def test_a_limit_for_independent_failures_would_be_too_low() -> None:
    expected = np.full(300, 0.6)
    assert limit_for(expected, 0.45, seed=1) > 1.15 * limit_for(expected, 0.0, seed=1)


def test_the_same_seed_gives_the_same_limit() -> None:
    expected = np.full(100, 0.2)
    assert limit_for(expected, 0.4, seed=5) == limit_for(expected, 0.4, seed=5)


def test_a_stream_that_doubles_signals_sooner_than_one_that_does_not() -> None:
    rng = np.random.default_rng(94)
    expected = np.full(400, 0.3)
    limit = limit_for(expected, 0.45, seed=2)
    signals = [cusum(rng.poisson(0.6, 400).astype(float), expected, limit).signal for _ in range(200)]
    assert np.mean([s is not None for s in signals]) > 0.9
