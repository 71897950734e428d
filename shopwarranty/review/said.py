"""Figures as a reader meets them: rounded the same way on every page, with the language's decimal mark."""

from __future__ import annotations

from decimal import Decimal

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from shopwarranty.analysis.curve import ShareFailed
from shopwarranty.analysis.proportions import Interval

NOTHING = "–"
"""Where nothing can be said; never a zero."""


def count(value: int) -> str:
    return number_format(value, use_l10n=True, force_grouping=True)


def fixed(value: float, places: int) -> str:
    return number_format(Decimal(value).quantize(Decimal(1).scaleb(-places)), use_l10n=True)


def times(ratio: float) -> str:
    """A ratio: two decimals below two, one below ten, none above."""
    return fixed(ratio, 2 if ratio < 2 else 1 if ratio < 10 else 0)


def about(ratio: float) -> str:
    """A ratio in a sentence: two digits."""
    return fixed(ratio, 2 if ratio < 0.1 else 1 if ratio < 10 else 0)


def rate(per_hundred_years: float | None) -> str:
    if per_hundred_years is None:
        return NOTHING
    return fixed(per_hundred_years, 1 if per_hundred_years < 100 else 0)


def percent(share: float, places: int | None = None) -> str:
    """A share of 0 to 1; one decimal below a tenth."""
    digits = (1 if abs(share) < 0.0995 else 0) if places is None else places
    return f"{fixed(100 * share, digits)}%"


def chance(p: float) -> str:
    """A chance is never said to be certain."""
    if p >= 0.995:
        return _("over %(limit)s") % {"limit": percent(0.99, 0)}
    if p < 0.005:
        return _("under %(limit)s") % {"limit": percent(0.01, 0)}
    return percent(p, 0)


def between(interval: Interval | tuple[float, float] | None) -> str:
    """1.4 to 6.0; empty where there is no interval."""
    if interval is None:
        return ""
    low, high = (interval.low, interval.high) if isinstance(interval, Interval) else interval
    return _("%(low)s to %(high)s") % {"low": times(low), "high": times(high)}


def says_nothing(found: ShareFailed) -> bool:
    """None found yet, and so few seen that half of them might still have failed."""
    return found.limit_only and found.high >= 0.5


def share(found: ShareFailed | None) -> str:
    if found is None or says_nothing(found):
        return NOTHING
    if found.limit_only:
        return _("none yet")
    return percent(found.estimate)


def share_between(found: ShareFailed | None) -> str:
    if found is None or says_nothing(found):
        return ""
    if found.limit_only:
        return _("at most %(high)s") % {"high": percent(found.high)}
    return _("%(low)s to %(high)s") % {"low": percent(found.low), "high": percent(found.high)}


def years(days: float) -> str:
    value = days / 365.25
    return fixed(value, 1) if value < 100 else count(round(value))
