"""Claims by age and what is still to come. The worked example (constructed data, Poisson fit of R 4.2.2)
follows Kalbfleisch, Lawless and Robinson (1991) Technometrics 33:273-285; its file says how it was made."""

from typing import Any

import numpy as np
import pytest
from scipy.stats import chi2, gamma, nbinom, poisson

from shopwarranty.analysis.claim_rates import (
    Band,
    Events,
    Watched,
    bands_with,
    by_age,
    dispersion,
    month_table,
    months,
    poisson_interval,
    poisson_variance_of,
    rates_by,
)
from shopwarranty.analysis.forecast import (
    CannotTell,
    Counted,
    amount_interval,
    cost_of,
    count_interval,
    counted,
    forecast,
    time_ahead,
)
from shopwarranty.analysis.proportions import Interval
from shopwarranty.analysis.reporting import EVERYTHING_REPORTED, check_ages, reported_share, round_dates
from tests.bench.promise_shops import LAWS, coverage, play

from .reference import case


def example() -> tuple[Watched, Events, Any]:
    """Every unit sold as a job of its own vehicle; six monthly cohorts, the oldest watched for six months."""
    found = case("l_open_warranty_rate")
    sold, claims = found["data"]["sold"], [np.atleast_1d(c) for c in found["data"]["claims"]]
    cohort = np.repeat(np.arange(len(sold)), sold)
    first = np.r_[0, np.cumsum(sold)[:-1]]
    job = [first[x] + n for x, row in enumerate(claims) for count in row for n in range(count)]
    age = [a + 0.5 for row in claims for a, count in enumerate(row) for _ in range(count)]
    until = (len(sold) - cohort).astype(float)
    never = np.zeros(len(cohort), dtype=bool)
    watched = Watched(0 * until, until, never, 0 * until + 6.0, 0 * until, np.arange(len(cohort)))
    return watched, Events(np.array(job), np.array(age)), found


def test_rates_by_month_of_age_are_those_of_the_published_method() -> None:
    watched, events, found = example()
    expected, tolerance = found["expected"], found["tolerance"]
    rates = rates_by(watched, events, months(watched))
    assert [one.events for one in rates] == expected["claims_by_age"]
    assert [one.exposure for one in rates] == pytest.approx(expected["exposure"])
    assert [one.rate for one in rates] == pytest.approx(expected["rate"], abs=tolerance["rate"])


def test_what_is_still_to_come_and_its_spread_are_those_of_the_published_method() -> None:
    watched, events, found = example()
    expected, tolerance = found["expected"], found["tolerance"]
    table = month_table(watched, events, months(watched))
    ahead = time_ahead(watched, months(watched), 6.0, leaving=0.0)
    said = counted(table, ahead, level=0.9, by_vehicle=False)
    assert said.mean == pytest.approx(expected["forecast_remaining_total"], abs=tolerance["forecast"])
    assert said.sd_rates == pytest.approx(expected["forecast_sd_estimation"], abs=tolerance["sd"])
    assert said.sd == pytest.approx(expected["forecast_sd_prediction"], abs=tolerance["sd"])
    for cohort, remaining in expected["forecast_remaining_by_cohort"].items():
        of_cohort = watched.until == len(found["data"]["sold"]) + 1 - int(cohort)
        mine = ahead.months[of_cohort] @ table.rates
        assert mine.sum() == pytest.approx(remaining, abs=tolerance["forecast"])


def test_rates_add_up_over_the_ages_as_in_the_published_method() -> None:
    watched, events, found = example()
    expected, tolerance = found["expected"], found["tolerance"]
    for upto, (total, error) in enumerate(zip(expected["cum_rate"], expected["se_cum_rate"], strict=True), 1):
        said = by_age(watched, events, upto)
        assert said is not None and said.mean == pytest.approx(total, abs=tolerance["rate"])
        table = month_table(watched, events, months(watched))
        ones = np.where(np.arange(6) < upto, 1.0, 0.0)
        assert poisson_variance_of(table, ones) ** 0.5 == pytest.approx(error, abs=tolerance["sd"])
    assert by_age(watched, events, 7) is None


