"""Who did what: the append-only history, number series, and guarded changes of state."""

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Self

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models, transaction
from django.utils.functional import Promise

from .models import BayDevice, Change, Counter, Member
from .rows import ShopOwned


@dataclass(frozen=True, slots=True)
class Actor:
    """Whoever acts: a member (perhaps on a bay device), the holder of a vehicle, or the tool itself."""

    who: str
    member: Member | None = None
    device: BayDevice | None = None

    @classmethod
    def of(cls, member: Member, device: BayDevice | None = None) -> Self:
        return cls(who=member.name, member=member, device=device)


class StaleState(Exception):
    """The row is no longer in the state that the act starts from; somebody was quicker."""


def plain(values: dict[str, Any]) -> dict[str, Any]:
    """Values as JSON can keep them; a row as its id."""
    return {
        key: json.loads(json.dumps(_plain(value), cls=DjangoJSONEncoder)) for key, value in values.items()
    }


def _plain(value: Any) -> Any:
    if isinstance(value, models.Model):
        return value.pk
    return str(value) if isinstance(value, Promise) else value


def record_change(
    *,
    row: ShopOwned,
    act: str,
    actor: Actor,
    at: datetime,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
    why: str = "",
) -> Change:
    return Change.objects.create(
        at=at,
        member=actor.member,
        device=actor.device,
        who=actor.who,
        act=act,
        table=row._meta.db_table,
        row=row.pk,
        before=plain(before or {}),
        after=plain(after or {}),
        why=why,
        shop_id=row.shop_id,
    )


def move_state(
    row: Any, *, old: str | tuple[str, ...], new: str, actor: Actor, at: datetime, why: str = "", **more: Any
) -> None:
    """`UPDATE ... WHERE state = old` and a Change row. Raises StaleState when somebody was quicker."""
    olds = (old,) if isinstance(old, str) else old
    with transaction.atomic():
        was = row.state
        changed = type(row).objects.filter(pk=row.pk, state__in=olds).update(state=new, **more)
        if not changed:
            raise StaleState(f"{row._meta.verbose_name} is no longer {' or '.join(olds)}")
        record_change(
            row=row, act=new, actor=actor, at=at, before={"state": was}, after={"state": new, **more}, why=why
        )
    for name, value in {"state": new, **more}.items():
        setattr(row, name, value)


def next_number(series: str) -> int:
    """The next number of a series of the shop in scope. Call inside the transaction that uses it."""
    with transaction.atomic():
        counter, _ = Counter.objects.get_or_create(series=series)
        Counter.objects.filter(pk=counter.pk).update(last=models.F("last") + 1)
        counter.refresh_from_db(fields=["last"])
    return counter.last
