"""Temperatures and lengths as people type them, with exact conversions to what is stored (C and mm).

Exact by definition: 1 in = 25.4 mm, 1 ft = 304.8 mm, F = C x 9/5 + 32 (NIST SP 811, appendix B).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction


class Unit(StrEnum):
    CELSIUS = "C"
    FAHRENHEIT = "F"
    MM = "mm"
    CM = "cm"
    METRE = "m"
    INCH = "in"
    FOOT = "ft"
    PERCENT = "%"


TEMPERATURES = frozenset({Unit.CELSIUS, Unit.FAHRENHEIT})
MM_EACH = {
    Unit.MM: Fraction(1),
    Unit.CM: Fraction(10),
    Unit.METRE: Fraction(1000),
    Unit.INCH: Fraction(254, 10),
    Unit.FOOT: Fraction(3048, 10),
}

SPELLINGS: dict[str, Unit] = {
    **dict.fromkeys(("c", "°c", "degc", "celsius", "℃"), Unit.CELSIUS),
    **dict.fromkeys(("f", "°f", "degf", "fahrenheit", "℉"), Unit.FAHRENHEIT),
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), Unit.MM),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), Unit.CM),
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), Unit.METRE),
    **dict.fromkeys(("in", "in.", "inch", "inches", '"', "″", "”", "''"), Unit.INCH),
    **dict.fromkeys(("ft", "ft.", "foot", "feet", "'", "′", "’"), Unit.FOOT),
    **dict.fromkeys(("%", "percent", "%rh", "rh"), Unit.PERCENT),
}

MOST_DIGITS = 24

_TYPED = re.compile(r"(?P<number>[-+]?[\d.,/ ]*\d[\d.,/]*)\s*(?P<unit>\D*)")
_WITH_FRACTION = re.compile(r"(?:(\d+) +)?(\d+)/(\d+)")


NEGATIVE = "A length is not below 0."
OUTSIDE = "Relative humidity lies between 0 and 100 %."
NO_NUMBER = "Type a number, with or without its unit."
NO_TEMPERATURE = "Type it in C or F."
NO_LENGTH = "Type it in mm, cm, m, in or ft."
NO_HUMIDITY = "Type it in percent."
UNKNOWN_UNIT = "%(unit)s is not a unit that is known here."
TOO_LONG = "Type fewer digits."
NO_FRACTION = "A fraction cannot have 0 below the line."
COMMA = "Type %(whole)s or %(part)s: a comma can be read either way."
REASONS = (
    NEGATIVE,
    OUTSIDE,
    NO_NUMBER,
    NO_TEMPERATURE,
    NO_LENGTH,
    NO_HUMIDITY,
    UNKNOWN_UNIT,
    TOO_LONG,
    NO_FRACTION,
    COMMA,
)


class NotAMeasure(ValueError):
    """What was typed is not understood. `reason` is one of REASONS; `typed` is kept to be shown again."""

    def __init__(self, typed: str, reason: str, **places: str) -> None:
        self.typed, self.reason, self.places = typed, reason, places
        super().__init__(f"{typed!r}: {self.said(str)}")

    def said(self, translate: Callable[[str], str]) -> str:
        words = translate(self.reason)
        return words % self.places if self.places else words


@dataclass(frozen=True, slots=True)
class Typed:
    """`exact` is the number in the unit it was typed in, `stored` the same in C, mm or percent."""

    text: str
    exact: Fraction
    unit: Unit
    stored: float

    @property
    def number(self) -> float:
        return float(self.exact)


def temperature(text: str, default: Unit) -> Typed:
    """ "68 F", "20C", "20,5", in `default` where no unit is typed. Raises NotAMeasure."""
    return _read(text, default, TEMPERATURES, NO_TEMPERATURE)


def span(text: str, default: Unit) -> Typed:
    """A length: "8", "0,3 in", "1 1/4 in", "60 ft". Raises NotAMeasure, also below 0."""
    read = _read(text, default, frozenset(MM_EACH), NO_LENGTH)
    if read.exact < 0:
        raise NotAMeasure(text, NEGATIVE)
    return read


def humidity(text: str) -> Typed:
    """Relative humidity in percent: "46", "46 %". Raises NotAMeasure, also outside 0 to 100."""
    read = _read(text, Unit.PERCENT, frozenset({Unit.PERCENT}), NO_HUMIDITY)
    if not 0 <= read.exact <= 100:
        raise NotAMeasure(text, OUTSIDE)
    return read


def celsius(value: float | Fraction, unit: Unit) -> float:
    exact = _fraction(value)
    return float(exact if unit is Unit.CELSIUS else (exact - 32) * 5 / 9)


def fahrenheit(value_c: float) -> float:
    return float(_fraction(value_c) * 9 / 5 + 32)


def millimetres(value: float | Fraction, unit: Unit) -> float:
    return float(_fraction(value) * MM_EACH[unit])


def out_of_mm(value_mm: float, unit: Unit) -> float:
    return float(_fraction(value_mm) / MM_EACH[unit])


def _fraction(value: float | Fraction) -> Fraction:
    """A float as the decimal number it is written as, so that 0.3 in is 7.62 mm and not a hair beside it."""
    return value if isinstance(value, Fraction) else Fraction(str(value))


def _read(text: str, default: Unit, allowed: frozenset[Unit], otherwise: str) -> Typed:
    tidy = _tidy(text)
    found = _TYPED.fullmatch(tidy)
    if not found:
        raise NotAMeasure(text, NO_NUMBER)
    unit = _unit(text, found["unit"], default)
    if unit not in allowed:
        raise NotAMeasure(text, otherwise)
    exact = _number(text, found["number"])
    return Typed(text.strip(), exact, unit, _stored(exact, unit))


def _stored(exact: Fraction, unit: Unit) -> float:
    if unit in TEMPERATURES:
        return celsius(exact, unit)
    return float(exact) if unit is Unit.PERCENT else millimetres(exact, unit)


def _tidy(text: str) -> str:
    """One kind of space and minus; printed fractions such as a quarter written out."""
    spaced = "".join(_fraction_sign(letter) for letter in text)
    return " ".join(spaced.replace("\u2212", "-").replace("\u2044", "/").split())


def _fraction_sign(letter: str) -> str:
    if unicodedata.category(letter) != "No" or "VULGAR FRACTION" not in unicodedata.name(letter, ""):
        return letter
    return " " + unicodedata.normalize("NFKD", letter)


def _unit(text: str, spelled: str, default: Unit) -> Unit:
    key = spelled.replace(" ", "").lower().replace("º", "°")
    if not key or key == "°":
        return default
    if key not in SPELLINGS:
        raise NotAMeasure(text, UNKNOWN_UNIT, unit=spelled.strip())
    return SPELLINGS[key]


def _number(text: str, written: str) -> Fraction:
    if len(written) > MOST_DIGITS:
        raise NotAMeasure(text, TOO_LONG)
    sign, digits = (-1, written[1:]) if written.startswith("-") else (1, written.removeprefix("+"))
    digits = digits.strip()
    parts = _WITH_FRACTION.fullmatch(digits)
    if parts:
        whole, upper, lower = int(parts[1] or 0), int(parts[2]), int(parts[3])
        if lower == 0:
            raise NotAMeasure(text, NO_FRACTION)
        return sign * (whole + Fraction(upper, lower))
    return sign * _decimal(text, digits)


def _decimal(text: str, digits: str) -> Fraction:
    """Comma or point as the decimal mark; where a comma may as well group thousands, nothing is guessed."""
    if re.fullmatch(r"[1-9]\d{0,2},\d{3}", digits):
        plain = digits.replace(",", "")
        raise NotAMeasure(text, COMMA, whole=plain, part=digits.replace(",", "."))
    if not re.fullmatch(r"\d+(?:[.,]\d*)?|[.,]\d+", digits):
        raise NotAMeasure(text, NO_NUMBER)
    return Fraction(digits.replace(",", ".").rstrip(".") if digits[-1:] in ".," else digits.replace(",", "."))
