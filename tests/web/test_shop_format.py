"""Dates, times and quantities read as the shop reads them."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from decimal import Decimal

import pytest
from django.template import engines
from django.utils import translation

from shopwarranty.web import formats


@dataclass(frozen=True, slots=True)
class Reader:
    time_zone: str
    units: str


US = Reader("America/New_York", "us")
METRIC = Reader("Europe/Berlin", "metric")
AFTERNOON = datetime(2026, 11, 25, 18, 30, tzinfo=UTC)


def show(source: str, **values: object) -> str:
    text = engines["django"].from_string("{% load shop_format %}" + source).render(values)
    return text.replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("form", "us", "metric"),
    [
        ("shop_date", "November 25, 2026", "25 November 2026"),
        ("shop_day", "November 25", "25 November"),
        ("shop_weekday", "Wednesday, November 25", "Wednesday 25 November"),
        ("shop_short_day", "Wed Nov 25", "Wed 25 Nov"),
        ("shop_time", "1:30 pm", "19:30"),
    ],
)
def test_a_moment_reads_in_the_order_of_the_shop(form: str, us: str, metric: str) -> None:
    assert show(f"{{{{ at|{form}:shop }}}}", at=AFTERNOON, shop=US) == us
    assert show(f"{{{{ at|{form}:shop }}}}", at=AFTERNOON, shop=METRIC) == metric


def test_a_day_is_the_day_in_the_shops_zone() -> None:
    late = datetime(2026, 11, 26, 2, 0, tzinfo=UTC)  # still the 25th in New York, already the 26th in Berlin
    assert formats.full_date(late, US) == "November 25, 2026"
    assert formats.full_date(late, METRIC) == "26 November 2026"
    assert formats.full_date(date(2026, 11, 25), METRIC) == "25 November 2026"


@pytest.mark.parametrize(
    ("at", "us"), [(time(0, 5), "12:05 am"), (time(12, 0), "12:00 pm"), (time(23, 59), "11:59 pm")]
)
def test_noon_and_midnight_are_told_apart(at: time, us: str) -> None:
    assert formats.clock(at, US).replace("\u00a0", " ") == us
    assert formats.clock(at, METRIC) == f"{at:%H:%M}"


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"),
    # NIST SP 811 (2008), appendix B: t/F = 1.8 t/C + 32, exact. Water, and where both meet.
    [(0, "32"), (100, "212"), (-40, "\u221240"), (20, "68"), (37, "99"), (Decimal("36.9"), "98")],
)
def test_temperatures_follow_the_defined_conversion(celsius: int | Decimal, fahrenheit: str) -> None:
    assert formats.temperature(celsius, US) == formats.Quantity(fahrenheit, "°F")


def test_a_difference_of_temperatures_gets_no_offset() -> None:
    assert formats.temperature_gap(10, US) == formats.Quantity("18", "°F")
    assert formats.temperature_gap(Decimal("2.5"), METRIC) == formats.Quantity("2.5", "°C")


@pytest.mark.parametrize(
    ("mm", "us"),
    # NIST SP 811 (2008), appendix B: 1 in = 25.4 mm, exact.
    [(25.4, "1"), (8, "0.31"), (14, "0.55"), (2.54, "0.1"), (1320.8, "52"), (1092.2, "43"), (0, "0")],
)
def test_lengths_follow_the_defined_inch(mm: float, us: str) -> None:
    assert formats.short_length(mm, US) == formats.Quantity(us, "in")


def test_a_roll_reads_in_feet_or_metres() -> None:
    # Common practice, no source: a roll is 60 ft long. NIST SP 811: 1 ft = 0.3048 m, exact.
    assert formats.long_length(18288, US) == formats.Quantity("60", "ft")
    assert formats.long_length(18288, METRIC) == formats.Quantity("18.29", "m")


def test_the_unit_stands_small_after_the_number() -> None:
    html = show("{{ 20|temperature:shop }}", shop=US)
    assert html == '<span class="nowrap" dir="ltr">68 <span class="unit">°F</span></span>'


@pytest.mark.parametrize("form", ["temperature", "length_mm", "shop_date", "shop_time", "length_long"])
def test_what_nobody_recorded_is_said_and_is_not_zero(form: str) -> None:
    html = show(f"{{{{ value|{form}:shop }}}}", value=None, shop=US)
    assert html == '<span class="not-recorded">Not recorded</span>'
    assert "Not recorded" not in show("{{ value|temperature:shop }}", value=0, shop=US)


def test_yes_no_and_unknown_stay_three_answers() -> None:
    assert [show("{{ v|yes_no_recorded }}", v=v) for v in (True, False)] == ["Yes", "No"]
    assert "Not recorded" in show("{{ v|yes_no_recorded }}", v=None)
    assert show("{{ v|recorded }}", v=0) == "0"


def test_a_language_with_a_decimal_comma_gets_one() -> None:
    with translation.override("de"):
        assert formats.short_length(Decimal("2.5"), METRIC).number == "2,5"
