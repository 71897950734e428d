"""Where it fails: the vehicle with a rate on every panel, from light (few) to dark (many)."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from shopwarranty.analysis.groups import GroupFigure
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.trade import catalogue
from shopwarranty.web.vehicle import Piece, Purpose, VehicleDrawing

from . import said
from .counted import What, address
from .headline import panels_named, worst_panels
from .lives import LifeTable
from .reviewing import ShopReview
from .selection import bodies
from .tables import is_few
from .words import Words

STEPS = (0.5, 0.8, 1.25, 2.0)
"""Ratios to the whole at which the next darker step begins."""


@dataclass(frozen=True, slots=True)
class RateSheet:
    """`elsewhere`: panels with figures that this body style does not have."""

    drawing: VehicleDrawing
    explained: str
    body: str
    elsewhere: tuple[str, ...]


def rate_sheet(found: ShopReview, table: LifeTable, words: Words) -> RateSheet:
    body = _body(found, table)
    shelf = ShopCatalogue(words.shop)
    figures = {f.level: f for f in found.table("panel")}
    own = set(shelf.panel_keys(body))
    pieces = {key: _piece(found, words, f) for key, f in figures.items() if key in own}
    drawing = VehicleDrawing(
        body,
        Purpose.RATES,
        _summary(found, words),
        pieces=pieces,
        rest=Piece("off", said=_("no film recorded")),
        added_panels=shelf.added_panels(body),
        added_places=shelf.added_places(body),
        legend=_legend(found),
        ident="rates",
    )
    elsewhere = tuple(words.panel(key) for key in figures if key not in own)
    return RateSheet(drawing, _explained(found), words.body(body), elsewhere)


def _body(found: ShopReview, table: LifeTable) -> str:
    """The one chosen, else the most usual one the drawing knows."""
    drawable = [body.key for body in catalogue.bodies()]
    wanted = (found.selection.body, *bodies(table), "suv")
    return next(body for body in wanted if body in drawable)


def _piece(found: ShopReview, words: Words, figure: GroupFigure) -> Piece:
    url = address(words.shop, found.selection, What.WATCHED, ("panel", figure.level))
    counts = {"failures": said.count(figure.failures), "places": said.count(figure.edges)}
    heard = _("%(failures)s of %(places)s failed") % counts
    if not figure.edges:
        return Piece("few", url, _("no inspections yet"))
    if not found.ranked:
        return Piece("few", url, heard, tag=counts["failures"])
    pulled = pulled_rate(found, figure)
    if is_few(figure) or pulled is None:
        return Piece("few", url, _("too few to say, %(counts)s") % {"counts": heard})
    text = _("%(rate)s failures per 100 watched years, %(counts)s")
    heard = text % {"rate": said.rate(pulled), "counts": heard}
    return Piece(_state(figure.shrunken or 0.0), url, heard, tag=said.rate(pulled))


def pulled_rate(found: ShopReview, figure: GroupFigure) -> float | None:
    """Failures per 100 edge-years, pulled towards the whole: the whole's rate times the shrunken ratio."""
    if figure.shrunken is None or found.whole.rate is None:
        return None
    return figure.shrunken * found.whole.rate


def _state(ratio: float) -> str:
    return f"rate-{1 + sum(ratio >= step for step in STEPS)}"


def _legend(found: ShopReview) -> tuple[tuple[str, str], ...]:
    if not found.ranked or found.whole.rate is None:
        return (("few", _("the number is failures found")), ("off", _("no film recorded")))
    ends = [said.rate(step * found.whole.rate) for step in STEPS]
    first = (("rate-1", _("under %(end)s") % {"end": ends[0]}),)
    middle = tuple((f"rate-{n + 2}", _("to %(end)s") % {"end": end}) for n, end in enumerate(ends[1:]))
    last = (("rate-5", _("%(end)s and over") % {"end": ends[-1]}), ("few", _("too few to say")))
    return (*first, *middle, *last)


def _summary(found: ShopReview, words: Words) -> str:
    worst = worst_panels(found)
    if not worst:
        return _("Failures by panel.")
    return _("Failures by panel. Worst: %(panels)s.") % {"panels": panels_named(worst, words)}


def _explained(found: ShopReview) -> str:
    if not found.ranked:
        return _("Failures found on each panel. Too few for rates or an order.")
    return _("Failures per 100 watched edge-years, small groups pulled towards the whole.")
