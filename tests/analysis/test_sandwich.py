"""Errors by vehicle: against refitting without each vehicle, and against the formulas written out."""

import numpy as np
import pytest
from scipy.stats import t as student

from shopwarranty.analysis.arrays import FloatArray
from shopwarranty.analysis.bands import CHECK_BANDS
from shopwarranty.analysis.exposure import clusters_from_zero
from shopwarranty.analysis.hazard import UNPENALISED, fit, likelihood
from shopwarranty.analysis.patterns import Factor, Looks, Patterned, looks_of, packed_by
from shopwarranty.analysis.sandwich import Errors, Vehicles, errors

from .worlds import late_world


def model(seed: int = 21) -> tuple[Looks, Patterned, Vehicles]:
    lives = late_world(seed, vehicles=40, rate=8e-4)
    factors = [
        Factor("panel", np.arange(len(lives)) % 3, ("a", "b", "c")),
        Factor("job", lives.cluster % 2, ("x", "y")),
    ]
    looks = looks_of(lives, CHECK_BANDS)
    return looks, packed_by(looks, factors), Vehicles(*clusters_from_zero(lives.cluster))


def pieces_written_out(vehicle: int) -> tuple[FloatArray, FloatArray]:
    """Score and information of one vehicle, from the likelihood of its lives alone."""
    looks, patterned, vehicles = model()
    found = fit(patterned.packed)
    rows = vehicles.number == vehicle
    factors = [
        Factor("panel", (np.arange(len(rows)) % 3)[rows], ("a", "b", "c")),
        Factor("job", (looks.lives.cluster % 2)[rows], ("x", "y")),
    ]
    alone = packed_by(looks_of(looks.lives.only(rows), CHECK_BANDS), factors).packed
    slope = likelihood(alone, found.theta)
    return slope.gradient, slope.information


def test_leaving_out_each_vehicle_is_the_written_out_formula() -> None:
    looks, patterned, vehicles = model()
    found = fit(patterned.packed)
    spread = errors(looks, patterned, found, vehicles, np.eye(7))
    shifts = []
    for vehicle in range(vehicles.count):
        score, information = pieces_written_out(vehicle)
        shifts.append(np.linalg.solve(found.information - information, score))
    expected = np.sqrt((vehicles.count - 1) / vehicles.count * (np.array(shifts) ** 2).sum(axis=0))
    np.testing.assert_allclose(spread.by_vehicle, expected, rtol=1e-9)


def test_degrees_of_freedom_are_satterthwaites_from_each_vehicles_share() -> None:
    looks, patterned, vehicles = model()
    found = fit(patterned.packed)
    spread = errors(looks, patterned, found, vehicles, np.eye(7))
    inverse = np.linalg.inv(found.information)
    shares = np.array([np.diag(inverse @ pieces_written_out(v)[1] @ inverse) for v in range(vehicles.count)])
    expected = np.maximum(shares.sum(axis=0) ** 2 / (shares**2).sum(axis=0), 3)
    np.testing.assert_allclose(spread.df, expected, rtol=1e-9)


def test_the_plain_sandwich_is_the_written_out_formula(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shopwarranty.analysis.sandwich.LEAVE_OUT_BELOW", 0)
    looks, patterned, vehicles = model()
    found = fit(patterned.packed)
    spread = errors(looks, patterned, found, vehicles, np.eye(7))
    inverse = np.linalg.inv(found.information)
    scores = np.array([pieces_written_out(v)[0] for v in range(vehicles.count)])
    covariance = inverse @ scores.T @ scores @ inverse * vehicles.count / (vehicles.count - 1)
    np.testing.assert_allclose(spread.by_vehicle, np.sqrt(np.diag(covariance)), rtol=1e-9)


def test_refitting_without_each_vehicle_gives_nearly_the_same_error() -> None:
    """The one-step jackknife stands in for the full one (MacKinnon and others 2023)."""
    looks, patterned, vehicles = model()
    found = fit(patterned.packed)
    spread = errors(looks, patterned, found, vehicles, np.eye(7))
    estimates = []
    for vehicle in range(vehicles.count):
        rows = vehicles.number != vehicle
        factors = [
            Factor("panel", (np.arange(len(rows)) % 3)[rows], ("a", "b", "c")),
            Factor("job", (looks.lives.cluster % 2)[rows], ("x", "y")),
        ]
        fewer = packed_by(looks_of(looks.lives.only(rows), CHECK_BANDS), factors).packed
        estimates.append(fit(fewer).theta - found.theta)
    jackknife = np.sqrt((vehicles.count - 1) / vehicles.count * (np.array(estimates) ** 2).sum(axis=0))
    np.testing.assert_allclose(spread.by_vehicle[4:], jackknife[4:], rtol=0.03)
    np.testing.assert_allclose(spread.by_vehicle[:4], jackknife[:4], rtol=0.15)


def test_every_vehicle_doubled_tells_nothing_new() -> None:
    """Copying each place inside its vehicle halves the model's variance but not the vehicles'."""
    looks, patterned, vehicles = model()
    twice = np.concatenate([np.arange(len(looks.lives))] * 2)
    lives = looks.lives.only(twice)
    factors = [
        Factor("panel", (np.arange(len(looks.lives)) % 3)[twice], ("a", "b", "c")),
        Factor("job", lives.cluster % 2, ("x", "y")),
    ]
    doubled_looks = looks_of(lives, CHECK_BANDS)
    doubled = packed_by(doubled_looks, factors)
    number = Vehicles(*clusters_from_zero(lives.cluster))
    one = errors(looks, patterned, fit(patterned.packed, UNPENALISED), vehicles, np.eye(7))
    two = errors(doubled_looks, doubled, fit(doubled.packed, UNPENALISED), number, np.eye(7))
    np.testing.assert_allclose(two.model / one.model, np.sqrt(0.5), rtol=1e-7)
    np.testing.assert_allclose(two.by_vehicle / one.by_vehicle, 1.0, rtol=1e-7)


def test_intervals_take_the_larger_error_and_students_t() -> None:
    spread = Errors(np.array([0.3, 0.1]), np.array([[0.2, 0.0], [0.0, 0.4]]), np.array([5.0, 60.0]))
    assert spread.half_width() == pytest.approx([0.3 * student.ppf(0.975, 5), 0.4 * student.ppf(0.975, 60)])
