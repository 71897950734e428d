"""The trade's catalogue with what this shop added: names, places and walking order of every panel."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from django.utils.translation import gettext

from shopwarranty.shops.models import Shop
from shopwarranty.trade import catalogue
from shopwarranty.trade.panels import FIELD_KEY, PlaceKind
from shopwarranty.trade.shelf import AddedPanel, AddedPlace
from shopwarranty.web.trade_names import is_american, trade_name

from .models import ShopPanel, ShopPlace

SEAM_KEY = "seam"


class UnknownPanel(LookupError):
    """Neither the catalogue nor the shop knows this panel on this body style."""


@dataclass(frozen=True, slots=True)
class PlaceSort:
    """A place a panel gets when film goes on it."""

    key: str
    kind: str
    name: str
    shop_added: bool = False


class ShopCatalogue:
    """Two queries, whatever is asked of it. Names come as this shop says them, lower case, translated."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.american = is_american(shop)
        self._panels = list(ShopPanel.objects.all())
        self._places = list(ShopPlace.objects.all())

    @cached_property
    def own_panels(self) -> dict[str, ShopPanel]:
        return {row.key: row for row in self._panels}

    @cached_property
    def own_places(self) -> dict[tuple[str, str], ShopPlace]:
        return {(row.panel, row.key): row for row in self._places}

    def body_name(self, body: str) -> str:
        return trade_name(catalogue.body(body), self.shop)

    def panel_keys(self, body: str) -> tuple[str, ...]:
        """Everything film can go on, in walking order; what the shop added comes last."""
        added = (row.key for row in self._panels if fits(row, body))
        return (*catalogue.panel_keys(body), *added)

    def walk(self, body: str, panel: str) -> int:
        """Place in the walking order. Raises UnknownPanel."""
        if catalogue.has_panel(body, panel):
            return catalogue.panel_keys(body).index(panel)
        if panel in self.own_panels:
            return len(catalogue.panel_keys(body)) + list(self.own_panels).index(panel)
        raise UnknownPanel(panel)

    def panel_name(self, body: str, panel: str) -> str:
        if catalogue.has_panel(body, panel):
            return trade_name(catalogue.panel(body, panel), self.shop)
        own = self.own_panels.get(panel)
        if own:
            return own.name
        try:
            return gettext(catalogue.pooled_panel_name(panel, american=self.american))
        except catalogue.UnknownPanel:
            return panel

    def places(self, body: str, panel: str) -> tuple[PlaceSort, ...]:
        """Edges, recesses, what the shop added to the panel, then the surface. Raises UnknownPanel."""
        added = tuple(
            PlaceSort(row.key, row.kind, row.name, shop_added=True)
            for row in self._places
            if row.panel == panel and fits(row, body)
        )
        known = self._known_places(body, panel)
        return (*known[:-1], *added, known[-1])

    def _known_places(self, body: str, panel: str) -> tuple[PlaceSort, ...]:
        if catalogue.has_panel(body, panel):
            default = catalogue.default_places(catalogue.panel(body, panel))
            return tuple(PlaceSort(p.key, p.kind, trade_name(p, self.shop)) for p in default)
        own = self.own_panels.get(panel)
        if own is None:
            raise UnknownPanel(panel)
        edges = (PlaceSort(f"edge-{n}", PlaceKind.EDGE, name) for n, name in enumerate(own.edges, start=1))
        return (*edges, PlaceSort(FIELD_KEY, PlaceKind.FIELD, trade_name(catalogue.FIELD, self.shop)))

    def place_name(self, body: str, panel: str, key: str, stored: str = "") -> str:
        """A name stored on the place itself wins: the catalogue did not know it."""
        if stored:
            return stored
        own = self.own_places.get((panel, key))
        if own:
            return own.name
        if key == FIELD_KEY:
            return trade_name(catalogue.FIELD, self.shop)
        if key.startswith(SEAM_KEY):
            return gettext("seam")
        try:
            return trade_name(catalogue.place(body, panel, key), self.shop)
        except LookupError:
            return self._edge_of_own_panel(panel, key)

    def _edge_of_own_panel(self, panel: str, key: str) -> str:
        own, number = self.own_panels.get(panel), key.removeprefix("edge-")
        if own and number.isdecimal() and 0 < int(number) <= len(own.edges):
            return str(own.edges[int(number) - 1])
        return key

    def added_panels(self, body: str, also: Iterable[str] = ()) -> tuple[AddedPanel, ...]:
        """For the drawing's shelf; `also` are keys a job carries though they are retired."""
        kept = frozenset(also)
        return tuple(self.added_panel(row) for row in self._panels if fits(row, body) or row.key in kept)

    def added_panel(self, row: ShopPanel) -> AddedPanel:
        edges = [
            AddedPlace(row.key, f"edge-{n}", name, PlaceKind.EDGE)
            for n, name in enumerate(row.edges, start=1)
        ]
        return AddedPanel(row.key, row.name, (*edges, *self.added_places_of(row.key)))

    def added_places(self, body: str) -> tuple[AddedPlace, ...]:
        rows = (row for row in self._places if fits(row, body) and row.panel not in self.own_panels)
        return drawn(rows)

    def added_places_of(self, panel: str) -> tuple[AddedPlace, ...]:
        return drawn(row for row in self._places if row.panel == panel and row.retired_at is None)


def drawn(rows: Iterable[ShopPlace]) -> tuple[AddedPlace, ...]:
    return tuple(AddedPlace(row.panel, row.key, row.name, PlaceKind(row.kind), row.spot) for row in rows)


def fits(row: ShopPanel | ShopPlace, body: str) -> bool:
    return row.retired_at is None and row.body_style in ("", body)
