"""Once a day: whoever's time is over is erased. By sets: as many questions for one person as for hundreds."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Final

from django.db import transaction
from django.db.models import Q

from shopwarranty.jobs.models import Party
from shopwarranty.outbox.models import Heartbeat, Message
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import every_shop, shop_scope

from ..models import Erasure, Retention
from .belonging import Ids, ids, not_erased
from .erasing import GONE, erase_rows, throw_away_left
from .holding_still import hold_still
from .standing import Standing, limitation_of, standings

TOOL: Final = Actor("shopwarranty")
BEAT: Final = "retention"
A_DAY: Final = timedelta(days=1)
AT_ONCE: Final = 200
A_NIGHT: Final = 2000  # of one shop; the rest follows the next night
SETTLED: Final = (Message.State.SENT, Message.State.FAILED, Message.State.DROPPED)


def retire_when_due(now: datetime) -> str:
    """What the tick calls. Several workers do it once, because one of them moves the heartbeat."""
    if not taken(now):
        return "nothing due"
    erased, emptied = retire(now)
    return f"{erased} erased, {emptied} old messages emptied"


@transaction.atomic
def taken(now: datetime) -> bool:
    Heartbeat.objects.get_or_create(name=BEAT, defaults={"at": now - A_DAY})
    return bool(Heartbeat.objects.filter(name=BEAT, at__lte=now - A_DAY).update(at=now))


def retire(now: datetime) -> tuple[int, int]:
    """Gives how many people were erased and how many old messages emptied, in all shops."""
    erased = emptied = 0
    for shop in shops_with_work():
        with shop_scope(shop):
            today = now.astimezone(shop.zone).date()
            erased += erase_those_whose_time_is_over(shop, today, now)
            emptied += empty_old_messages(now)
            throw_away_left()
    return erased, emptied


def shops_with_work() -> list[Shop]:
    with every_shop():
        waiting = Erasure.objects.filter(Q(erased_at=None) | ~Q(files_left=[])).values("shop")
        chosen = Retention.objects.filter(Q(erases_by_itself=True) | Q(message_months__isnull=False))
        return list(Shop.objects.filter(Q(pk__in=waiting) | Q(pk__in=chosen.values("shop"))))


def erase_those_whose_time_is_over(shop: Shop, today: date, now: datetime) -> int:
    asked = ids(Erasure.objects.filter(erased_at=None).exclude(erase_on__gte=today), "party")
    may_be = asked | over_by_themselves(shop, today)
    kept: dict[int, Standing] = {}
    for some in portions(may_be):
        kept |= standings(some, shop, today)
    name_later_days({party: standing for party, standing in kept.items() if party in asked})
    free = sorted(may_be - set(kept))[:A_NIGHT]
    return sum(erase_portion(some, shop, today, now) for some in portions(free))


def erase_portion(some: list[int], shop: Shop, today: date, now: datetime) -> int:
    """Looked at once more while nobody can write about them: something may have come up since."""
    with transaction.atomic():
        hold_still(some)
        kept = standings(some, shop, today)
        free = [party for party in some if party not in kept]
        people = erase_rows(parties=free, actor=TOOL, now=now).people if free else 0
    throw_away_left()
    return people


def portions(wanted: Iterable[int]) -> Iterable[list[int]]:
    ordered = sorted(wanted)
    return (ordered[first : first + AT_ONCE] for first in range(0, len(ordered), AT_ONCE))


def over_by_themselves(shop: Shop, today: date) -> Ids:
    """Where the shop wants it: people whose certificates or jobs all lie so far back."""
    if not Retention.objects.filter(erases_by_itself=True).exists():
        return frozenset()
    return people_past(shop, today)


def people_past(shop: Shop, today: date) -> Ids:
    """Whom nothing that is old enough keeps any more; `standings` says whether something younger does."""
    before = today - timedelta(days=365 * limitation_of(shop).years)
    rows = not_erased(Party.objects.all()).filter(
        Q(certificates__last_day__lt=before) | Q(holdings__vehicle__jobs__handed_over_on__lt=before)
    )
    return ids(rows.distinct())


def name_later_days(kept: dict[int, Standing]) -> None:
    """Something came up since they asked: the day moves, and the reasons with it."""
    rows = list(Erasure.objects.filter(party__in=kept))
    for row in rows:
        row.why_kept = [reason.as_json() for reason in kept[row.party_id].reasons]
        row.erase_on = kept[row.party_id].last_day
    Erasure.objects.bulk_update(rows, ["why_kept", "erase_on"], batch_size=AT_ONCE)


def empty_old_messages(now: datetime) -> int:
    """That something was sent, when and about what stays; what it said and to whom goes."""
    row = Retention.objects.exclude(message_months=None).first()
    if row is None:
        return 0
    before = now - timedelta(days=round(30.44 * (row.message_months or 0)))
    old = Message.objects.filter(put_at__lt=before, state__in=SETTLED).exclude(to=GONE)
    return old.update(to=GONE, to_name="", subject="", text="", html="", attachments=[], headers={}, error="")
