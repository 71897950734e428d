"""What the shop already has a name for, and what these files add to it.

Everything here is small beside the jobs: people, methods, films, lots, rolls, own fields, panels, places and
kinds. It is read once; what a file names for the first time is put beside it, to be written with the rows.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from shopwarranty.defects.models import ShopDefectKind
from shopwarranty.films.models import FilmProduct, Lot, Roll
from shopwarranty.inspections.models import CheckPlan
from shopwarranty.jobs.models import Method, MethodVersion, ShopField, ShopPanel, ShopPlace
from shopwarranty.shops.models import Member, Shop

from .own_columns import OwnColumn
from .own_reading import OwnField


@dataclass(slots=True, eq=False)
class Named:
    """A row of the shop, or one to be: then `pk` is 0 until it is written."""

    pk: int = 0


@dataclass(slots=True, eq=False)
class PersonOnShelf(Named):
    name: str = ""


@dataclass(slots=True, eq=False)
class MethodOnShelf(Named):
    name: str = ""


@dataclass(slots=True, eq=False)
class VersionOnShelf(Named):
    method: MethodOnShelf = field(default_factory=MethodOnShelf)
    number: int = 1


@dataclass(slots=True, eq=False)
class FilmOnShelf(Named):
    maker: str = ""
    name: str = ""
    family: str = ""


@dataclass(slots=True, eq=False)
class LotOnShelf(Named):
    film: FilmOnShelf = field(default_factory=FilmOnShelf)
    number: str = ""


@dataclass(slots=True, eq=False)
class RollOnShelf(Named):
    """`line`: where a file first named it."""

    label: str = ""
    film: FilmOnShelf = field(default_factory=FilmOnShelf)
    lot: LotOnShelf | None = None
    lot_unknown_reason: str = ""
    line: int = 0


@dataclass(slots=True, eq=False)
class FieldOnShelf(Named):
    own: OwnField = field(default_factory=lambda: OwnField("", "", ""))


@dataclass(slots=True, eq=False)
class PanelOnShelf(Named):
    key: str = ""
    name: str = ""
    edges: tuple[str, ...] = ()


@dataclass(slots=True, eq=False)
class KindOnShelf(Named):
    key: str = ""
    name: str = ""
    is_failure: bool = True


@dataclass(slots=True, eq=False)
class PlanOnShelf(Named):
    key: str = ""


class Shelf:
    """Eleven queries, whatever is asked of it."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.people = {n: PersonOnShelf(pk, n) for pk, n in reversed(_people())}
        self.methods = {n: MethodOnShelf(pk, n) for pk, n in Method.objects.values_list("pk", "name")}
        self.versions = dict(self._versions())
        films = FilmProduct.objects.values_list("pk", "maker", "name", "family")
        film_of = {row[0]: FilmOnShelf(row[0], row[1].strip(), row[2].strip(), row[3]) for row in films}
        self.films = {(film.maker, film.name): film for film in film_of.values()}
        self.lots, self.rolls = _lots_and_rolls(film_of)
        self.fields = {row.key: FieldOnShelf(row.pk, own_field(row)) for row in ShopField.objects.all()}
        self.panels = {
            row.key: PanelOnShelf(row.pk, row.key, row.name, tuple(row.edges))
            for row in ShopPanel.objects.all()
        }
        self.places = {(row.panel, row.key): row.kind for row in ShopPlace.objects.all()}
        kinds = ShopDefectKind.objects.values_list("pk", "key", "name", "is_failure")
        self.kinds = {row[1]: KindOnShelf(*row) for row in kinds}
        self.plans = {key: PlanOnShelf(pk, key) for pk, key in CheckPlan.objects.values_list("pk", "key")}

    def _versions(self) -> Iterator[tuple[tuple[str, int], VersionOnShelf]]:
        for pk, name, number in MethodVersion.objects.order_by("number").values_list(
            "pk", "method__name", "number"
        ):
            yield (name, number), VersionOnShelf(pk, self.methods[name], number)

    def latest_version(self, method: str) -> int:
        """1 for a method nobody knows yet."""
        return max((number for name, number in self.versions if name == method), default=1)

    def person(self, name: str) -> PersonOnShelf:
        return self.people.setdefault(name, PersonOnShelf(name=name))

    def version(self, name: str, number: int) -> VersionOnShelf:
        method = self.methods.setdefault(name, MethodOnShelf(name=name))
        return self.versions.setdefault((name, number), VersionOnShelf(method=method, number=number))

    def plan(self, key: str) -> PlanOnShelf:
        return self.plans.setdefault(key, PlanOnShelf(key=key))

    def field(self, column: OwnColumn) -> FieldOnShelf | None:
        """The field of that key; None when neither the shop nor the header says what it is."""
        known = self.fields.get(column.key)
        if known is None and column.level:
            own = OwnField(column.key, column.level, column.kind, column.unit, column.name or column.key)
            known = self.fields[column.key] = FieldOnShelf(own=own)
        return known

    def new(self) -> dict[str, list[Any]]:
        """What is not written yet, by what it is."""
        shelves = {
            "people": self.people,
            "methods": self.methods,
            "versions": self.versions,
            "films": self.films,
            "lots": self.lots,
            "rolls": self.rolls,
            "fields": self.fields,
            "panels": self.panels,
            "kinds": self.kinds,
            "plans": self.plans,
        }
        return {name: [one for one in shelf.values() if not one.pk] for name, shelf in shelves.items()}  # type: ignore[attr-defined]


def _people() -> list[tuple[int, str]]:
    """Those still there first, then the longest known: the first of a name is meant."""
    rows = Member.objects.order_by("left_at", "pk").values_list("pk", "name", "left_at")
    return [(pk, name.strip()) for pk, name, left in sorted(rows, key=lambda row: row[2] is not None)]


def lot_key(film: FilmOnShelf, number: str) -> tuple[str, str, str]:
    return film.maker, film.name, number.strip()


def own_field(row: ShopField) -> OwnField:
    choices = tuple(str(word) for word in row.choices) if row.kind == "choice" else ()
    return OwnField(row.key, row.level, row.kind, row.unit, row.name, choices)


def _lots_and_rolls(
    film: Mapping[int, FilmOnShelf],
) -> tuple[dict[tuple[str, str, str], LotOnShelf], dict[str, RollOnShelf]]:
    by_pk = {
        pk: LotOnShelf(pk, film[product], number)
        for pk, product, number in Lot.objects.values_list("pk", "product_id", "number")
    }
    lots = {lot_key(lot.film, lot.number): lot for lot in by_pk.values()}
    rows = Roll.objects.values_list("pk", "label", "product_id", "lot_id", "lot_unknown_reason")
    rolls = {
        label.strip(): RollOnShelf(pk, label, film[product], by_pk.get(lot) if lot else None, reason)
        for pk, label, product, lot, reason in rows
    }
    return lots, rolls