def test_a_rate_has_the_exact_poisson_limits() -> None:
    """By quantiles of chi-square, as Garwood (1936) writes them: another route than ours."""
    for count in (0, 1, 7, 40):
        low = chi2.ppf(0.025, 2 * count) / 2 if count else 0.0
        high = chi2.ppf(0.975, 2 * count + 2) / 2
        found = poisson_interval(count, 50.0)
        assert (found.low, found.high) == pytest.approx((low / 50, high / 50))


def test_a_vehicle_that_claims_again_and_again_widens_every_interval() -> None:
    watched = watch(30, months_watched=6.0)
    spread = Events(np.arange(12), np.full(12, 2.5))
    one_only = Events(np.zeros(12, dtype=int), np.full(12, 2.5))
    bands = months(watched)
    assert dispersion(month_table(watched, spread, bands)) == 1.0
    assert dispersion(month_table(watched, one_only, bands)) > 5
    even, uneven = (rates_by(watched, events, months(watched))[2] for events in (spread, one_only))
    assert even.rate == uneven.rate
    assert even.interval and uneven.interval and uneven.interval.high > 1.3 * even.interval.high


def watch(jobs: int, months_watched: float, **more: Any) -> Watched:
    """Each job on a vehicle of its own, in service since handover."""
    values = {
        "entry": np.zeros(jobs),
        "until": np.full(jobs, months_watched),
        "left": np.zeros(jobs, dtype=bool),
        "ends": np.full(jobs, np.inf),
        "ago": np.zeros(jobs),
        "vehicle": np.arange(jobs),
        **more,
    }
    return Watched(**values)


def test_a_job_counts_from_when_its_record_begins_to_when_it_left() -> None:
    entry, until = np.array([0.0, 2.5, 0.0]), np.array([3.0, 4.0, 1.25])
    watched = watch(3, 0, entry=entry, until=until, left=np.array([False, False, True]))
    exposure = [
        one.exposure for one in rates_by(watched, Events(np.array([], int), np.array([])), months(watched))
    ]
    assert exposure == pytest.approx([2.0, 1.25, 1.5, 1.0])


def test_what_happened_outside_the_watched_time_counts_nowhere() -> None:
    watched = watch(2, 0, entry=np.array([2.0, 0.0]), until=np.array([4.0, 1.0]))
    events = Events(np.array([0, 0, 1, 1]), np.array([1.0, 3.0, 0.5, 2.0]))
    assert [one.events for one in rates_by(watched, events, months(watched))] == [1, 0, 0, 1]


def test_a_month_nobody_was_watched_in_has_no_rate() -> None:
    watched = watch(2, 0, entry=np.array([2.0, 2.0]), until=np.array([4.0, 4.0]))
    first, _second, third, _fourth = rates_by(
        watched, Events(np.array([0]), np.array([2.5])), months(watched)
    )
    assert first.rate is None and first.interval is None
    assert third.rate == pytest.approx(0.5)


def test_columns_that_do_not_fit_are_refused() -> None:
    with pytest.raises(ValueError, match="length"):
        watch(2, 1.0, until=np.array([1.0]))
    with pytest.raises(ValueError, match="before"):
        watch(1, 1.0, entry=np.array([2.0]))


def test_months_are_put_together_until_each_band_holds_enough() -> None:
    found = np.array([6.0, 1.0, 2.0, 1.0, 1.0, 0.0, 2.0])
    assert bands_with(found, 5) == (Band(0, 1), Band(2, None))
    assert bands_with(np.array([1.0, 1.0, 5.0]), 5) == (Band(0, None),)
    assert bands_with(np.array([0.0, 0.0]), 5) == (Band(0, None),)
    every: Any = bands_with(found, 0)
    assert len(every) == 7


def test_delays_are_corrected_for_not_having_had_time_to_be_longer() -> None:
    """Exponential delays seen for at most 60 days: the plain share within 20 days is too large."""
    rng = np.random.default_rng(5)
    could = rng.integers(0, 61, 40_000)
    delay = rng.exponential(30.0, 40_000).astype(int)
    seen = delay <= could
    share = reported_share(delay[seen], could[seen]).by(np.array([20.0]))[0]
    truth = (1 - np.exp(-21 / 30)) / (1 - np.exp(-61 / 30))
    assert share == pytest.approx(truth, abs=0.02)
    assert (delay[seen] <= 20).mean() > truth + 0.1


