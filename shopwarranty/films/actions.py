"""What changes in the film room: products, lots, rolls, cuts, quarantine."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction

from shopwarranty.shops.history import Actor, record_change

from .models import Cut, FilmProduct, Lot, Roll, RollMeasurement


class AlreadyThere(Exception):
    """A product, lot or roll of that name exists already."""


class ReasonNeeded(Exception):
    """The act is unusual enough to need a reason: a quarantined lot, a roll that would fall below zero."""

    def __init__(self, question: str) -> None:
        super().__init__(question)
        self.question = question


@dataclass(frozen=True, slots=True)
class CutSize:
    """`off_roll_mm` is how much shorter the roll is afterwards; 0 for a piece out of an off-cut."""

    along_mm: float
    across_mm: float | None
    off_roll_mm: float
    long_side_across: bool | None = None


@transaction.atomic
def add_product(*, values: dict[str, Any], actor: Actor, now: datetime) -> FilmProduct:
    if FilmProduct.objects.filter(maker__iexact=values["maker"], name__iexact=values["name"]).exists():
        raise AlreadyThere
    product = FilmProduct.objects.create(**values)
    record_change(row=product, act="film added", actor=actor, at=now, after=values)
    return product


@transaction.atomic
def change_product(*, product: FilmProduct, values: dict[str, Any], actor: Actor, now: datetime) -> None:
    """Old jobs keep what their certificates say; the product itself may be described better."""
    before = {name: getattr(product, name) for name in values}
    changed = {name: value for name, value in values.items() if value != before[name]}
    for name, value in changed.items():
        setattr(product, name, value)
    if changed:
        product.save(update_fields=list(changed))
        old = {name: before[name] for name in changed}
        record_change(row=product, act="film changed", actor=actor, at=now, before=old, after=changed)


@transaction.atomic
def lot_named(*, product: FilmProduct, number: str, actor: Actor, now: datetime) -> Lot:
    """The lot of that number, made on first mention."""
    lot, new = Lot.objects.get_or_create(product=product, number=number.strip())
    if new:
        record_change(row=lot, act="lot added", actor=actor, at=now, after={"number": lot.number})
    return lot


@transaction.atomic
def add_roll(
    *,
    product: FilmProduct,
    label: str,
    lot_number: str,
    lot_unknown_reason: str,
    actor: Actor,
    now: datetime,
    **more: Any,
) -> Roll:
    """A roll as received. Its lot is named, or unknown with a reason."""
    if Roll.objects.filter(label__iexact=label).exists():
        raise AlreadyThere
    lot = lot_named(product=product, number=lot_number, actor=actor, now=now) if lot_number else None
    roll = Roll.objects.create(
        product=product, label=label, lot=lot, lot_unknown_reason="" if lot else lot_unknown_reason, **more
    )
    record_change(
        row=roll, act="roll received", actor=actor, at=now, after={"label": label, "lot": lot_number}
    )
    return roll


@transaction.atomic
def measure_roll(*, roll: Roll, left_mm: float, why: str, actor: Actor, now: datetime) -> RollMeasurement:
    """What was measured counts from now on; the difference stays visible in the history."""
    expected = left_on(roll)
    row = RollMeasurement.objects.create(
        roll=roll, left_mm=left_mm, measured_at=now, member=actor.member, why=why
    )
    record_change(
        row=roll,
        act="roll measured",
        actor=actor,
        at=now,
        before={"left_mm": expected},
        after={"left_mm": left_mm},
        why=why,
    )
    return row


@transaction.atomic
def finish_roll(*, roll: Roll, actor: Actor, now: datetime) -> None:
    today = now.astimezone(roll.shop.zone).date()
    if Roll.objects.filter(pk=roll.pk, finished_on__isnull=True).update(finished_on=today):
        record_change(row=roll, act="roll finished", actor=actor, at=now)


def left_on(roll: Roll) -> float | None:
    row: Any = Roll.objects.with_left().get(pk=roll.pk)
    left: float | None = row.left_mm
    return left


@transaction.atomic
def take_cut(
    *,
    roll: Roll | None,
    kind: str,
    size: CutSize,
    actor: Actor,
    now: datetime,
    from_offcut: Cut | None = None,
    reason: str = "",
    note: str = "",
) -> Cut:
    """Film off a roll or off-cut. Raises ReasonNeeded for a quarantined lot or a roll falling below zero."""
    question = what_to_ask(roll, size)
    if question and not reason:
        raise ReasonNeeded(question)
    cut = Cut.objects.create(
        roll=roll,
        from_offcut=from_offcut,
        kind=kind,
        along_mm=size.along_mm,
        across_mm=size.across_mm,
        off_roll_mm=size.off_roll_mm,
        long_side_across=size.long_side_across,
        cut_at=now,
        member=actor.member,
        note=note,
    )
    if from_offcut:
        Cut.objects.filter(pk=from_offcut.pk).update(used_up_at=now)
    if roll and roll.opened_on is None:
        Roll.objects.filter(pk=roll.pk).update(opened_on=now.astimezone(roll.shop.zone).date())
    if question:
        record_change(row=cut, act=question, actor=actor, at=now, why=reason)
    return cut


def what_to_ask(roll: Roll | None, size: CutSize) -> str:
    if roll is None:
        return ""
    if roll.lot and roll.lot.quarantined_at:
        return "quarantined_lot"
    left = left_on(roll)
    return "roll_below_zero" if left is not None and left - size.off_roll_mm < 0 else ""


@transaction.atomic
def quarantine(*, lot: Lot, reason: str, actor: Actor, now: datetime) -> None:
    """Warns whoever picks the lot from now on. Nobody is told automatically."""
    values = {"quarantined_at": now, "quarantine_reason": reason, "quarantined_by": actor.member}
    if Lot.objects.filter(pk=lot.pk, quarantined_at__isnull=True).update(**values):
        record_change(row=lot, act="quarantined", actor=actor, at=now, why=reason)


@transaction.atomic
def lift_quarantine(*, lot: Lot, reason: str, actor: Actor, now: datetime) -> None:
    values: dict[str, Any] = {"quarantined_at": None, "quarantine_reason": "", "quarantined_by": None}
    if Lot.objects.filter(pk=lot.pk, quarantined_at__isnull=False).update(**values):
        old = {"quarantine_reason": lot.quarantine_reason}
        record_change(row=lot, act="quarantine lifted", actor=actor, at=now, before=old, why=reason)
