import numpy as np
import pytest

from shopwarranty.analysis.bands import CHECK_BANDS, CURVE_BANDS, Bands
from shopwarranty.analysis.curve import curve_of, design_effect_of, shares_failed
from shopwarranty.analysis.exposure import NEVER, lives_of
from shopwarranty.analysis.npmle import turnbull
from shopwarranty.analysis.proportions import upper_limit

from .worlds import constant_world, late_world


def test_days_in_bands_add_up_to_the_age() -> None:
    ages = np.array([0, 1, 30, 31, 180, 540, 541, 2000])
    days = CHECK_BANDS.days_by(ages)
    assert days.sum(axis=1).tolist() == ages.tolist()
    assert days[3].tolist() == [30, 1, 0, 0]
    np.testing.assert_array_equal(CHECK_BANDS.table(2000)[ages], days)


def test_bands_must_rise_from_above_zero() -> None:
    for cuts in ((0, 10), (10, 10), (20, 10)):
        with pytest.raises(ValueError, match="rise"):
            Bands(cuts)


def test_a_constant_hazard_is_found_again() -> None:
    """With 2e-4 a day 7.0 % have failed after a year (1 - exp(-0.073))."""
    lives = constant_world(41, vehicles=900, places=20)
    share = shares_failed(lives, [365])[0]
    assert share is not None
    assert share.estimate == pytest.approx(1 - np.exp(-2e-4 * 365), rel=0.07)
    assert share.low < 1 - np.exp(-2e-4 * 365) < share.high


def test_late_entry_does_not_bend_the_curve() -> None:
    lives = late_world(42, vehicles=900, places=20)
    share = shares_failed(lives, [365])[0]
    assert share is not None
    true = 1 - np.exp(-3e-4 * 365)
    assert share.low < true < share.high
    assert share.estimate == pytest.approx(true, rel=0.08)


def test_the_curve_agrees_with_the_steps_at_the_ages_of_checks() -> None:
    lives = constant_world(43, vehicles=900, places=20)
    steps = turnbull(lives)
    for share in shares_failed(lives, [14, 90, 365]):
        assert share is not None
        step = sum(m.mass for m in steps if m.until is not None and m.until <= share.day)
        assert share.estimate == pytest.approx(step, rel=0.12)


def test_nothing_is_said_beyond_the_oldest_look() -> None:
    lives = lives_of([0, 0, 0], [14, 90, 14], [90, NEVER, NEVER], [1, 2, 3])
    early, late = shares_failed(lives, [90, 91])
    assert early is not None
    assert late is None
    assert shares_failed(lives_of([0], [NEVER], [NEVER], [1]), [14]) == (None,)


def test_before_the_first_found_failure_only_a_limit_is_said() -> None:
    lives = constant_world(44, rate=6e-4)
    first = int(lives.failed[lives.found].min())
    before, after = shares_failed(lives, [first - 1, first])
    assert before is not None
    assert after is not None
    assert (before.limit_only, after.limit_only) == (True, False)
    assert before.low == 0.0
    assert before.high > before.estimate


def test_a_failure_found_later_may_have_happened_before_the_limits_day() -> None:
    """One of 100 found on day 90 and never seen before: on day 30 it may have failed already."""
    lives = lives_of([0] * 100, [90] * 99 + [NEVER], [NEVER] * 99 + [90], list(range(100)))
    share = shares_failed(lives, [30])[0]
    assert share is not None
    assert share.limit_only
    assert share.high == pytest.approx(upper_limit(1, 100), rel=0.01)


def test_without_any_failure_the_given_design_effect_widens_the_limit() -> None:
    """Rule of three: none of 100 is limited to about 3 %, to about 6 % when places count half."""
    lives = lives_of([0] * 100, [90] * 100, [NEVER] * 100, list(range(100)))
    plain = shares_failed(lives, [90], design_effect=1.0)[0]
    halved = shares_failed(lives, [90], design_effect=2.0)[0]
    assert plain is not None
    assert halved is not None
    assert (plain.estimate, plain.limit_only, plain.seen) == (0.0, True, 100)
    assert plain.high == pytest.approx(0.0295, abs=5e-5)
    assert halved.high == pytest.approx(0.0582, abs=5e-5)


def test_shares_rise_with_age_and_lie_inside_their_intervals() -> None:
    days = [14, 30, 90, 180, 365, 730]
    shares = [s for s in shares_failed(constant_world(45, rate=6e-4), days) if s is not None]
    estimates = [s.estimate for s in shares]
    assert estimates == sorted(estimates)
    assert all(0 <= s.low <= s.estimate <= s.high <= 1 for s in shares)


def test_places_that_share_a_vehicle_entirely_count_as_one() -> None:
    """Twelve copies of one place on each vehicle: a design effect near twelve."""
    one = constant_world(46, vehicles=400, places=1, rate=6e-4)
    twelve = one.only(np.repeat(np.arange(len(one)), 12))
    assert design_effect_of(twelve) == pytest.approx(12, rel=0.25)
    assert design_effect_of(one) == pytest.approx(1, abs=0.15)


def test_a_single_vehicle_still_gets_an_honest_wide_interval() -> None:
    lives = lives_of([0] * 10, [14] * 9 + [NEVER], [NEVER] * 9 + [14], [7] * 10)
    share = shares_failed(lives, [14])[0]
    assert share is not None
    assert share.low < 0.02
    assert share.high > 0.5


def test_the_variance_of_the_curve_follows_from_the_delta_method() -> None:
    """One band: log H(t) is the log hazard plus a constant, so its error is that of the log hazard."""
    lives = constant_world(47, rate=6e-4)
    single = Bands(())
    curve = curve_of(lives, [90, 365], single)
    assert curve.half_widths[0] == pytest.approx(curve.half_widths[1], rel=1e-12)
    assert CURVE_BANDS.count == 10
