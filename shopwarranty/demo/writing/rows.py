"""What all of the writing shares: moments of the shop's zone, rows by the story's indexes."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import TypeVar

from django.db import models

from shopwarranty.films.models import Cut, FilmProduct, Lot, Roll
from shopwarranty.inspections.models import Booking, Check, Finding, Visit
from shopwarranty.jobs.models import Job, MethodVersion, PanelWork, Party, Place, Vehicle
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Change, Member, Shop
from shopwarranty.shops.rows import ShopOwned

AT_ONCE = 500
Row = TypeVar("Row", bound=models.Model)


@dataclass(slots=True)
class Written:
    """Rows of the demo shop, under the story's keys and indexes."""

    shop: Shop
    members: dict[str, Member] = field(default_factory=dict)
    versions: dict[tuple[str, int], MethodVersion] = field(default_factory=dict)
    products: dict[str, FilmProduct] = field(default_factory=dict)
    lots: list[Lot] = field(default_factory=list)
    rolls: list[Roll] = field(default_factory=list)
    cuts: list[list[Cut]] = field(default_factory=list)
    parties: list[Party] = field(default_factory=list)
    vehicles: list[Vehicle] = field(default_factory=list)
    jobs: list[Job] = field(default_factory=list)
    panels: list[list[PanelWork]] = field(default_factory=list)
    places: list[list[Place]] = field(default_factory=list)
    visits: list[list[Visit]] = field(default_factory=list)
    findings: dict[tuple[int, int, int], Finding] = field(default_factory=dict)
    checks: dict[tuple[int, str], Check] = field(default_factory=dict)
    bookings: dict[tuple[int, str], Booking] = field(default_factory=dict)

    def actor(self, key: str) -> Actor:
        return Actor.of(self.members[key])

    def at(self, wall: datetime) -> datetime:
        """The moment that a wall time stands for in the shop's zone."""
        return wall.replace(tzinfo=self.shop.zone)


def add(rows: Iterable[Row]) -> list[Row]:
    """Writes all rows of one model; gives them back with their ids."""
    kept = list(rows)
    if not kept:
        return []
    made: list[Row] = type(kept[0])._default_manager.bulk_create(kept, batch_size=AT_ONCE)
    return made


def change(row: ShopOwned, act: str, member: Member, at: datetime, after: dict[str, object]) -> Change:
    """A line of history, not yet saved."""
    return Change(
        at=at, member=member, who=member.name, act=act, table=row._meta.db_table, row=row.pk, after=after
    )