def test_a_few_delays_say_nothing_about_the_others() -> None:
    assert reported_share(np.full(19, 3), np.full(19, 90)) is EVERYTHING_REPORTED
    assert reported_share(np.zeros(50, dtype=int), np.full(50, 90)) is EVERYTHING_REPORTED
    with pytest.raises(ValueError, match="delay"):
        reported_share(np.array([5]), np.array([3]))


def test_dates_given_by_heart_are_seen() -> None:
    days = np.array([1] * 9 + [15] * 6 + list(range(2, 27)))
    assert round_dates(days).is_heaped
    assert not round_dates(np.arange(1, 29)).is_heaped
    assert not check_ages(np.array([])).is_heaped
    assert check_ages(np.r_[np.full(9, 14.0), np.arange(30.0, 300.0, 30.0)]).is_heaped


def test_too_thin_a_record_says_what_is_missing() -> None:
    ages = np.linspace(1.0, 24.0, 40)
    few = forecast(watch(40, 0.0, until=ages), Events(np.arange(9), np.full(9, 0.5)))
    assert few.counted is None and few.why == (CannotTell.FEW_EVENTS,)
    one_vehicle = Events(np.zeros(20, dtype=int), np.full(20, 1.0))
    assert forecast(watch(40, 0.0, until=ages), one_vehicle).why == (CannotTell.FEW_VEHICLES,)
    young = forecast(watch(40, 2.0), Events(np.arange(20), np.full(20, 1.0)))
    assert young.counted is None and CannotTell.TOO_YOUNG in young.why
    gone = watch(40, 12.0, left=np.ones(40, dtype=bool))
    assert CannotTell.NONE_IN_SERVICE in forecast(gone, Events(np.arange(20), np.full(20, 1.0))).why
    nothing = watch(0, 0.0)
    empty = forecast(nothing, Events(np.array([], int), np.array([])))
    assert empty.counted is None and empty.in_service == 0


def test_nothing_is_forecast_beyond_the_end_of_a_promise() -> None:
    events = Events(np.arange(20), np.linspace(0.1, 11.9, 20))
    ends = np.full(40, 15.0)
    said = forecast(watch(40, 12.0, ends=ends), events)
    assert said.ahead == pytest.approx(40 * 3.0)


def test_a_count_has_the_ends_of_a_negative_binomial_and_an_amount_of_a_gamma() -> None:
    size, share = 20.0**2 / (50.0 - 20.0), 20.0 / 50.0
    expected = nbinom.ppf([0.05, 0.95], size, share)
    assert count_interval(20.0, 50.0, 0.9) == Interval(*expected)
    assert count_interval(3.0, 3.0, 0.9) == Interval(*poisson.ppf([0.05, 0.95], 3.0))
    amount = amount_interval(100.0, 2500.0, 0.9)
    assert (amount.low, amount.high) == pytest.approx(gamma.ppf([0.05, 0.95], 4.0, scale=25.0))


def test_a_cost_nobody_recorded_is_not_taken_for_nothing() -> None:
    found = Counted(10.0, 2.0, 4.0, Interval(4.0, 17.0), 0.0)
    costs = np.array([50.0] * 6 + [150.0] * 6)
    cost = cost_of(found, costs, 30)
    assert cost is not None and cost.mean == pytest.approx(1000.0)
    assert (cost.recorded, cost.of) == (12, 30)
    assert cost_of(found, costs[:9], 12) is None
    assert cost_of(found, costs, 40) is None


def test_the_interval_holds_the_truth_of_simulated_shops() -> None:
    """A small round; `.ci/long forecast` plays a thousand of each law."""
    found = coverage(LAWS["vehicles differ, 400 jobs"], seed=4, runs=120)
    assert found.told == 120
    assert found.reached


def test_the_same_seed_plays_the_same_shop() -> None:
    law = LAWS["thin, 120 jobs"]
    assert play(law, 9) == play(law, 9)
