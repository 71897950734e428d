"""The rule for a failure and how the figures are worked out, in words, for the foot of the page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from shopwarranty.shops.models import Shop
from shopwarranty.trade import defects
from shopwarranty.trade.panels import PlaceKind
from shopwarranty.web.trade_names import trade_name

from .headline import listed
from .selection import Part, Selection

ENDS = (PlaceKind.EDGE, PlaceKind.RECESS, PlaceKind.SEAM)

METHOD: Final[Sequence[str | Promise]] = (
    _(
        "Each place is watched from the day its panel was finished, or last put right, until a planned check "
        "finds it failing, its film ends, or it was last seen clean. A failure lies between two looks."
    ),
    _(
        "The hazard is taken as constant between planned checks; film families are never mixed; a lift "
        "reported in between counts at the next planned check."
    ),
    _(
        "Small groups are pulled towards the whole by as much as their own counts leave open, so that one "
        "failure in one place never tops the list."
    ),
    _(
        "Each technique is compared beside panel, kind of place, film and who laid it. Intervals are 95% and "
        "count each vehicle once. A verdict holds up among all questions asked together."
    ),
)
REFERENCES: Final = (
    "Turnbull BW (1976) The empirical distribution function with arbitrarily grouped, censored and truncated "
    "data. J R Stat Soc B 38:290-295",
    "Sun J (2006) The Statistical Analysis of Interval-censored Failure Time Data. Springer",
    "Clayton D, Kaldor J (1987) Empirical Bayes estimates of age-standardized relative risks. Biometrics "
    "43:671-681",
    "Goldstein H, Spiegelhalter DJ (1996) League tables and their limitations. J R Stat Soc A 159:385-443",
    "Greenland S, Mansournia MA (2015) Penalization, bias reduction, and default priors in logistic and "
    "related regressions. Stat Med 34:3133-3143",
    "Benjamini Y, Hochberg Y (1995) Controlling the false discovery rate. J R Stat Soc B 57:289-300",
    "Garwood F (1936) Fiducial limits for the Poisson distribution. Biometrika 28:437-442",
)


def failure_rule(shop: Shop, selection: Selection) -> list[str]:
    """What counts as a failure here, by the shop's own line."""
    line = next(s for s in defects.SEVERITIES if s.level == shop.failure_line)
    kinds = (PlaceKind.FIELD,) if selection.part is Part.SURFACE else ENDS
    return [
        gettext(
            "A failure: a check found severity %(line)s (%(words)s) or worse. These kinds count: %(kinds)s."
        )
        % {"line": line.level, "words": gettext(line.words), "kinds": _kinds(shop, selection.family, kinds)},
        gettext("Below that line a place is watched and has not failed."),
        gettext("What the handover look finds is put right before the vehicle leaves and is not counted."),
        gettext("Impact, damage by others and film taken off end the watch without a failure."),
        gettext("A place left short on purpose has not failed by being short."),
    ]


def _kinds(shop: Shop, family: str, places: Sequence[PlaceKind]) -> str:
    if not family:
        return ""
    counting = {kind.key: kind for place in places for kind in defects.counting_kinds(place, family)}
    return listed([trade_name(kind, shop) for kind in counting.values()])
