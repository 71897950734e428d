"""Addresses that take nothing: marked once, shown, not written to until somebody clears them."""

from datetime import datetime

from django.db import transaction

from shopwarranty.shops.history import Actor, record_change

from .models import MarkedAddress, Message
from .signals import address_cleared, address_marked


@transaction.atomic
def mark_address(*, channel: str, address: str, source: str, why: str, now: datetime) -> MarkedAddress:
    """In the shop in scope. Marked again it stays as it was; rooms that keep addresses are told once."""
    known = MarkedAddress.objects.filter(channel=channel, address=address, cleared_at=None)
    MarkedAddress.objects.bulk_create(
        [MarkedAddress(channel=channel, address=address, source=source, why=why[:240], marked_at=now)],
        ignore_conflicts=True,
    )
    row: MarkedAddress = known.get()
    if row.marked_at == now:
        address_marked.send(sender=MarkedAddress, channel=channel, address=address, now=now)
    return row


@transaction.atomic
def clear_address(*, row: MarkedAddress, actor: Actor, now: datetime) -> None:
    """Somebody asked the holder, and it works again."""
    if MarkedAddress.objects.filter(pk=row.pk, cleared_at=None).update(cleared_at=now):
        record_change(row=row, act="address cleared", actor=actor, at=now, before={"address": row.address})
        address_cleared.send(sender=MarkedAddress, channel=row.channel, address=row.address, now=now)


def written_to(address: str, channel: str) -> list[tuple[int, str]]:
    """Shops that have sent something there, each with the address as it wrote it. Call in `every_shop`."""
    rows = Message.objects.filter(to__iexact=address, channel=channel).exclude(state=Message.State.WAITING)
    return sorted(set(rows.order_by().values_list("shop", "to")))
