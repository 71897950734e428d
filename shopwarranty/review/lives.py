"""The only bridge from the record to the statistics: every life with all that is recorded of it, as arrays.

`load` reads the shop in scope with a fixed number of queries. Nothing above this module asks the database for
figures; `kept_lives` keeps what this makes packed, so that pages need not read the record again.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from django.db.models import Count, Max, Sum

from shopwarranty.defects.life_rules import DAMAGE
from shopwarranty.defects.models import Life
from shopwarranty.films.models import FilmProduct, Lot
from shopwarranty.jobs.models import (
    FieldValue,
    FilmPiece,
    Job,
    PanelIntake,
    PanelMember,
    PanelWork,
    Place,
    Reading,
    ShopField,
)
from shopwarranty.shops.models import Bay, Change, Shop
from shopwarranty.trade import catalogue
from shopwarranty.trade.panels import PlaceKind
from shopwarranty.trade.technique import Level, fields

from .columns import BoolArray, IntArray, Numbers, Texts, numbers, rows_in, texts
from .conditions import conditions
from .record_rows import Rows, read, technique_names

Column = Texts | Numbers
NEVER = -1
OWN = "own:"
"""Before the key of a field the shop defined, so that it cannot be taken for one of the trade's."""

DAYS = ("entry_day", "clean_day", "failed_day", "all_clean_day", "all_failed_day", "ended_day")
LIFE_SUMS = {"n": Count("pk"), "m": Max("pk"), **{f"sum_{day}": Sum(day) for day in DAYS}}
NO_LIVES: dict[str, object] = dict.fromkeys(LIFE_SUMS) | {"n": 0}
ENDED = {"open": 0, "failed": 1, "other": 2}


@dataclass(frozen=True, slots=True, eq=False)
class LifeTable:
    """Every life of a shop; all arrays have shape (n,), days count from its start, NEVER where there is none.

    `starts` are day numbers (date.toordinal); `ended` as in ENDED; `columns` what is recorded, by key;
    `own_fields` names what the shop defined, `installers` whose work each level of "installer" is.
    """

    life: IntArray
    job: IntArray
    vehicle: IntArray
    starts: IntArray
    entry: IntArray
    clean: IntArray
    failed: IntArray
    all_clean: IntArray
    all_failed: IntArray
    ended: IntArray
    ended_day: IntArray
    damaged: BoolArray
    columns: Mapping[str, Column]
    own_fields: Mapping[str, str]
    installers: Mapping[str, int]

    def __len__(self) -> int:
        return len(self.life)

    def text(self, key: str) -> Texts:
        column = self.columns[key]
        assert isinstance(column, Texts)
        return column

    @property
    def reported_between(self) -> BoolArray:
        """Found failed at a visit that was no planned check, whether or not one has seen it since."""
        at_check = np.maximum(self.ended_day, np.maximum(self.entry, self.clean) + 1)
        seen_failed: BoolArray = self.ended == ENDED["failed"]
        return np.asarray(seen_failed & ((self.failed == NEVER) | (self.failed > at_check)))

    @property
    def watched(self) -> BoolArray:
        """A planned check after its start says something of it."""
        known: BoolArray = (np.maximum(self.entry, self.clean) > self.entry) | (self.failed != NEVER)
        return known

    def first_day(self) -> date | None:
        return date.fromordinal(int(self.starts.min())) if len(self) else None


COUNTED = (Change, Reading, FieldValue, PanelMember)


def version_of(shop: Shop) -> str:
    """Changes with whatever the figures are made of: lives, the history of acts, readings, settings."""
    sums = Life.objects.aggregate(**LIFE_SUMS)
    newest = [table.objects.aggregate(n=Count("pk"), m=Max("pk")) for table in COUNTED]
    return _version(shop, sums, newest)


def versions(shops: Sequence[Shop]) -> dict[Shop, str]:
    """The same of several shops at once; call in `every_shop`."""
    if not shops:
        return {}
    lives = Life.objects.filter(shop__in=shops).order_by().values("shop")
    sums = {row.pop("shop"): row for row in lives.annotate(**LIFE_SUMS)}
    newest = []
    for table in COUNTED:
        rows = table.objects.filter(shop__in=shops).order_by().values("shop")
        newest.append({row["shop"]: row for row in rows.annotate(n=Count("pk"), m=Max("pk"))})
    none = {"n": 0, "m": None}
    return {
        shop: _version(shop, sums.get(shop.pk, NO_LIVES), [rows.get(shop.pk, none) for rows in newest])
        for shop in shops
    }


