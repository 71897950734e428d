"""Dew point against a printed table, the humid-air formulation and the formula's own values."""

import json
from pathlib import Path

import pytest

from shopwarranty.trade.dew_point import dew_point_c, margin

CASE = json.loads(
    (Path(__file__).parents[2] / "fixtures/reference/m_open_dewpoint.json").read_text(encoding="utf-8")
)
ROWS = CASE["expected"]["rows"]
TOLERANCE = CASE["tolerance"]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['t']:g} C {row['rh']:g} %")
def test_dew_point_agrees_with_the_table_the_humid_air_formulation_and_the_formula(
    row: dict[str, float],
) -> None:
    # Sources stand in the case file: a printed trade table (as in DIN 4108-5), ASHRAE RP-1485 by CoolProp,
    # Alduchov and Eskridge 1996.
    found = dew_point_c(row["t"], row["rh"])
    assert found == pytest.approx(row["published"], abs=TOLERANCE["published"])
    assert found == pytest.approx(row["reference"], abs=TOLERANCE["reference"])
    assert found == pytest.approx(row["magnus_alduchov_eskridge"], abs=TOLERANCE["magnus"])


@pytest.mark.parametrize(
    ("air", "humidity", "expected"),
    [
        (20, 50, 9.3),
        (22, 60, 13.9),
        (25, 40, 10.5),
        (18, 70, 12.4),
        (15, 85, 12.5),
        (25, 65, 18.0),
        (30, 75, 25.1),
        (10, 90, 8.4),
    ],
)
def test_values_computed_with_the_other_common_constants_agree_to_a_tenth(
    air: float, humidity: float, expected: float
) -> None:
    # Computed with 17.62 and 243.12 (WMO Guide No. 8, from memory).
    assert round(dew_point_c(air, humidity), 1) == expected


def test_a_vehicle_brought_in_from_the_cold_gets_wet() -> None:  # computed
    cold, warm = margin(8, 20, 50), margin(15, 20, 50)
    assert cold is not None
    assert warm is not None
    assert (round(cold.margin_c, 1), cold.condenses) == (-1.3, True)
    assert (round(warm.margin_c, 1), warm.condenses) == (5.7, False)


def test_a_margin_the_shop_does_not_ask_for_is_never_missed() -> None:
    found = margin(11, 20, 50)
    assert found is not None
    assert found.is_less_than(3)
    assert not found.is_less_than(None)


def test_a_reading_that_was_not_taken_gives_no_margin() -> None:
    assert margin(None, 20, 50) is None
    assert margin(20, None, 50) is None
    assert margin(20, 20, None) is None
    assert margin(20, 20, 140) is None


def test_saturated_air_has_its_own_temperature_as_dew_point() -> None:
    assert dew_point_c(17.3, 100) == pytest.approx(17.3)


def test_more_humidity_never_lowers_the_dew_point() -> None:
    points = [dew_point_c(20, humidity) for humidity in range(1, 101)]
    assert points == sorted(points)


@pytest.mark.parametrize(("air", "humidity"), [(20, 0), (20, 140), (20, -1), (-41, 50), (61, 50)])
def test_impossible_air_is_refused(air: float, humidity: float) -> None:
    with pytest.raises(ValueError, match=r"C|%"):
        dew_point_c(air, humidity)
