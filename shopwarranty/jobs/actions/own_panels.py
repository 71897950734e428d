"""Panels and places the shop adds to the catalogue. Retired ones keep their name on recorded jobs."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils.text import slugify

from shopwarranty.shops.history import Actor, record_change

from ..models import ShopPanel, ShopPlace
from .refusals import NameTaken


@transaction.atomic
def add_shop_panel(
    *, name: str, edges: Sequence[str], actor: Actor, now: datetime, body_style: str = ""
) -> ShopPanel:
    """A panel the trade's catalogue lacks, with the names of its edges in order. Raises NameTaken."""
    if ShopPanel.objects.filter(name__iexact=name.strip(), retired_at__isnull=True).exists():
        raise NameTaken(name)
    taken = set(ShopPanel.objects.values_list("key", flat=True))
    panel = ShopPanel.objects.create(
        key=own_key(name, taken), name=name.strip(), edges=list(edges), body_style=body_style
    )
    after = {"name": panel.name, "edges": panel.edges, "body_style": body_style}
    record_change(row=panel, act="panel added to the catalogue", actor=actor, at=now, after=after)
    return panel


@transaction.atomic
def add_shop_place(
    *, panel: str, name: str, kind: str, spot: int, actor: Actor, now: datetime, body_style: str = ""
) -> ShopPlace:
    """An edge or recess of a known panel, drawn at one of nine spots. Raises NameTaken."""
    there = ShopPlace.objects.filter(panel=panel, name__iexact=name.strip(), retired_at__isnull=True)
    if there.exists():
        raise NameTaken(name)
    taken = set(ShopPlace.objects.filter(panel=panel).values_list("key", flat=True))
    place = ShopPlace.objects.create(
        panel=panel,
        key=own_key(name, taken),
        name=name.strip(),
        kind=kind,
        spot=spot,
        body_style=body_style,
    )
    after = {"panel": panel, "name": place.name, "kind": kind, "spot": spot}
    record_change(row=place, act="place added to the catalogue", actor=actor, at=now, after=after)
    return place


@transaction.atomic
def retire_own(*, row: ShopPanel | ShopPlace, actor: Actor, now: datetime) -> None:
    """Not offered for new panels any more."""
    rows = type(row).objects.filter(pk=row.pk, retired_at__isnull=True)
    if rows.update(retired_at=now):
        record_change(row=row, act="taken out of the catalogue", actor=actor, at=now)


def own_key(name: str, taken: set[str]) -> str:
    """A stable key made from the name; a name used before gets a number."""
    wanted = f"own-{slugify(name) or 'part'}"[:40]
    if wanted not in taken:
        return wanted
    return next(key for n in range(2, len(taken) + 3) if (key := f"{wanted}-{n}") not in taken)
