"""Private addresses of a calendar: one for each member and each bay, made anew or revoked at any time.

Only a hash of the token is kept, so an address is shown once. It works as long as its member belongs to the
shop, or its bay is in use.
"""

import hashlib
import secrets
from datetime import datetime

from django.db import transaction
from django.db.models import Q, QuerySet

from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.models import Bay, Member
from shopwarranty.shops.scope import every_shop

from ..models import CalendarFeed


@transaction.atomic
def new_feed(
    *, actor: Actor, now: datetime, member: Member | None = None, bay: Bay | None = None
) -> tuple[CalendarFeed, str]:
    """The feed and its token, which nobody can read again. One there was before opens nothing any more."""
    if (member is None) == (bay is None):
        raise ValueError("a feed is of a member or of a bay")
    _one_at_a_time(member or bay)
    _revoke(CalendarFeed.objects.filter(member=member, bay=bay), now)
    token = secrets.token_urlsafe(32)
    feed: CalendarFeed = CalendarFeed.objects.create(
        member=member, bay=bay, token_hash=hash_of(token), made_at=now
    )
    record_change(row=feed, act="calendar address made", actor=actor, at=now)
    return feed, token


@transaction.atomic
def revoke_feed(*, feed: CalendarFeed, actor: Actor, now: datetime) -> None:
    """Twice is as good as once."""
    if _revoke(CalendarFeed.objects.filter(pk=feed.pk), now):
        record_change(row=feed, act="calendar address revoked", actor=actor, at=now)


def _one_at_a_time(owner: Member | Bay | None) -> None:
    """Two presses at once leave one address that works."""
    assert owner is not None
    type(owner).objects.select_for_update().get(pk=owner.pk)


def _revoke(feeds: "QuerySet[CalendarFeed]", now: datetime) -> int:
    return int(feeds.filter(revoked_at__isnull=True).update(revoked_at=now))


def find_feed(token: str) -> CalendarFeed | None:
    """One query, whatever is wrong with the token: unknown, revoked, of somebody who left, of a bay gone."""
    in_use = Q(member__left_at__isnull=True, member__isnull=False) | Q(
        bay__retired_at__isnull=True, bay__isnull=False
    )
    with every_shop():
        rows = CalendarFeed.objects.select_related("shop", "member", "bay")
        feed: CalendarFeed | None = rows.filter(
            in_use, token_hash=hash_of(token), revoked_at__isnull=True
        ).first()
    return feed


def standing_feeds(member: Member) -> dict[str, CalendarFeed]:
    """Own feed under "own", those of the bays under their id."""
    rows = CalendarFeed.objects.filter(revoked_at__isnull=True).select_related("bay")
    rows = rows.filter(Q(member=member) | Q(bay__isnull=False))
    return {str(row.bay_id) if row.bay_id else "own": row for row in rows}


def hash_of(token: str) -> str:
    return hashlib.sha256(token[:100].encode()).hexdigest()
