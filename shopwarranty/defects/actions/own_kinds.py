"""Kinds of defect that a shop adds to the catalogue."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils.text import slugify

from shopwarranty.shops.history import Actor, record_change
from shopwarranty.trade import defects as trade

from ..lives import rebuild_lives
from ..models import ShopDefectKind
from .refusals import NameMissing, NameTaken


@transaction.atomic
def add_defect_kind(
    *,
    name: str,
    graded_by: str,
    is_failure: bool,
    place_kinds: Sequence[str],
    families: Sequence[str],
    actor: Actor,
    now: datetime,
) -> ShopDefectKind:
    """Empty `place_kinds` or `families`: all of them. Raises NameMissing or NameTaken."""
    key = slugify(name)[:40]
    if not key:
        raise NameMissing
    known = {kind.key for kind in trade.KINDS} | set(ShopDefectKind.objects.values_list("key", flat=True))
    if key in known:
        raise NameTaken(name)
    row = ShopDefectKind.objects.create(
        key=key,
        name=name.strip(),
        graded_by=graded_by,
        is_failure=is_failure,
        place_kinds=list(place_kinds),
        families=list(families),
    )
    after = {"name": row.name, "is_failure": is_failure}
    record_change(row=row, act="defect kind added", actor=actor, at=now, after=after)
    return row


@transaction.atomic
def retire_defect_kind(*, kind: ShopDefectKind, actor: Actor, now: datetime) -> None:
    """No longer offered. What was found under it keeps its name and counts as before."""
    if ShopDefectKind.objects.filter(pk=kind.pk, retired_at__isnull=True).update(retired_at=now):
        record_change(row=kind, act="defect kind retired", actor=actor, at=now)


@transaction.atomic
def count_as_failure(*, kind: ShopDefectKind, is_failure: bool, actor: Actor, now: datetime) -> None:
    """Whether the kind says something about the work: every figure is derived anew."""
    if ShopDefectKind.objects.filter(pk=kind.pk).exclude(is_failure=is_failure).update(is_failure=is_failure):
        after = {"is_failure": is_failure}
        record_change(row=kind, act="defect kind counts", actor=actor, at=now, after=after)
        rebuild_lives()
