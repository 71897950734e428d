"""The method confirmed panel by panel: only then do its values count, and only where nobody spoke."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from shopwarranty.shops.history import Actor, record_change
from shopwarranty.trade.method import panel_values, place_values
from shopwarranty.trade.technique import BY_KEY

from ..models import (
    Deviation,
    FieldValue,
    PanelWork,
    Place,
    ShopField,
)
from ..technique_rows import PANEL_FIELDS, as_text, columns_of, place_fields
from ..usual import usual_of_panel, usual_of_place
from .panels import finish_panel
from .refusals import NoMethod
from .values import (
    Target,
    clear_by_method,
    fill_by_method,
    guard_correction,
    guard_version,
    locked_panel,
    save_next_version,
)


@transaction.atomic
def confirm_panel(
    *,
    panel_work: PanelWork,
    actor: Actor,
    now: datetime,
    finished: bool = False,
    finished_at: datetime | None = None,
    reason: str = "",
    version: int | None = None,
) -> PanelWork:
    """What the method says for the panel and its places counts from now on, except where somebody spoke.

    Raises NoMethod. Confirming again fills in places that were added since.
    """
    fresh = locked_panel(panel_work.pk)
    guard_correction(fresh.job, fresh, reason)
    if fresh.confirmed_at is None:  # pressed twice, the second press finds it confirmed
        guard_version(fresh, version, {})
    if fresh.job.method_version is None:
        raise NoMethod
    news = fresh.confirmed_at is None
    news |= fill_places(fresh)
    fill_panel(fresh, actor, now)
    fill_own_fields(fresh, fresh.job.method_version.values)
    if news:
        after = {"method": str(fresh.job.method_version), "places": standing_places(fresh).count()}
        record_change(row=fresh, act="confirmed by method", actor=actor, at=now, after=after, why=reason)
    if finished and fresh.finished_at is None:
        return finish_panel(panel_work=fresh, actor=actor, now=now, finished_at=finished_at)
    return fresh


def fill_panel(panel_work: PanelWork, actor: Actor, now: datetime) -> None:
    target = Target(panel_work.job, panel_work)
    spoken = frozenset(row.field for row in target.deviations)
    filled = fill_by_method(target, usual_of_panel(panel_work), spoken)
    if panel_work.confirmed_at is None:
        panel_work.confirmed_at, panel_work.confirmed_by = now, actor.member
    columns = [column for key in filled for column in columns_of(key)]
    save_next_version(panel_work, [*columns, "confirmed_at", "confirmed_by"])


def standing_places(panel_work: PanelWork) -> Any:
    return Place.objects.filter(piece__panel_work=panel_work, piece__ended_on__isnull=True)


def fill_places(panel_work: PanelWork) -> bool:
    """All places of the panel in three queries; returns whether anything was filled in."""
    places = list(standing_places(panel_work).select_related("piece"))
    spoken = spoken_of_places(panel_work)
    changed = set()
    for place in places:
        target = Target(panel_work.job, panel_work, place)
        filled = fill_by_method(target, usual_of_place(panel_work, place), spoken.get(place.pk, frozenset()))
        place.version += bool(filled)
        changed |= {column for key in filled for column in columns_of(key)}
    if changed:
        Place.objects.bulk_update(places, [*changed, "version"])
    return bool(changed)


def spoken_of_places(panel_work: PanelWork) -> dict[int, frozenset[str]]:
    rows = Deviation.objects.filter(panel_work=panel_work, place__isnull=False, undone_at__isnull=True)
    spoken: dict[int, set[str]] = {}
    for place, field in rows.values_list("place", "field"):
        spoken.setdefault(place, set()).add(field)
    return {place: frozenset(keys) for place, keys in spoken.items()}


def fill_own_fields(panel_work: PanelWork, method: dict[str, Any]) -> None:
    """Shop-defined fields the method names, where no value stands yet."""
    fields = {field.key: field for field in ShopField.objects.filter(retired_at__isnull=True)}
    if not fields:
        return
    wanted = own_of_panel(panel_work, method, fields) + own_of_places(panel_work, method, fields)
    FieldValue.objects.bulk_create(wanted)


def own_of_panel(
    panel_work: PanelWork, method: dict[str, Any], fields: Mapping[str, ShopField]
) -> list[FieldValue]:
    there = set(panel_work.field_values.values_list("field__key", flat=True))
    return [
        FieldValue(field=fields[key], panel_work=panel_work, value=as_text(value), basis="by_method")
        for key, value in panel_values(method, panel_work.panel).items()
        if key in fields and key not in BY_KEY and key not in there
    ]


def own_of_places(
    panel_work: PanelWork, method: dict[str, Any], fields: Mapping[str, ShopField]
) -> list[FieldValue]:
    places = Place.objects.filter(piece__panel_work=panel_work)
    there = set(FieldValue.objects.filter(place__in=places).values_list("field__key", "place"))
    return [
        FieldValue(field=fields[key], place=place, value=as_text(value), basis="by_method")
        for place in places
        for key, value in place_values(method, panel_work.panel, place.key, place.kind).items()
        if key in fields and key not in BY_KEY and (key, place.pk) not in there
    ]


@transaction.atomic
def unconfirm_panel(*, panel_work: PanelWork, actor: Actor, now: datetime, reason: str = "") -> PanelWork:
    """Takes the confirmation back: what only the method said is not recorded any more."""
    fresh = locked_panel(panel_work.pk)
    guard_correction(fresh.job, fresh, reason)
    if fresh.confirmed_at:
        take_back_confirmation(fresh)
        record_change(row=fresh, act="confirmation taken back", actor=actor, at=now, why=reason)
    return fresh


def take_back_confirmation(panel_work: PanelWork) -> None:
    cleared = clear_by_method(panel_work, PANEL_FIELDS)
    panel_work.confirmed_at = panel_work.confirmed_by = None
    columns = [column for key in cleared for column in columns_of(key)]
    save_next_version(panel_work, [*columns, "confirmed_at", "confirmed_by"])
    places = list(Place.objects.filter(piece__panel_work=panel_work))
    changed = set()
    for place in places:
        keys = clear_by_method(place, place_fields(place.kind))
        place.version += bool(keys)
        changed |= {column for key in keys for column in columns_of(key)}
    if changed:
        Place.objects.bulk_update(places, [*changed, "version"])
    own = FieldValue.objects.filter(basis="by_method")
    own.filter(panel_work=panel_work).delete()
    own.filter(place__in=places).delete()
