"""A trial finds a doubling with fewer vehicles than watching ordinary work: a small seeded version."""

from dataclasses import replace

from shopwarranty.analysis.trial_sequence import Said
from tests.bench import calibration
from tests.bench.trial_power import EARLY, OWN_CHECKS, by_jobs, by_pairs, found_by, rounds


def test_a_trial_of_a_hundred_vehicles_finds_what_the_review_of_a_hundred_does_not() -> None:
    shop = replace(EARLY, vehicles=100)
    trial = found_by(lambda seed, run: by_pairs(shop, 5, OWN_CHECKS, seed, run), 40, 5)
    review = calibration.doubling(shop, "heated", 6, 5)
    assert trial[Said.MORE] >= 0.7 * 40
    assert trial[Said.FEWER] == 0
    assert review.called.mean <= 0.5


def test_alike_arms_are_rarely_told_apart_by_any_design() -> None:
    shop = replace(EARLY, heat_ratio=1.0, vehicles=300)
    pairs = found_by(lambda seed, run: by_pairs(shop, 1, OWN_CHECKS, seed, run), 60, 6)
    jobs = found_by(lambda seed, run: by_jobs(shop, seed, run), 20, 6)
    assert pairs[Said.MORE] + pairs[Said.FEWER] <= 9  # 3 expected at 5 %
    assert jobs[Said.MORE] + jobs[Said.FEWER] <= 5


def test_every_round_of_the_large_version_has_a_name_of_its_own() -> None:
    names = [each.name for each in rounds()]
    assert len(set(names)) == len(names)
