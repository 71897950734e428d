"""Writing to many at once: shop by shop, on its own day, in as many queries for one as for hundreds."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final, TypeVar

from django.db.models import QuerySet
from django.utils.translation import override

from shopwarranty.outbox.actions import put_messages
from shopwarranty.outbox.models import Message
from shopwarranty.outbox.quiet_hours import SendingHours
from shopwarranty.shops.having import shops_with
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import shop_scope

from ..holder.links import holder_links
from ..models import CheckRules
from ..rules import rules_of
from .kinds import Kind
from .letters import Wordings
from .posting import message_for
from .routes import nearest_to, plates_of, route_to
from .sending import hours_of, when_to_send
from .values import Values, of_party

AT_ONCE: Final = 500
Row = TypeVar("Row")


@dataclass(frozen=True, slots=True)
class Desk:
    """One shop, its rules and words, on its own day. `leaves`: when what is written now goes out."""

    shop: Shop
    rules: CheckRules
    wordings: Wordings
    hours: SendingHours
    now: datetime
    leaves: datetime

    @property
    def today(self) -> date:
        return self.now.astimezone(self.shop.zone).date()


@contextmanager
def at_desk(shop: Shop, now: datetime) -> Iterator[Desk]:
    with shop_scope(shop), override(shop.language):
        rules = rules_of(shop)
        yield Desk(shop, rules, Wordings(), hours_of(shop, rules), now, when_to_send(shop, now, rules))


def each_shop(rows: "Callable[[], QuerySet[Any]]", now: datetime, work: Callable[[Desk], int]) -> int:
    """Asks once for all shops; most passes find nothing. Then works in each shop that has something."""
    total = 0
    for shop in shops_with(rows):
        with at_desk(shop, now) as desk:
            total += work(desk)
    return total


@dataclass(frozen=True, slots=True)
class Facts:
    """What a letter about a row needs: its key, what it is about, the vehicle, the words, its last use."""

    key: str
    about: str
    vehicle: Any
    values: Callable[[], Values]
    not_after: datetime | None


def write_many(desk: Desk, kind: Kind, rows: Sequence[Row], facts_of: Callable[[Row], Facts]) -> int:
    """How many of them there is a way to write about. Each in the reader's language."""
    if not rows:
        return 0
    known = [facts_of(row) for row in rows]
    vehicles = [each.vehicle.pk for each in known]
    people, plates = nearest_to(vehicles), plates_of(vehicles)
    going = [
        (each, route)
        for each in known
        if (route := route_to(people.get(each.vehicle.pk), desk.shop, desk.rules, kind)) is not None
    ]
    links = holder_links([(each.vehicle, route.party) for each, route in going], now=desk.now)
    messages: list[Message] = []
    for each, route in going:
        link = links.get((each.vehicle.pk, route.party.pk), "")
        with override(route.language):
            plate = plates.get(each.vehicle.pk, "")
            values = of_party(route.party, each.vehicle, plate, link, desk.shop) | each.values()
        messages.append(
            message_for(
                kind,
                route,
                values,
                shop=desk.shop,
                wordings=desk.wordings,
                key=each.key,
                about=each.about,
                now=desk.now,
                not_before=desk.leaves,
                not_after=each.not_after,
            )
        )
    put_messages(messages)
    return len(messages)
