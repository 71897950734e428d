"""Kinds of defect as this shop knows them: the catalogue's, and those the shop added."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext

from shopwarranty.shops.models import Shop
from shopwarranty.trade import defects as trade
from shopwarranty.trade.defects import Measure
from shopwarranty.trade.panels import PlaceKind
from shopwarranty.web.trade_names import first_upper, is_american

from .models import ShopDefectKind

SHOWN_FIRST = 5


@dataclass(frozen=True, slots=True)
class KindWords:
    """A kind as it is offered: key, name as this shop says it, what it is measured in."""

    key: str
    name: str
    measures: tuple[str, ...]
    is_own: bool = False


class KindsOfShop:
    """One query, whatever is asked of it."""

    def __init__(self, shop: Shop) -> None:
        self.american = is_american(shop)
        self._own = {row.key: row for row in ShopDefectKind.objects.all()}

    def named(self, key: str) -> str:
        """The kind's name today; a key nobody knows any more names itself."""
        if key in self._own:
            return self._own[key].name
        try:
            kind = trade.kind(key)
        except trade.UnknownDefectKind:
            return key
        return gettext(kind.name_us if self.american else kind.name)

    def knows(self, key: str) -> bool:
        own = self._own.get(key)
        if own is not None:
            return own.retired_at is None
        return key in {kind.key for kind in trade.KINDS}

    def least_severity(self, key: str, said: int) -> int:
        return said if key in self._own else trade.severity_of(key, said)

    def offered(self, place_kind: str) -> tuple[KindWords, ...]:
        """Those usual at this kind of place first, then the shop's own, then all others."""
        usual = trade.kinds_for(PlaceKind(place_kind))
        own = [row for row in self._own.values() if row.retired_at is None and fits(row, place_kind)]
        others = [kind for kind in trade.KINDS if kind not in usual]
        return (*self._words(usual), *(of_shop(row) for row in own), *self._words(others))

    def catalogue(self) -> tuple[KindWords, ...]:
        """What the trade's catalogue knows by itself."""
        return tuple(self._words(trade.KINDS))

    def _words(self, kinds: Iterable[trade.DefectKind]) -> list[KindWords]:
        return [
            KindWords(kind.key, first_upper(self.named(kind.key)), tuple(kind.graded_by)) for kind in kinds
        ]


def fits(row: ShopDefectKind, place_kind: str) -> bool:
    return not row.place_kinds or place_kind in row.place_kinds


def of_shop(row: ShopDefectKind) -> KindWords:
    measure = row.graded_by if row.graded_by in set(Measure) else Measure.LENGTH
    return KindWords(row.key, row.name, (measure,), is_own=True)
