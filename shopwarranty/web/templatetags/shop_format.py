"""Dates, times and quantities as the shop reads them: {{ value|shop_date:shop }}.

`shop` is in every page's context. None reads "Not recorded".
"""

from collections.abc import Callable
from datetime import date, datetime, time
from typing import Any

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from shopwarranty.web import formats
from shopwarranty.web.formats import Number, Quantity, ShopLike

register = template.Library()


def blank(value: object) -> bool:
    return value is None or value == ""


def unknown() -> SafeString:
    return format_html('<span class="not-recorded">{}</span>', formats.not_recorded())


def shown(value: Any, shop: ShopLike, measure: Callable[[Any, ShopLike], Quantity]) -> SafeString:
    """Number and small unit; unknown in words."""
    if blank(value):
        return unknown()
    quantity = measure(value, shop)
    return format_html(
        '<span class="nowrap" dir="ltr">{} <span class="unit">{}</span></span>',
        quantity.number,
        quantity.unit,
    )


def said(value: Any, shop: ShopLike, say: Callable[[Any, ShopLike], str]) -> str:
    return unknown() if blank(value) else say(value, shop)


@register.filter
def shop_date(value: date | datetime | None, shop: ShopLike) -> str:
    """November 25, 2026 | 25 November 2026"""
    return said(value, shop, formats.full_date)


@register.filter
def shop_day(value: date | datetime | None, shop: ShopLike) -> str:
    """November 25 | 25 November"""
    return said(value, shop, formats.day_and_month)


@register.filter
def shop_weekday(value: date | datetime | None, shop: ShopLike) -> str:
    """Wednesday, November 25 | Wednesday 25 November"""
    return said(value, shop, formats.with_weekday)


@register.filter
def shop_short_day(value: date | datetime | None, shop: ShopLike) -> str:
    """Wed Nov 25 | Wed 25 Nov"""
    return said(value, shop, formats.short_day)


@register.filter
def shop_time(value: datetime | time | None, shop: ShopLike) -> str:
    """1:30 pm | 13:30"""
    return said(value, shop, formats.clock)


@register.filter
def temperature(value: Number | None, shop: ShopLike) -> SafeString:
    """Degrees C in; 68 F or 20 C out, the unit small."""
    return shown(value, shop, formats.temperature)


@register.filter
def temperature_gap(value: Number | None, shop: ShopLike) -> SafeString:
    """A difference in C (dew point margin) in; F or C out."""
    return shown(value, shop, formats.temperature_gap)


@register.filter
def length_mm(value: Number | None, shop: ShopLike) -> SafeString:
    """mm in; inches or mm out (wrap-in, a lift, a panel)."""
    return shown(value, shop, formats.short_length)


@register.filter
def length_long(value: Number | None, shop: ShopLike) -> SafeString:
    """mm in; feet or metres out (what is left on a roll)."""
    return shown(value, shop, formats.long_length)


@register.filter
def temperature_text(value: Number | None, shop: ShopLike) -> str:
    """As `temperature`, plain text for attributes and mails."""
    return formats.not_recorded() if blank(value) else str(formats.temperature(value or 0, shop))


@register.filter
def length_text(value: Number | None, shop: ShopLike) -> str:
    """As `length_mm`, plain text for attributes and mails."""
    return formats.not_recorded() if blank(value) else str(formats.short_length(value or 0, shop))


@register.filter
def percent(value: Number | None) -> SafeString:
    """Relative humidity as stored, 0 to 100."""
    if blank(value):
        return unknown()
    number = formats.rounded(formats.exact(value or 0), 0)
    return format_html('<span class="nowrap">{} <span class="unit">%</span></span>', number)


@register.filter
def recorded(value: Any) -> Any:
    """The value, or "Not recorded": never an empty cell, never a zero in its place."""
    return unknown() if blank(value) else value


@register.filter
def yes_no_recorded(value: bool | None) -> str:
    """Yes, No or Not recorded."""
    from django.utils.translation import gettext

    if value is None:
        return unknown()
    return gettext("Yes") if value else gettext("No")
