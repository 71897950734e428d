"""The shop's methods and its own technique fields. A version never changes: a change is a new version."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils.text import slugify
from django.utils.translation import gettext

from shopwarranty.shops.history import Actor, record_change
from shopwarranty.trade.method import faults
from shopwarranty.trade.technique import FieldKind, Level, TechniqueField
from shopwarranty.trade.words import Choice

from ..models import Method, MethodVersion, ShopField
from .refusals import FaultyMethod, NameTaken

# Names no temperature: what a film bears stands in its own data, what a shop does in its own method.
USUAL_VALUES: dict[str, dict[str, Any]] = {
    "panel": {"washed": True, "solvent_wiped": True, "blown_off": True},
    "edge": {"post_heated": True, "passes": 2},
    "recess": {"post_heated": True},
}


@transaction.atomic
def add_method(
    *, name: str, values: dict[str, Any], actor: Actor, now: datetime, note: str = ""
) -> MethodVersion:
    """A new method with its first version. Raises NameTaken, FaultyMethod."""
    if Method.objects.filter(name__iexact=name.strip()).exists():
        raise NameTaken(name)
    method = Method.objects.create(name=name.strip())
    record_change(row=method, act="method added", actor=actor, at=now, after={"name": method.name})
    return write_method_version(method=method, values=values, actor=actor, now=now, note=note)


@transaction.atomic
def write_method_version(
    *, method: Method, values: dict[str, Any], actor: Actor, now: datetime, note: str = ""
) -> MethodVersion:
    """The next version; jobs keep the one they were recorded with. Raises FaultyMethod."""
    wrong = faults(values, [as_technique_field(field) for field in ShopField.objects.all()])
    if wrong:
        raise FaultyMethod(wrong)
    last = method.versions.aggregate(last=Max("number"))["last"] or 0
    version = MethodVersion.objects.create(
        method=method, number=last + 1, values=values, note=note, written_by=actor.member, valid_from=now
    )
    record_change(
        row=method, act="method version", actor=actor, at=now, after={"number": version.number}, why=note
    )
    return version


@transaction.atomic
def retire_method(*, method: Method, actor: Actor, now: datetime) -> None:
    """Not offered for new jobs any more; recorded jobs keep it."""
    if Method.objects.filter(pk=method.pk, retired_at__isnull=True).update(retired_at=now):
        record_change(row=method, act="method retired", actor=actor, at=now)


@transaction.atomic
def offer_method_again(*, method: Method, actor: Actor, now: datetime) -> None:
    if Method.objects.filter(pk=method.pk, retired_at__isnull=False).update(retired_at=None):
        record_change(row=method, act="method offered again", actor=actor, at=now)


def add_usual_method(*, actor: Actor, now: datetime) -> MethodVersion:
    """What a new shop starts with, to be rewritten as it works."""
    return add_method(
        name=gettext("As usual"),
        values=USUAL_VALUES,
        actor=actor,
        now=now,
        note=gettext("A start. Write a version that says how your shop works."),
    )


@transaction.atomic
def add_shop_field(
    *,
    name: str,
    level: str,
    kind: str,
    actor: Actor,
    now: datetime,
    unit: str = "",
    choices: Sequence[str] = (),
) -> ShopField:
    """A technique field of the shop's own. Raises NameTaken."""
    key = free_key(f"own-{slugify(name) or 'field'}"[:34])
    if ShopField.objects.filter(name__iexact=name.strip(), level=level, retired_at__isnull=True).exists():
        raise NameTaken(name)
    field = ShopField.objects.create(
        key=key, name=name.strip(), level=level, kind=kind, unit=unit, choices=list(choices)
    )
    after = {"name": field.name, "level": level, "kind": kind, "unit": unit, "choices": field.choices}
    record_change(row=field, act="field added", actor=actor, at=now, after=after)
    return field


@transaction.atomic
def retire_shop_field(*, field: ShopField, actor: Actor, now: datetime) -> None:
    """Not asked any more; recorded values stay."""
    if ShopField.objects.filter(pk=field.pk, retired_at__isnull=True).update(retired_at=now):
        record_change(row=field, act="field retired", actor=actor, at=now)


def free_key(wanted: str) -> str:
    taken = set(ShopField.objects.filter(key__startswith=wanted).values_list("key", flat=True))
    if wanted not in taken:
        return wanted
    return next(key for n in range(2, len(taken) + 3) if (key := f"{wanted}-{n}") not in taken)


def as_technique_field(field: ShopField) -> TechniqueField:
    """A shop's field as the pure rooms know fields."""
    choices = tuple(Choice(str(word), str(word)) for word in field.choices)
    return TechniqueField(field.key, Level(field.level), FieldKind(field.kind), field.name, choices=choices)
