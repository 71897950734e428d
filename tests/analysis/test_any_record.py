"""Whatever a small record looks like, the review neither stumbles nor says what cannot be."""

import json
import warnings

import numpy as np
import pytest

from shopwarranty.analysis.exposure import LivesError, lives_of
from shopwarranty.analysis.questions import Question, factor_of
from shopwarranty.analysis.results import Review
from shopwarranty.analysis.review import analyse
from shopwarranty.analysis.review_json import to_json

AGES = (3, 20, 400, 3000, 36_000)


def any_question(seed: int) -> Question | None:
    """Few lives or some dozens; one vehicle or many; nothing failing, or everything; odd ages; gaps."""
    rng = np.random.default_rng(seed)
    size, top = int(rng.integers(1, 60)), int(rng.choice(AGES))
    entry = np.where(rng.random(size) < rng.choice([0, 0.3]), rng.integers(0, top, size), 0)
    clean = np.where(rng.random(size) < 0.7, np.minimum(entry + rng.integers(0, top, size), 36_500), -1)
    later = np.maximum(entry, clean) + 1 + rng.integers(0, top, size)
    fails = rng.random(size) < rng.choice([0.0, 0.02, 0.3, 1.0])
    try:
        cluster = rng.integers(0, rng.choice([1, 2, 8, 60]), size)
        lives = lives_of(entry, clean, np.where(fails, np.minimum(later, 36_525), -1), cluster)
    except LivesError:
        return None
    factors = tuple(
        factor_of(f"f{i}", rng.integers(-int(rng.random() < 0.3), k, size), [f"l{j}" for j in range(k)])
        for i, k in enumerate(rng.integers(1, 6, 4))
    )
    adjustment = ("f2", "f3") if rng.random() < 0.6 else ()
    everything = lives if rng.random() < 0.2 else None
    return Question(lives, factors, ("f0", "f1", "f2"), adjustment, ("f3",), everything)


@pytest.mark.parametrize("start", range(0, 400, 100))
def test_any_small_record_is_reviewed_without_a_stumble(start: int) -> None:
    for seed in range(start, start + 100):
        question = any_question(seed)
        if question is None:
            continue
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            review = analyse(question, seed=1, share_days=(14, 365))
        nothing_impossible(review)
        json.loads(to_json(review))


def nothing_impossible(review: Review) -> None:
    for effect in review.effects:
        low, high = effect.contrast.interval()
        assert 0 <= low <= effect.contrast.ratio <= high
        assert 0 <= effect.contrast.p <= effect.q + 1e-12 <= effect.holm + 2e-12 <= 1 + 3e-12
        assert (effect.more_edges is None) == effect.verdict.settled
    for _, figures in review.groups:
        assert sum(f.edges for f in figures) == review.rows - review.never_seen
        for figure in figures:
            assert figure.vehicles_failed <= figure.vehicles <= max(figure.edges, 0)
            assert figure.p_worst3 is None or 0 <= figure.p_worst3 <= 1
            for share in figure.shares:
                assert share is None or 0 <= share.low <= share.estimate <= share.high <= 1
    assert sum(m.mass for m in review.npmle) == pytest.approx(1, abs=1e-4) or not review.npmle


def test_two_hundred_thousand_days_of_one_place_are_refused_and_a_century_is_not() -> None:
    with pytest.raises(LivesError, match="century"):
        lives_of([0], [200_000], [-1], [1])
    assert len(lives_of([0], [36_525], [-1], [1])) == 1
