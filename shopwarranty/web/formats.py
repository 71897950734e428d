"""Dates, times and quantities as a shop reads them. Values come in SI and UTC.

A US shop reads "November 25, 2026", 1:30 pm, F, inches and feet; a metric one "25 November 2026", 13:30,
C, mm and m. Which one is the shop's `units`; the words follow the language of the page.
Inch, foot and degree conversions are exact by definition (NIST SP 811, appendix B).
"""

from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import ROUND_HALF_UP, Decimal
from typing import Protocol
from zoneinfo import ZoneInfo

from django.utils import dateformat
from django.utils.formats import number_format
from django.utils.translation import gettext, pgettext

MM_PER_INCH = Decimal("25.4")
MM_PER_FOOT = Decimal("304.8")
Number = int | float | Decimal


class ShopLike(Protocol):
    """What a shop says about how it reads things."""

    @property
    def time_zone(self) -> object: ...
    @property
    def units(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number as shown, and its unit."""

    number: str
    unit: str

    def __str__(self) -> str:
        return f"{self.number}\u00a0{self.unit}"


def is_us(shop: ShopLike) -> bool:
    return shop.units == "us"


def in_shop_zone(moment: datetime, shop: ShopLike) -> datetime:
    return moment.astimezone(ZoneInfo(str(shop.time_zone)))


def day_of(value: date | datetime, shop: ShopLike) -> date:
    """The calendar day in the shop's zone; a plain date is already one."""
    return in_shop_zone(value, shop).date() if isinstance(value, datetime) else value


def full_date(value: date | datetime, shop: ShopLike) -> str:
    """November 25, 2026 or 25 November 2026."""
    us, other = pgettext("full date, US shop", "F j, Y"), pgettext("full date", "j F Y")
    return dateformat.format(day_of(value, shop), us if is_us(shop) else other)


def day_and_month(value: date | datetime, shop: ShopLike) -> str:
    """November 25 or 25 November."""
    us, other = pgettext("day, US shop", "F j"), pgettext("day", "j F")
    return dateformat.format(day_of(value, shop), us if is_us(shop) else other)


def with_weekday(value: date | datetime, shop: ShopLike) -> str:
    """Wednesday, November 25 or Wednesday 25 November."""
    us, other = pgettext("weekday, US shop", "l, F j"), pgettext("weekday", "l j F")
    return dateformat.format(day_of(value, shop), us if is_us(shop) else other)


def short_day(value: date | datetime, shop: ShopLike) -> str:
    """Wed Nov 25 or Wed 25 Nov."""
    us, other = pgettext("short day, US shop", "D M j"), pgettext("short day", "D j M")
    return dateformat.format(day_of(value, shop), us if is_us(shop) else other)


def clock(value: datetime | time, shop: ShopLike) -> str:
    """1:30 pm or 13:30, in the shop's zone."""
    local = in_shop_zone(value, shop).time() if isinstance(value, datetime) else value
    if not is_us(shop):
        return f"{local:%H:%M}"
    half = pgettext("time of day", "am") if local.hour < 12 else pgettext("time of day", "pm")
    return f"{local.hour % 12 or 12}:{local:%M}\u00a0{half}"


def rounded(value: Decimal, places: int) -> str:
    """Half up, without trailing zeros, with the language's decimal mark."""
    fixed = value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)
    text = f"{fixed:f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    text = "0" if text in ("-0", "") else text
    return number_format(text, use_l10n=True).replace("-", "\u2212")


def exact(value: Number) -> Decimal:
    return value if isinstance(value, Decimal) else Decimal(str(value))


def temperature(celsius: Number, shop: ShopLike) -> Quantity:
    if is_us(shop):
        return Quantity(rounded(exact(celsius) * 9 / 5 + 32, 0), "°F")
    return Quantity(rounded(exact(celsius), 1), "°C")


def temperature_gap(kelvin: Number, shop: ShopLike) -> Quantity:
    """A difference, such as the margin above the dew point: no 32 is added."""
    if is_us(shop):
        return Quantity(rounded(exact(kelvin) * 9 / 5, 0), "°F")
    return Quantity(rounded(exact(kelvin), 1), "°C")


def short_length(mm: Number, shop: ShopLike) -> Quantity:
    """Wrap-in, a lift, a panel's size: mm, or inches (two decimals below ten)."""
    if not is_us(shop):
        return Quantity(rounded(exact(mm), 1), gettext("mm"))
    inches = exact(mm) / MM_PER_INCH
    return Quantity(rounded(inches, 2 if abs(inches) < 10 else 1), gettext("in"))


def long_length(mm: Number, shop: ShopLike) -> Quantity:
    """What is left on a roll: metres or feet."""
    if is_us(shop):
        return Quantity(rounded(exact(mm) / MM_PER_FOOT, 1), gettext("ft"))
    return Quantity(rounded(exact(mm) / 1000, 2), gettext("m"))


def not_recorded() -> str:
    return gettext("Not recorded")
