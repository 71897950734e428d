"""The waiting list: whoever would come sooner, if something opens."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import override

from shopwarranty.inspections.slots import Slot, is_free
from shopwarranty.outbox.actions import put_messages
from shopwarranty.outbox.models import Message
from shopwarranty.shops.history import Actor, record_change

from ..holder.links import holder_link
from ..models import Check
from ..opening import opening_of, taken_between
from ..rules import rules_of
from ..telling import about_check
from ..writing import kinds
from ..writing.letters import Wordings
from ..writing.posting import message_for
from ..writing.routes import is_on, nearest_to, plates_of, route_to
from ..writing.sending import when_to_send
from ..writing.values import of_check, of_party, of_time
from .bookings import WANTS_A_TIME, must_be_offered
from .refusals import CheckSettled, SlotTaken


@transaction.atomic
def ask_for_earlier(*, check: Check, actor: Actor, now: datetime) -> None:
    """Asked again, the first time counts. Raises CheckSettled."""
    rows = Check.objects.filter(pk=check.pk, state__in=WANTS_A_TIME)
    if rows.filter(earlier_wanted=False).update(earlier_wanted=True, earlier_since=now):
        record_change(row=check, act="earlier time wanted", actor=actor, at=now)
    elif not rows.exists():
        raise CheckSettled
    check.refresh_from_db()


@transaction.atomic
def no_longer_earlier(*, check: Check, actor: Actor, now: datetime) -> None:
    rows = Check.objects.filter(pk=check.pk, earlier_wanted=True)
    if rows.update(earlier_wanted=False, earlier_since=None):
        record_change(row=check, act="earlier time no longer wanted", actor=actor, at=now)
    check.refresh_from_db()


@transaction.atomic
def offer_earlier(*, check: Check, slot: Slot, now: datetime) -> Message | None:
    """Writes that this time is free, once for each time; whoever takes it first has it.

    None when there is no way to write, or the shop does not write this. Raises SlotPast, SlotNotOffered or
    SlotTaken for a place that cannot be had.
    """
    shop, vehicle = check.shop, check.job.vehicle
    must_be_offered(slot, opening_of(shop, slot.minutes), now)
    day = slot.starts_local.date()
    if not is_free(slot, taken_between(shop, day, day)):
        raise SlotTaken
    rules, party = rules_of(shop), nearest_to([vehicle.pk]).get(vehicle.pk)
    route = route_to(party, shop, rules, kinds.EARLIER)
    if party is None or route is None or not is_on(kinds.EARLIER, rules):
        return None
    key = f"check:{check.pk}:earlier:{slot.starts_utc:%Y%m%dT%H%M}"
    with override(route.language):
        link, plate = holder_link(check, to=party, now=now), plates_of([vehicle.pk]).get(vehicle.pk, "")
        values = of_party(party, vehicle, plate, link, shop) | of_check(check, shop)
        values |= of_time(slot.starts_utc, slot.zone, shop)
    message = message_for(
        kinds.EARLIER,
        route,
        values,
        shop=shop,
        wordings=Wordings(),
        key=key,
        about=about_check(check),
        now=now,
        not_before=when_to_send(shop, now, rules),
        not_after=slot.starts_utc,
    )
    put_messages([message])
    stored: Message = Message.objects.get(key=key)
    return stored
