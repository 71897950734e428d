"""How long this shop keeps people's data, and what it has to answer."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Final

from django.db import transaction
from django.db.models import F

from shopwarranty.shops.history import Actor, plain, record_change
from shopwarranty.shops.models import Shop

from ..models import Erasure, Retention
from .keeping import USUAL
from .standing import Reason

ANSWER_WITHIN: Final = timedelta(days=30)  # one month, GDPR Article 12(3)


@dataclass(frozen=True, slots=True)
class Waiting:
    """A person who asked, and what still keeps them."""

    erasure: Erasure
    reasons: tuple[str, ...]


def retention_of(shop: Shop) -> Retention:
    usual = USUAL[shop.legal_profile]
    row: Retention | None = Retention.objects.first()
    return row or Retention(shop=shop, years_after=usual.years, from_year_end=usual.from_year_end)


@transaction.atomic
def change_retention(*, shop: Shop, values: dict[str, Any], actor: Actor, now: datetime) -> Retention:
    old = retention_of(shop)
    before = {name: getattr(old, name) for name in values} if old.pk else {}
    row, _new = Retention.objects.update_or_create(shop=shop, defaults=values)
    Retention.objects.filter(pk=row.pk).update(version=F("version") + 1)
    if plain(before) != plain(values):
        record_change(row=row, act="retention changed", actor=actor, at=now, before=before, after=values)
    return row


def waiting(rows: list[Erasure], shop: Shop) -> list[Waiting]:
    return [Waiting(row, tuple(Reason.from_json(said).words(shop) for said in row.why_kept)) for row in rows]


def answer_by(asked_on: date) -> date:
    return asked_on + ANSWER_WITHIN
