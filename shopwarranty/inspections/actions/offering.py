"""When checks can be had: rules of booking, single days, and the hours of a bay. Bookings made stay."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import Any

from django.db import transaction

from shopwarranty.inspections.slots import Stretch
from shopwarranty.shops.actions import Hours, change_shop, close_day
from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.models import Bay, ClosedDay, Shop

from ..models import BayHours, CheckRules, OwnDay
from ..rules import rules_of

OF_SHOP = frozenset({"check_minutes", "lead_hours", "ahead_days"})


@transaction.atomic
def change_rules(*, shop: Shop, values: Mapping[str, Any], actor: Actor, now: datetime) -> CheckRules:
    """Rules of booking and of writing; those that the shop itself carries go there."""
    of_shop = {name: value for name, value in values.items() if name in OF_SHOP}
    if of_shop:
        change_shop(shop=shop, values=of_shop, actor=actor, now=now)
    rules = _stored(shop)
    wanted = {name: value for name, value in values.items() if name not in OF_SHOP}
    before = {name: getattr(rules, name) for name in wanted}
    changed = {name: value for name, value in wanted.items() if before[name] != value}
    if changed:
        CheckRules.objects.filter(pk=rules.pk).update(**changed)
        was = {name: before[name] for name in changed}
        record_change(row=rules, act="rules of checks", actor=actor, at=now, before=was, after=changed)
        rules.refresh_from_db()
    return rules


def _stored(shop: Shop) -> CheckRules:
    rules = rules_of(shop)
    if rules._state.adding:
        CheckRules.objects.bulk_create([rules], ignore_conflicts=True)
        rules = rules_of(shop)
    return rules


@transaction.atomic
def close_on(*, on: date, why: str, actor: Actor, now: datetime) -> None:
    OwnDay.objects.filter(on=on).delete()
    close_day(on=on, name=why, actor=actor, now=now)


@transaction.atomic
def open_on(*, on: date, own: Stretch | None, actor: Actor, now: datetime) -> None:
    """Opens on a day that would be closed: with hours of its own, or with those of its weekday."""
    ClosedDay.objects.filter(on=on).delete()
    hours = {"opens": own.opens if own else None, "closes": own.closes if own else None}
    day, _new = OwnDay.objects.update_or_create(on=on, defaults=hours)
    record_change(row=day, act="day opened", actor=actor, at=now, after={"on": on, **hours})


@transaction.atomic
def as_usual_on(*, on: date, actor: Actor, now: datetime) -> None:
    """Whatever was said about this day by hand counts no more; a public holiday is closed again."""
    for row in (*OwnDay.objects.filter(on=on), *ClosedDay.objects.filter(on=on)):
        record_change(row=row, act="day as usual again", actor=actor, at=now, before={"on": on})
        row.delete()


@transaction.atomic
def set_bay_hours(
    *, bay: Bay, takes_checks: bool, hours: Iterable[Hours], actor: Actor, now: datetime
) -> None:
    """No hours: whenever the shop is open."""
    before = [str(row) for row in BayHours.objects.filter(bay=bay).values_list("weekday", "opens", "closes")]
    rows = [BayHours(bay=bay, weekday=each.weekday, opens=each.opens, closes=each.closes) for each in hours]
    BayHours.objects.filter(bay=bay).delete()
    BayHours.objects.bulk_create(rows)
    was = {"takes_checks": bay.takes_checks, "hours": before}
    Bay.objects.filter(pk=bay.pk).update(takes_checks=takes_checks)
    after = [f"({row.weekday}, {row.opens}, {row.closes})" for row in rows]
    record_change(
        row=bay,
        act="hours of a bay",
        actor=actor,
        at=now,
        before=was,
        after={"takes_checks": takes_checks, "hours": after},
    )