def _version(shop: Shop, sums: Mapping[str, object], newest: Sequence[Mapping[str, object]]) -> str:
    counted = [row[key] for row in newest for key in ("n", "m")]
    parts = [*(sums[key] for key in LIFE_SUMS), *counted, shop.dew_point_margin_c]
    return "-".join(str(part) for part in parts)


def load(shop: Shop) -> LifeTable:
    """All lives of the shop in scope."""
    names = ("job_id", "place_id", "family", "starts_on", *DAYS, "ended", "ended_why")
    lives = read(Life.objects.all(), *names)
    places, pieces, panels, jobs = _places(), _pieces(), _panels(), _jobs()
    place = places.find(lives.ints("place_id"))
    piece = pieces.find(_of(places.ints("piece_id"), place))
    panel = panels.find(_of(pieces.ints("panel_work_id"), piece))
    job = jobs.find(lives.ints("job_id"))
    spots = _spots(places, pieces, panels)
    found: dict[str, Column] = {"family": lives.texts("family")}
    found |= _at({**_of_place(places), **spots}, place)
    found |= _at(_of_piece(pieces), piece)
    leads, installers = _leads(panels)
    found |= _at({"installer": leads, **_of_panel(panels)}, panel)
    found |= _at(conditions(panels, shop.zone, shop.dew_point_margin_c), panel)
    found |= _at(_of_job(jobs), job)
    own_fields, own = _own_fields(lives, place, places, panel, panels)
    days = {name: lives.ints(name) for name in DAYS}
    return LifeTable(
        life=lives.ids,
        job=lives.ints("job_id"),
        vehicle=_of(_vehicles(jobs), job),
        starts=np.array([day.toordinal() for day in lives.columns["starts_on"]], dtype=np.int64),
        entry=days["entry_day"],
        clean=days["clean_day"],
        failed=days["failed_day"],
        all_clean=days["all_clean_day"],
        all_failed=days["all_failed_day"],
        ended=np.array([ENDED[each] for each in lives.columns["ended"]], dtype=np.int64),
        ended_day=days["ended_day"],
        damaged=np.array([why == DAMAGE for why in lives.columns["ended_why"]], dtype=bool),
        columns={**found, **own},
        own_fields=own_fields,
        installers=installers,
    )


def _of(values: IntArray, rows: IntArray) -> IntArray:
    """values[rows]; -1 where there is no such row."""
    return np.where(rows < 0, -1, values[np.maximum(rows, 0)]) if len(values) else np.full(len(rows), -1)


def _at(columns: Mapping[str, Column], rows: IntArray) -> dict[str, Column]:
    return {key: column.at(rows) for key, column in columns.items()}


def _places() -> Rows:
    names = technique_names(fields(Level.PLACE))
    return read(Place.objects.all(), "piece_id", "key", "kind", *names)


def _pieces() -> Rows:
    return read(FilmPiece.objects.all(), "panel_work_id", "product_id", "lot_id")


def _panels() -> Rows:
    names = technique_names(fields(Level.PANEL))
    return read(PanelWork.objects.all(), "job_id", "panel", "finished_at", *names)


def _jobs() -> Rows:
    names = technique_names(fields(Level.JOB))
    columns = ("vehicle_id", "vehicle__merged_into_id", "vehicle__body_style", "bay_id")
    return read(Job.objects.all(), *columns, *names)


def _of_place(places: Rows) -> dict[str, Column]:
    return {"place_kind": places.texts("kind"), "place": places.texts("key"), **_place_technique(places)}


def _place_technique(places: Rows) -> dict[str, Column]:
    """Of places a field makes no sense for nothing is recorded, whatever stands there."""
    kinds = np.array(places.columns["kind"])
    found: dict[str, Column] = {}
    for field in fields(Level.PLACE):
        column = places.technique([field])[field.key]
        fits = np.isin(kinds, [kind.value for kind in field.places]) if len(kinds) else kinds
        rows = np.where(fits, np.arange(len(kinds)), -1)
        found[field.key] = column if field.places == frozenset(PlaceKind) else column.at(rows)
    return found


