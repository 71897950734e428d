"""An address that takes no mail is said so on every person who has it; cleared, they are written to again."""

from datetime import datetime
from typing import Any

from shopwarranty.jobs.models import Party
from shopwarranty.outbox.channels import MAIL
from shopwarranty.shops.history import Actor, record_change

TOOL = Actor(who="shopwarranty")


def mark_people(sender: Any, *, channel: str, address: str, now: datetime, **more: Any) -> None:
    if channel == MAIL and address:
        rows = Party.objects.filter(email__iexact=address, email_refused_at__isnull=True)
        _write(list(rows), now, now, "mail refused")


def clear_people(sender: Any, *, channel: str, address: str, now: datetime, **more: Any) -> None:
    if channel == MAIL and address:
        rows = Party.objects.filter(email__iexact=address, email_refused_at__isnull=False)
        _write(list(rows), None, now, "mail address works again")


def _write(rows: list[Party], refused_at: datetime | None, now: datetime, act: str) -> None:
    Party.objects.filter(pk__in=[row.pk for row in rows]).update(email_refused_at=refused_at)
    for row in rows:
        record_change(row=row, act=act, actor=TOOL, at=now, after={"email_refused_at": refused_at})
