"""Typed temperatures and lengths, and doubts about them. Conversions: NIST SP 811, appendix B (exact)."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopwarranty.trade import units
from shopwarranty.trade.readings import DoubtKind, Quantity, doubts
from shopwarranty.trade.units import NotAMeasure, Unit

C, F = Unit.CELSIUS, Unit.FAHRENHEIT


@pytest.mark.parametrize(
    ("typed", "default", "unit", "stored"),
    [
        ("68 F", C, F, 20.0),
        ("20C", F, C, 20.0),
        ("20", C, C, 20.0),
        ("68", F, F, 20.0),
        ("20,5", C, C, 20.5),
        ("20.5 °C", F, C, 20.5),
        ("−5 °C", C, C, -5.0),
        ("-40", F, F, -40.0),
        ("212 degF", C, F, 100.0),
        (" 68\u00a0°F ", C, F, 20.0),
        ("68°", F, F, 20.0),
    ],
)
def test_temperatures_are_read_as_typed(typed: str, default: Unit, unit: Unit, stored: float) -> None:
    read = units.temperature(typed, default)
    assert (read.unit, read.stored) == (unit, stored)
    assert read.text == typed.strip()


@pytest.mark.parametrize(
    ("f", "c"),
    [(60, 15.6), (68, 20.0), (80, 26.7), (90, 32.2), (194, 90.0), (200, 93.3), (203, 95.0), (212, 100.0)],
)
def test_fahrenheit_converts_to_the_tabled_celsius(f: float, c: float) -> None:  # computed
    assert round(units.celsius(f, F), 1) == c
    assert units.fahrenheit(units.celsius(f, F)) == pytest.approx(f, abs=1e-9)


@pytest.mark.parametrize(
    ("typed", "default", "mm"),
    [
        ("0,3 in", Unit.MM, 7.62),
        ("0.3", Unit.INCH, 7.62),
        ("8", Unit.MM, 8.0),
        ("8mm", Unit.INCH, 8.0),
        ("1/4 in", Unit.MM, 6.35),
        ("1 1/4 in", Unit.MM, 31.75),
        ("1½ in", Unit.MM, 38.1),
        ('60"', Unit.MM, 1524.0),
        ("60 ft", Unit.MM, 18288.0),
        ("100 ft", Unit.MM, 30480.0),
        ("72 in", Unit.MM, 1828.8),
        ("1.52 m", Unit.MM, 1520.0),
        ("2,5 cm", Unit.INCH, 25.0),
        ("0,125", Unit.INCH, 3.175),
        (".5 in", Unit.MM, 12.7),
        ("5.", Unit.MM, 5.0),
        ("1524,5", Unit.MM, 1524.5),
    ],
)
def test_lengths_are_read_as_typed(typed: str, default: Unit, mm: float) -> None:
    assert units.span(typed, default).stored == mm


@pytest.mark.parametrize(
    ("typed", "reason"),
    [
        ("", "Type a number"),
        ("warm", "Type a number"),
        ("20 K", "K is not a unit"),
        ("20 mm", "Type it in C or F"),
        ("1,234 C", r"Type 1234 or 1\.234"),
        ("2 0 C", "Type a number"),
        ("1.2.3", "Type a number"),
        ("68/0 F", "0 below the line"),
        ("--5", "Type a number"),
        ("9" * 400, "fewer digits"),
    ],
)
def test_what_cannot_be_read_is_refused_with_a_reason_and_kept(typed: str, reason: str) -> None:
    with pytest.raises(NotAMeasure, match=reason) as refused:
        units.temperature(typed, C)
    assert refused.value.typed == typed


def test_a_comma_before_three_digits_is_not_guessed() -> None:
    with pytest.raises(NotAMeasure, match=r"Type 1524 or 1\.524"):
        units.span("1,524 mm", Unit.MM)


def test_a_length_below_zero_and_a_humidity_above_100_are_refused() -> None:
    with pytest.raises(NotAMeasure, match="not below 0"):
        units.span("-3 mm", Unit.MM)
    with pytest.raises(NotAMeasure, match="between 0 and 100"):
        units.humidity("140")
    assert units.humidity("46 %").stored == 46


@given(st.decimals(min_value=0, max_value=99999, places=3), st.sampled_from(["mm", "cm", "m", "in", "ft"]))
def test_any_length_comes_back_in_the_unit_it_was_typed_in(number: object, unit: str) -> None:
    read = units.span(f"{number} {unit}", Unit.MM)
    assert units.out_of_mm(read.stored, Unit(unit)) == pytest.approx(float(str(number)), rel=1e-12, abs=1e-12)


@given(st.text(alphabet=st.characters() | st.sampled_from("0123456789.,/ -CFinmft°"), max_size=20))
def test_any_text_is_either_read_as_a_number_or_refused(text: str) -> None:
    for read, default in ((units.temperature, C), (units.span, Unit.MM)):
        with suppress(NotAMeasure):
            assert isinstance(read(text, default).stored, float)


@pytest.mark.parametrize(
    ("quantity", "typed", "meant", "stored"),
    [
        (Quantity.HEAT, "203 C", F, 95.0),
        (Quantity.HEAT, "95 F", C, 95.0),
        (Quantity.HEAT, "194 C", F, 90.0),
        (Quantity.AIR, "68 C", F, 20.0),
        (Quantity.AIR, "46 C", F, 7.8),
        (Quantity.AIR, "20 F", C, 20.0),
        (Quantity.SURFACE, "64 C", F, 17.8),
    ],
)
def test_a_number_plausible_only_in_the_other_unit_is_asked_about(
    quantity: Quantity, typed: str, meant: Unit, stored: float
) -> None:
    (doubt,) = doubts(quantity, units.temperature(typed, C))
    assert (doubt.kind, doubt.words, doubt.meant) == (DoubtKind.OTHER_UNIT, "C or F?", meant)
    assert doubt.meant_stored == pytest.approx(stored, abs=0.05)


@pytest.mark.parametrize(
    ("quantity", "typed"),
    [
        (Quantity.HEAT, "95 C"),
        (Quantity.HEAT, "203 F"),
        (Quantity.HEAT, "45 C"),
        (Quantity.AIR, "20 C"),
        (Quantity.AIR, "68 F"),
        (Quantity.AIR, "45 C"),
        (Quantity.AIR, "95 F"),
    ],
)
def test_a_number_plausible_as_typed_is_not_asked_about(quantity: Quantity, typed: str) -> None:
    assert doubts(quantity, units.temperature(typed, C)) == ()


@pytest.mark.parametrize(
    ("quantity", "typed"),
    [(Quantity.AIR, "-40 C"), (Quantity.AIR, "-40 F"), (Quantity.SURFACE, "130 C"), (Quantity.HEAT, "300 C")],
)
def test_a_reading_nobody_takes_in_a_bay_is_asked_about(quantity: Quantity, typed: str) -> None:
    (doubt,) = doubts(quantity, units.temperature(typed, C))
    assert (doubt.kind, doubt.meant) == (DoubtKind.UNUSUAL, None)


def test_humidity_and_wrap_in_have_a_range_but_no_other_unit() -> None:
    assert doubts(Quantity.HUMIDITY, units.humidity("46")) == ()
    assert doubts(Quantity.HUMIDITY, units.humidity("1"))[0].kind is DoubtKind.UNUSUAL
    assert doubts(Quantity.WRAP_IN, units.span("0.3 in", Unit.MM)) == ()
    assert doubts(Quantity.WRAP_IN, units.span("300 mm", Unit.MM))[0].kind is DoubtKind.UNUSUAL