def _vehicles(jobs: Rows) -> IntArray:
    """A vehicle recorded twice and merged since is one witness."""
    merged = jobs.ints("vehicle__merged_into_id")
    return np.where(merged < 0, jobs.ints("vehicle_id"), merged)


def _spots(places: Rows, pieces: Rows, panels: Rows) -> dict[str, Column]:
    """Panel and place together, such as "left-front-door / handle"."""
    piece = pieces.find(places.ints("piece_id"))
    panel = panels.find(_of(pieces.ints("panel_work_id"), piece))
    names = panels.columns["panel"]
    keys = places.columns["key"]
    return {"spot": texts(f"{names[p]} / {key}" for p, key in zip(panel, keys, strict=True))}


def _of_piece(pieces: Rows) -> dict[str, Column]:
    films = _names((film.pk, str(film)) for film in FilmProduct.objects.order_by("pk"))
    lots = _names((lot.pk, lot.number) for lot in Lot.objects.order_by("pk"))
    return {"film": pieces.mapped("product_id", films.get), "lot": pieces.mapped("lot_id", lots.get)}


def _leads(panels: Rows) -> tuple[Texts, dict[str, int]]:
    """Who led the work on every panel, so that none counts twice; and the member behind each name."""
    leads = PanelMember.objects.filter(is_lead=True).order_by("pk")
    rows = list(leads.values_list("panel_work_id", "member_id", "member__name"))
    names = _names({member: name for _, member, name in rows}.items())
    lead = {panel: names[member] for panel, member, _ in rows}
    return texts(lead.get(int(panel)) for panel in panels.ids), {name: pk for pk, name in names.items()}


def _of_panel(panels: Rows) -> dict[str, Column]:
    surfaces = dict(PanelIntake.objects.values_list("panel_work_id", "substrate"))
    return {
        "panel": panels.texts("panel"),
        "panel_kind": panels.mapped("panel", catalogue.kind_of),
        "substrate": texts(surfaces.get(int(panel)) for panel in panels.ids),
        **panels.technique(fields(Level.PANEL)),
    }


def _of_job(jobs: Rows) -> dict[str, Column]:
    bays = _names(Bay.objects.order_by("pk").values_list("pk", "name"))
    return {
        "body": jobs.texts("vehicle__body_style"),
        "bay": jobs.mapped("bay_id", bays.get),
        **jobs.technique(fields(Level.JOB)),
    }


def _names(rows: Iterable[tuple[int, str]]) -> dict[int, str]:
    """Names by id; two things of one name are told apart, never counted together."""
    kept = list(rows)
    often = Counter(name for _, name in kept)
    return {pk: name if often[name] == 1 else f"{name} ({pk})" for pk, name in kept}


def _own_fields(
    lives: Rows, place: IntArray, places: Rows, panel: IntArray, panels: Rows
) -> tuple[dict[str, str], dict[str, Column]]:
    """Names of the fields the shop defined, and what they say of every life; two queries."""
    own = list(ShopField.objects.order_by("key"))
    names = ("field_id", "value", "basis", "job_id", "panel_work_id", "place_id")
    said = read(FieldValue.objects.all(), *names)
    ids = {
        "job": lives.ints("job_id"),
        "panel": _of(panels.ids, panel),
        "place": _of(places.ids, place),
    }
    columns = {f"{OWN}{field.key}": _own_column(field, said, ids[field.level]) for field in own}
    named = {
        f"{OWN}{field.key}": f"{field.name} ({field.unit})" if field.unit else field.name for field in own
    }
    return named, columns


def _own_column(field: ShopField, said: Rows, ids: IntArray) -> Column:
    of_level = {"job": "job_id", "panel": "panel_work_id", "place": "place_id"}[field.level]
    rows = np.flatnonzero(said.ints("field_id") == field.pk)
    owner = said.ints(of_level)[rows]
    order = np.argsort(owner, kind="stable")
    values = [said.columns["value"][row] for row in rows[order]]
    basis = [said.columns["basis"][row] for row in rows[order]]
    column: Column
    if field.kind == ShopField.Kind.NUMBER:
        column = numbers([_number(value) for value in values], basis, step=1.0)
    else:
        column = texts(values, basis)
    return column.at(rows_in(owner[order], ids))


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None
