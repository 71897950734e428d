"""Messages that leave in a shop's sending hours only, also when they are late: after a night without a
worker, or tried again after a pause. A room that knows the hours says so in `AppConfig.ready`.
"""

from collections.abc import Callable, Sequence
from datetime import datetime

from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import shop_scope

from .models import Message

Leaves = Callable[[Shop, datetime], datetime]
_leaves: list[Leaves] = []


def set_hours(leaves: Leaves) -> None:
    """`leaves`: the first moment at or after the given one at which messages of a shop may leave."""
    _leaves[:] = [leaves]


def held_back(due: Sequence[Message], now: datetime) -> set[int]:
    """Puts off what may not leave now; gives the ids among `due` that wait."""
    waits: set[int] = set()
    for shop in {row.shop for row in due if row.in_hours}:
        with shop_scope(shop):
            later = max((leaves(shop, now) for leaves in _leaves), default=now)
            if later > now:
                late = Message.objects.due(now).filter(in_hours=True)
                late.update(not_before=later)
                waits |= {row.pk for row in due if row.in_hours and row.shop_id == shop.pk}
    return waits
