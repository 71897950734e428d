"""Vehicles, their plates, and who holds them. Plates and holders are dated and never overwritten."""

from datetime import date, datetime
from typing import Any

from django.db import transaction

from shopwarranty.shops.history import Actor, record_change
from shopwarranty.trade import catalogue
from shopwarranty.trade import vin as trade_vin

from ..models import Holding, PanelWork, Party, Plate, Vehicle
from ..plates import searched_form
from ..shop_catalogue import ShopCatalogue
from .refusals import PanelsElsewhere, StaleSave, VinKnown, VinRefused

VIN = Vehicle.VinKind


@transaction.atomic
def add_party(*, name: str, actor: Actor, now: datetime, **more: Any) -> Party:
    """A person or firm: `kind`, `email`, `telephone`, `address`, `language`, `is_consumer`, `note`."""
    party = Party.objects.create(name=name.strip(), **more)
    record_change(row=party, act="party added", actor=actor, at=now, after={"name": party.name})
    return party


@transaction.atomic
def change_party(
    *, party: Party, values: dict[str, Any], actor: Actor, now: datetime, why: str = ""
) -> Party:
    changed: Party = change_row(party, values, act="party changed", actor=actor, now=now, why=why)
    return changed


@transaction.atomic
def represent_party(*, party: Party, by: Party, since: date, note: str, actor: Actor, now: datetime) -> Party:
    """Somebody acts for the party from that day on (power of attorney, estate). No documents are kept."""
    values = {"represented_by": by, "represented_from": since, "note": note or party.note}
    changed: Party = change_row(party, values, act="represented", actor=actor, now=now)
    return changed


@transaction.atomic
def add_vehicle(*, body_style: str, actor: Actor, now: datetime, **more: Any) -> Vehicle:
    """A vehicle or loose test panel: `make`, `model`, `year`, `colour`, `use`, `owned`, `note`, and `vin`,
    `vin_kind`, `vin_reason`. Raises VinRefused, VinKnown, or UnknownBody of the catalogue."""
    catalogue.body(body_style)
    values = {**more, **vin_values(more.get("vin", ""), more.get("vin_kind", VIN.TO_READ))}
    vehicle = Vehicle.objects.create(body_style=body_style, **values)
    record_change(
        row=vehicle, act="vehicle added", actor=actor, at=now, after={"body_style": body_style, **values}
    )
    return vehicle


@transaction.atomic
def change_vehicle(*, vehicle: Vehicle, values: dict[str, Any], actor: Actor, now: datetime) -> Vehicle:
    """Corrects what is known of the vehicle; certificates already issued stay as they are.

    Raises PanelsElsewhere for a body style without the panels that film was put on, VinRefused or VinKnown.
    """
    if "vin" in values or "vin_kind" in values:
        kind = values.get("vin_kind", vehicle.vin_kind)
        values = {**values, **vin_values(values.get("vin", vehicle.vin), kind, itself=vehicle)}
    if "body_style" in values:
        catalogue.body(values["body_style"])
        guard_panels(vehicle, values["body_style"])
    changed: Vehicle = change_row(vehicle, values, act="vehicle changed", actor=actor, now=now)
    return changed


def guard_panels(vehicle: Vehicle, body_style: str) -> None:
    if body_style == vehicle.body_style:
        return
    shop_catalogue = ShopCatalogue(vehicle.shop)
    rows = PanelWork.objects.filter(job__vehicle=vehicle).order_by("walk")
    used = dict.fromkeys(rows.values_list("panel", flat=True))
    there = {*shop_catalogue.panel_keys(body_style), *shop_catalogue.own_panels}
    missing = [key for key in used if key not in there]
    if missing:
        raise PanelsElsewhere(tuple(shop_catalogue.panel_name(vehicle.body_style, key) for key in missing))


def vin_values(typed: str, kind: str, *, itself: Vehicle | None = None) -> dict[str, Any]:
    """VIN and its kind as stored. A check digit that does not agree is no fault: it is shown, not refused."""
    if kind in (VIN.TO_READ, VIN.NONE):
        return {"vin": "", "vin_kind": kind}
    if kind == VIN.CHASSIS:
        return {"vin": " ".join(typed.split()).upper(), "vin_kind": kind}
    checked = trade_vin.check(typed)
    if checked.faults:
        raise VinRefused(checked.faults, checked.suggestion)
    known = Vehicle.objects.filter(vin=checked.vin, vin_kind=VIN.VIN, merged_into__isnull=True)
    other = known.exclude(pk=itself.pk).first() if itself else known.first()
    if other:
        raise VinKnown(other)
    return {"vin": checked.vin, "vin_kind": kind}


