"""Any number of copies of whole jobs: vehicle, film, checks, visits, defects, certificate, messages, history.

What an act of the program once wrote is copied row by row, so that a large shop looks like the small one.
"""

from collections.abc import Callable, Mapping
from datetime import datetime, time, timedelta
from functools import cache
from typing import Any

from django.db import models

from shopwarranty.defects.models import Defect, Life, Remedy, Sighting
from shopwarranty.inspections.models import BookedQuarter, Booking, Check, ContactAttempt, Finding, Visit
from shopwarranty.jobs.models import (
    Deviation,
    FilmPiece,
    Holding,
    Job,
    PanelMember,
    PanelWork,
    Party,
    Place,
    Plate,
    Reading,
    Vehicle,
)
from shopwarranty.outbox.models import Message
from shopwarranty.shops.many_rows import Table
from shopwarranty.shops.models import Change
from shopwarranty.shops.rows import ShopOwned
from shopwarranty.warranty.models import Certificate, Cover
from tests import builders

# Each after those it points to; what is not here (films, methods, plans, members) all copies share.
COPIED: tuple[type[ShopOwned], ...] = (
    *(Party, Vehicle, Plate, Holding, Job, PanelWork, PanelMember, FilmPiece, Place, Reading, Deviation),
    *(Check, ContactAttempt, Booking, BookedQuarter, Visit, Finding, Defect, Sighting, Remedy, Life),
    *(Certificate, Cover, Message, Change),
)
Row = dict[str, Any]
Links = dict[str, type[models.Model]]
New = dict[tuple[type[models.Model], int], int]  # the copy's id by model and the pattern's id
PER_DAY = 10  # appointments of three quarters of an hour


def numbered(name: str) -> Callable[[Row, int], None]:
    def change(row: Row, copy: int) -> None:
        row[name] = f"{row[name]}-{copy}"

    return change


def spread(row: Row, copy: int) -> None:
    """Checks fall due over six weeks, some of them overdue."""
    for name in ("due_on", "window_from", "window_to"):
        row[name] += timedelta(days=copy % 42 - 21)


def slot(copy: int) -> datetime:
    """The next working hours of the first bay, one after the other: a large shop is full for months."""
    start = datetime.combine(builders.TODAY + timedelta(days=copy // PER_DAY), time(14))
    return builders.noon(start.date()) + timedelta(hours=2, minutes=45 * (copy % PER_DAY))


def booked(row: Row, copy: int) -> None:
    row["starts_at"], row["lane"] = slot(copy), 1
    row["starts_local"] = f"{slot(copy) - timedelta(hours=5):%Y-%m-%dT%H:%M}"


def held(row: Row, copy: int) -> None:
    row["quarter"], row["lane"] = slot(copy) + timedelta(minutes=15 * row["nth"]), 1


OWN: Mapping[type[models.Model], tuple[Callable[[Row, int], None], ...]] = {
    Job: (numbered("ref"),),
    Vehicle: (numbered("vin"),),
    Plate: (numbered("text"), numbered("searched")),
    Defect: (numbered("number"),),
    Certificate: (numbered("number"), numbered("code")),
    Message: (numbered("key"),),
    Check: (spread,),
    Booking: (booked,),
    BookedQuarter: (held,),
}


class Copies:
    """Copies of every job that is in the shop in scope when this is made."""

    def __init__(self) -> None:
        self.patterns = {model: pattern_rows(model) for model in COPIED}
        self.made = 0

    def grow_to(self, number: int) -> None:
        names = {model: attnames(model) for model in COPIED}
        sheets = {model: Table(model, names[model]) for model in COPIED}
        for copy in range(self.made + 1, number + 1):
            new: New = {}
            for model in COPIED:
                for row in self.patterns[model]:
                    values = copied(model, row, copy, new)
                    new[model, row["id"]] = sheets[model].add(*(values[name] for name in names[model]))
        for model in COPIED:
            sheets[model].flush()
        self.made = number


def attnames(model: type[models.Model]) -> list[str]:
    names = [field.attname for field in model._meta.local_concrete_fields]
    return [name for name in names if name not in ("id", "shop_id", "uid")]


def pattern_rows(model: type[ShopOwned]) -> list[Row]:
    rows: list[Row] = [{**row} for row in model.objects.order_by("pk").values()]
    if model is BookedQuarter:
        rows = [{**row, "nth": nth % 3} for nth, row in enumerate(rows)]
    return rows


@cache
def links_of(model: type[models.Model]) -> Links:
    return {
        field.attname: field.related_model  # type: ignore[misc]
        for field in model._meta.local_concrete_fields
        if isinstance(field, models.ForeignKey) and field.related_model in COPIED
    }


def copied(model: type[models.Model], pattern: Row, copy: int, new: New) -> Row:
    row = dict(pattern)
    for name, target in links_of(model).items():
        if row[name] is not None:
            row[name] = new[target, row[name]]
    if model is Change:
        row["row"] = moved(row, new)
    for change in OWN.get(model, ()):
        change(row, copy)
    return row


def moved(row: Row, new: New) -> int:
    """The history names rows by table and id."""
    tables = {model._meta.db_table: model for model in COPIED}
    target, here = tables.get(row["table"]), int(row["row"])
    return new.get((target, here), here) if target else here
