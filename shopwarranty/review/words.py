"""Factors and levels in the words of this shop: bonnet or hood, C or F, the names it gave its own things."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from shopwarranty.analysis.questions import NOT_RECORDED_LEVEL
from shopwarranty.jobs.models import ShopPanel, ShopPlace
from shopwarranty.shops.models import Shop
from shopwarranty.trade import catalogue, technique
from shopwarranty.trade.technique import FieldKind, Unit
from shopwarranty.trade.words import FILM_FAMILIES, SUBSTRATES, Choice
from shopwarranty.web import formats
from shopwarranty.web.trade_names import first_upper, is_american

from .columns import Span
from .conditions import ENOUGH, TOO_LITTLE
from .lives import OWN

FACTORS: Final[Mapping[str, str | Promise]] = {
    "panel": _("panel"),
    "panel_kind": _("panel"),
    "place_kind": _("kind of place"),
    "spot": _("panel and place"),
    "film": _("film"),
    "lot": _("lot"),
    "installer": _("who laid it"),
    "quarter": _("season"),
    "bay": _("bay"),
    "substrate": _("what the film lies on"),
    "surface_c": _("surface while laying"),
    "humidity": _("humidity while laying"),
    "dew_margin": _("distance to the dew point"),
}
LEVELS: Final[Mapping[str, str | Promise]] = {
    "edge": _("edges"),
    "recess": _("recesses"),
    "seam": _("seams"),
    "field": _("surface"),
    "yes": _("yes"),
    "no": _("no"),
    ENOUGH: _("enough"),
    TOO_LITTLE: _("too little"),
    NOT_RECORDED_LEVEL: _("not recorded"),
    "others": _("others"),
}


class Words:
    """Two queries, whatever is asked of it."""

    def __init__(
        self, shop: Shop, own_fields: Mapping[str, str], spans: Mapping[tuple[str, str], Span]
    ) -> None:
        self.shop, self.own_fields, self.spans = shop, own_fields, spans
        self.american = is_american(shop)
        self._panels = {row.key: row.name for row in ShopPanel.objects.all()}
        self._places = {(row.panel, row.key): row.name for row in ShopPlace.objects.all()}

    def factor(self, name: str) -> str:
        if name in FACTORS:
            return str(FACTORS[name])
        if name in technique.BY_KEY:
            return gettext(technique.BY_KEY[name].words)
        return self.own_fields.get(name, name.removeprefix(OWN))

    def level(self, factor: str, level: str) -> str:
        if level == NOT_RECORDED_LEVEL:
            return str(LEVELS[level])
        if factor in ("panel", "panel_kind"):
            return self.panel(level)
        if factor == "spot":
            panel, _slash, place = level.partition(" / ")
            return f"{self.panel(panel)}, {self.place(panel, place)}"
        if (factor, level) in self.spans:
            return self.span(factor, self.spans[factor, level])
        return self._of_list(factor, level)

    def _of_list(self, factor: str, level: str) -> str:
        field = technique.BY_KEY.get(factor)
        choices = SUBSTRATES if factor == "substrate" else field.choices if field else ()
        found = next((choice for choice in choices if choice.key == level), None)
        if found is not None:
            return self.choice(found)
        named = factor in ("film", "lot", "installer", "bay") or factor.startswith(OWN)
        known = level in LEVELS and (not named or level in ("yes", "no"))
        return str(LEVELS[level]) if known else level

    def choice(self, choice: Choice) -> str:
        return gettext(choice.words_us if self.american else choice.words)

    def panel(self, key: str) -> str:
        if key in self._panels:
            return self._panels[key]
        try:
            return gettext(catalogue.pooled_panel_name(key, american=self.american))
        except catalogue.UnknownPanel:
            return key

    def place(self, panel: str, key: str) -> str:
        if (panel, key) in self._places:
            return self._places[panel, key]
        try:
            return gettext(catalogue.pooled_place_name(panel, key, american=self.american))
        except LookupError:
            return gettext("seam") if key.startswith("seam") else key

    def family(self, key: str) -> str:
        found = next((choice for choice in FILM_FAMILIES if choice.key == key), None)
        return self.choice(found) if found else key

    def body(self, key: str) -> str:
        try:
            body = catalogue.body(key)
            return gettext(body.name_us if self.american else body.name)
        except catalogue.UnknownBody:
            return key

    def span(self, factor: str, span: Span) -> str:
        """A range in the shop's units."""
        if span.over is not None and span.over == span.to:
            return self.quantity(factor, span.to)
        if span.over is None and span.to is None:
            return gettext("any")
        if span.over is None:
            return gettext("up to %(to)s") % {"to": self.quantity(factor, span.to or 0.0)}
        low = self.quantity(factor, span.over)
        if span.to is None:
            return gettext("over %(low)s") % {"low": low}
        return gettext("over %(low)s, up to %(to)s") % {"low": low, "to": self.quantity(factor, span.to)}

    def quantity(self, factor: str, value: float) -> str:
        field = technique.BY_KEY.get(factor)
        unit = field.unit if field else None
        if factor == "surface_c" or unit is Unit.CELSIUS:
            return str(formats.temperature(value, self.shop))
        if unit is Unit.MM:
            return str(formats.short_length(value, self.shop))
        number = formats.rounded(formats.exact(value), 1)
        ends = {Unit.MINUTES: gettext("min"), Unit.HOURS: gettext("h")}
        if factor == "humidity":
            return f"{number}%"
        return f"{number}\u00a0{ends[unit]}" if unit in ends else number

    def with_level(self, factor: str, level: str) -> str:
        """post-heated: no"""
        return gettext("%(factor)s: %(level)s") % {
            "factor": self.factor(factor),
            "level": self.level(factor, level),
        }

    def heading(self, factor: str, level: str) -> str:
        return first_upper(self.with_level(factor, level))

    def is_yes_no(self, factor: str) -> bool:
        field = technique.BY_KEY.get(factor)
        return field is not None and field.kind is FieldKind.YES_NO