@transaction.atomic
def set_plate(
    *, vehicle: Vehicle, text: str, since: date, actor: Actor, now: datetime, ends_elsewhere: bool = False
) -> Plate | None:
    """The plate from that day on; the one before ends there and still finds the vehicle. "" takes it off.

    `ends_elsewhere` ends the same plate on whatever other vehicle carries it.
    """
    text = " ".join(text.split()).upper()
    old = vehicle.plates.filter(until__isnull=True).first()
    if old and searched_form(old.text) == searched_form(text):
        return old
    if old:
        Plate.objects.filter(pk=old.pk).update(until=max(since, old.since))
    if text and ends_elsewhere:
        end_plate_elsewhere(text, vehicle, since, actor, now)
    plate = None
    if text:
        plate = Plate.objects.create(vehicle=vehicle, text=text, searched=searched_form(text), since=since)
    record_change(
        row=vehicle,
        act="plate",
        actor=actor,
        at=now,
        before={"plate": old.text if old else ""},
        after={"plate": text, "since": since},
    )
    return plate


def end_plate_elsewhere(text: str, vehicle: Vehicle, on: date, actor: Actor, now: datetime) -> None:
    others = Plate.objects.filter(searched=searched_form(text), until__isnull=True).exclude(vehicle=vehicle)
    for plate in others.select_related("vehicle"):
        Plate.objects.filter(pk=plate.pk).update(until=max(on, plate.since))
        record_change(
            row=plate.vehicle,
            act="plate",
            actor=actor,
            at=now,
            before={"plate": plate.text},
            after={"plate": "", "since": on},
            why="the plate went to another vehicle",
        )


@transaction.atomic
def hold_vehicle(
    *, vehicle: Vehicle, party: Party, role: str, since: date, actor: Actor, now: datetime, why: str = ""
) -> Holding:
    """The party in this role from that day on; whoever had the role before is kept with an end."""
    old = vehicle.holdings.filter(role=role, until__isnull=True).select_related("party").first()
    if old and old.party_id == party.pk:
        return old
    if old:
        Holding.objects.filter(pk=old.pk).update(until=max(since, old.since))
    holding = Holding.objects.create(vehicle=vehicle, party=party, role=role, since=since)
    record_change(
        row=vehicle,
        act=f"{role} of the vehicle",
        actor=actor,
        at=now,
        before={"party": old.party.name if old else ""},
        after={"party": party.name, "since": since},
        why=why,
    )
    return holding


@transaction.atomic
def end_holding(*, holding: Holding, until: date, actor: Actor, now: datetime, why: str = "") -> None:
    """Nobody takes the role over."""
    if Holding.objects.filter(pk=holding.pk, until__isnull=True).update(until=max(until, holding.since)):
        before, after = {"party": holding.party.name}, {"until": until}
        record_change(
            row=holding.vehicle,
            act=f"no {holding.role}",
            actor=actor,
            at=now,
            before=before,
            after=after,
            why=why,
        )


def change_row(
    row: Any, values: dict[str, Any], *, act: str, actor: Actor, now: datetime, why: str = ""
) -> Any:
    """Saves what differs and keeps what stood there before; nothing differs: nothing is written.

    Raises StaleSave where somebody else has saved one of these values since the row was read.
    """
    changed = {name: value for name, value in values.items() if getattr(row, name) != value}
    if not changed:
        return row
    before = {name: getattr(row, name) for name in changed}
    stands = type(row).objects.select_for_update().get(pk=row.pk)
    theirs = {name: getattr(stands, name) for name in changed}
    if theirs != before:
        raise StaleSave(row, theirs, changed)
    for name, value in changed.items():
        setattr(row, name, value)
    row.save(update_fields=list(changed))
    record_change(row=row, act=act, actor=actor, at=now, before=kept(before), after=kept(changed), why=why)
    return row


def kept(values: dict[str, Any]) -> dict[str, Any]:
    """Rows as their keys, so that history can keep them."""
    return {name: value.pk if hasattr(value, "pk") else value for name, value in values.items()}
