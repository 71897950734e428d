"""The owners' week: what became of last week's checks, and what waits."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Final

from django.db.models import CharField, Count, Exists, OuterRef, Q, QuerySet, Value
from django.db.models.functions import Cast, Concat
from django.urls import reverse
from django.utils.translation import override

from shopwarranty.outbox.actions import drafted, put_messages
from shopwarranty.outbox.models import MarkedAddress, Message
from shopwarranty.outbox.quiet_hours import may_send
from shopwarranty.shops.models import Member, Shop
from shopwarranty.shops.scope import every_shop
from shopwarranty.web import formats

from .. import selectors
from ..models import Booking, Check
from ..opening import day_span
from . import kinds
from .batches import Desk, at_desk
from .letters import write
from .routes import is_on
from .values import Values

STILL_NEWS: Final = 2
"""Until Wednesday: a worker that stood still on Monday makes up for it."""


def summarise(now: datetime) -> int:
    """On Monday, in the shop's hours, to each owner who signs in; each week once."""
    total = 0
    for shop in _untold(now):
        with at_desk(shop, now) as desk:
            total += _summarise(desk)
    return total


def _untold(now: datetime) -> Iterator[Shop]:
    """One query a date line: shops with an owner who has not heard of the week yet."""
    days: dict[date, list[Shop]] = {}
    for shop in Shop.objects.order_by("pk"):
        today = now.astimezone(shop.zone).date()
        if today.weekday() <= STILL_NEWS:
            days.setdefault(_monday(today), []).append(shop)
    for monday, shops in days.items():
        with every_shop():
            waiting = set(_owners_untold(monday).filter(shop__in=shops).values_list("shop", flat=True))
        yield from (shop for shop in shops if shop.pk in waiting)


def _owners_untold(monday: date) -> "QuerySet[Member]":
    key = Concat(Value(f"summary:{monday:%Y%m%d}:"), Cast(OuterRef("pk"), CharField()))
    told = Message.objects.filter(shop=OuterRef("shop"), key=key)
    return Member.objects.filter(~Exists(told), is_owner=True, left_at=None, user__is_active=True)


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def _summarise(desk: Desk) -> int:
    if not is_on(kinds.SUMMARY, desk.rules) or not may_send(desk.now, desk.hours, desk.shop.zone):
        return 0
    monday = _monday(desk.today)
    if desk.shop.created_at.astimezone(desk.shop.zone).date() >= monday:
        return 0  # opened this week: there is no last week to tell of
    owners = list(_owners_untold(monday).select_related("user"))
    if not owners:
        return 0
    counts = counts_of(desk, monday)
    put_messages(
        [_letter(desk, owner, f"summary:{monday:%Y%m%d}:{owner.pk}", monday, counts) for owner in owners]
    )
    return len(owners)


def _letter(desk: Desk, owner: Member, key: str, monday: date, counts: dict[str, int]) -> Message:
    shop = desk.shop
    assert owner.user is not None
    language = owner.user.language or shop.language
    with override(language):
        values: Values = {
            "name": owner.name,
            "shop": shop.name,
            "week": formats.full_date(monday - timedelta(days=7), shop),
            "link": f"{shop.public_url.rstrip('/')}{reverse('checks', args=[shop.slug])}",
            **{name: str(count) for name, count in counts.items()},
        }
    letter = write(kinds.SUMMARY, desk.wordings.of(kinds.SUMMARY, language), values, shop, language=language)
    return drafted(
        key=key,
        to=owner.user.email,
        to_name=owner.name,
        subject=letter.subject,
        text=letter.text,
        html=letter.html,
        language=language,
        in_hours=True,
        not_before=desk.leaves,
        not_after=desk.now + timedelta(days=4),
        now=desk.now,
    )


def counts_of(desk: Desk, monday: date) -> dict[str, int]:
    """Last week's ends, and what stands now."""
    before, begins = day_span(desk.shop, monday - timedelta(days=7), monday - timedelta(days=1))
    ends = day_span(desk.shop, monday, monday + timedelta(days=6))[1]
    last_week = Q(settled_at__gte=before, settled_at__lt=begins)
    checks = Check.objects.exclude(plan__key="handover").filter(last_week)
    settled = checks.aggregate(
        done=Count("pk", filter=Q(state=Check.State.DONE)),
        missed=Count("pk", filter=Q(state=Check.State.MISSED)),
    )
    bookings = Booking.objects.filter(starts_at__gte=before, starts_at__lt=ends).aggregate(
        not_kept=Count("pk", filter=Q(state=Booking.State.NOT_KEPT, starts_at__lt=begins)),
        booked=Count("pk", filter=Q(state=Booking.State.BOOKED, starts_at__gte=begins)),
    )
    return {
        **settled,
        **bookings,
        "to_call": selectors.to_call(desk.today, desk.now).count(),
        "overdue": selectors.overdue(desk.today).count(),
        "stuck": Message.objects.uncertain().count(),
        "refused": MarkedAddress.objects.filter(cleared_at=None).count(),
    }
