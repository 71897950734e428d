"""Opening a shop, and who belongs to it."""

import hashlib
import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any

from django.contrib.auth.tokens import default_token_generator
from django.db import transaction
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode
from django.utils.translation import gettext as _

from .history import Actor, record_change
from .models import Bay, ClosedDay, Invitation, Member, OpeningHours, Shop, User
from .scope import shop_scope

INVITED_FOR = timedelta(days=14)
ROLES = ("owner", "installer", "desk")


class SlugTaken(Exception):
    """Another shop of this installation has this slug."""


class LastOwner(Exception):
    """The shop would be left without an owner who can sign in."""


class AlreadyMember(Exception):
    """This address already belongs to somebody of the shop."""


class InvitationOver(Exception):
    """The invitation was used, withdrawn, or is too old."""


@dataclass(frozen=True, slots=True)
class Hours:
    weekday: int
    opens: time
    closes: time


WORKING_WEEK = tuple(Hours(day, time(8), time(17)) for day in range(5))


@transaction.atomic
def create_shop(
    *, slug: str, name: str, owner: User, now: datetime, hours: Iterable[Hours] = WORKING_WEEK, **more: Any
) -> Shop:
    """A shop with its owner, one bay and opening hours. Raises SlugTaken."""
    if Shop.objects.filter(slug=slug).exists():
        raise SlugTaken(slug)
    shop = Shop.objects.create(slug=slug, name=name, created_at=now, **more)
    with shop_scope(shop):
        member = Member.objects.create(user=owner, name=owner.name, joined_at=now, is_owner=True)
        Bay.objects.create(name=_("Bay 1"), position=1)
        OpeningHours.objects.bulk_create(
            OpeningHours(weekday=each.weekday, opens=each.opens, closes=each.closes) for each in hours
        )
        record_change(row=member, act="shop opened", actor=Actor.of(member), at=now, after={"slug": slug})
    return shop


def person(*, email: str, name: str) -> User:
    """The user with this address; a new one cannot sign in before setting a password."""
    found = User.objects.filter(email=email.strip().lower()).first()
    return found or User.objects.create_user(email.strip().lower(), name=name)


def sign_in_path(user: User) -> str:
    """A link that works once: setting a password makes it stale."""
    uid = urlsafe_base64_encode(force_bytes(user.pk))
    return reverse("welcome", args=[uid, default_token_generator.make_token(user)])


def hashed(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


@transaction.atomic
def invite(
    *, email: str, name: str, roles: frozenset[str], actor: Actor, now: datetime
) -> tuple[Invitation, str]:
    """The invitation and its token, which is kept nowhere. An older open one to the address ends."""
    email = email.strip().lower()
    if Member.objects.filter(user__email=email, left_at__isnull=True).exists():
        raise AlreadyMember(email)
    Invitation.objects.filter(email=email, accepted_at__isnull=True, withdrawn_at__isnull=True).update(
        withdrawn_at=now
    )
    token = secrets.token_urlsafe(32)
    invitation = Invitation.objects.create(
        email=email,
        name=name,
        token_hash=hashed(token),
        invited_by=actor.member,
        invited_at=now,
        expires_at=now + INVITED_FOR,
        **{f"is_{role}": role in roles for role in ROLES},
    )
    record_change(row=invitation, act="invited", actor=actor, at=now, after={"roles": sorted(roles)})
    return invitation, token


@transaction.atomic
def withdraw_invitation(*, invitation: Invitation, actor: Actor, now: datetime) -> None:
    still_open = Invitation.objects.filter(
        pk=invitation.pk, accepted_at__isnull=True, withdrawn_at__isnull=True
    )
    if still_open.update(withdrawn_at=now):
        record_change(row=invitation, act="invitation withdrawn", actor=actor, at=now)


@transaction.atomic
def accept_invitation(*, invitation: Invitation, user: User, now: datetime) -> Member:
    """Joins the shop. Call in the scope of the invitation's shop."""
    taken = Invitation.objects.filter(
        pk=invitation.pk, accepted_at__isnull=True, withdrawn_at__isnull=True, expires_at__gt=now
    ).update(accepted_at=now)
    if not taken:
        raise InvitationOver
    roles = {f"is_{role}": getattr(invitation, f"is_{role}") for role in ROLES}
    member, _new = Member.objects.update_or_create(
        user=user,
        defaults={**roles, "left_at": None},
        create_defaults={**roles, "name": user.name, "joined_at": now},
    )
    record_change(row=member, act="joined", actor=Actor.of(member), at=now, after=roles)
    return member


@transaction.atomic
def change_member(*, member: Member, name: str, roles: frozenset[str], actor: Actor, now: datetime) -> None:
    """New name or roles. Raises LastOwner when nobody would be left to run the shop."""
    before = {"name": member.name, "roles": sorted(member.roles)}
    if "owner" in member.roles and "owner" not in roles:
        keep_an_owner(member)
    member.name = name
    for role in ROLES:
        setattr(member, f"is_{role}", role in roles)
    member.save()
    after = {"name": name, "roles": sorted(roles)}
    record_change(row=member, act="roles changed", actor=actor, at=now, before=before, after=after)


@transaction.atomic
def end_membership(*, member: Member, actor: Actor, now: datetime, why: str = "") -> None:
    """The sign-in stops at once; past work keeps the name."""
    keep_an_owner(member)
    if Member.objects.filter(pk=member.pk, left_at__isnull=True).update(left_at=now):
        record_change(row=member, act="left", actor=actor, at=now, why=why)


@transaction.atomic
def take_back(*, member: Member, actor: Actor, now: datetime) -> None:
    if Member.objects.filter(pk=member.pk, left_at__isnull=False).update(left_at=None):
        record_change(row=member, act="came back", actor=actor, at=now)


def keep_an_owner(member: Member) -> None:
    others = Member.objects.filter(is_owner=True, left_at__isnull=True, user__isnull=False).exclude(
        pk=member.pk
    )
    if not others.exists():
        raise LastOwner


@transaction.atomic
def change_shop(*, shop: Shop, values: dict[str, Any], actor: Actor, now: datetime) -> None:
    before = {name: getattr(shop, name) for name in values}
    changed = {name: value for name, value in values.items() if before[name] != value}
    if not changed:
        return
    for name, value in changed.items():
        setattr(shop, name, value)
    shop.save(update_fields=list(changed))
    assert actor.member is not None
    record_change(
        row=actor.member,
        act="shop settings",
        actor=actor,
        at=now,
        before={name: before[name] for name in changed},
        after=changed,
    )


@transaction.atomic
def set_hours(*, hours: Iterable[Hours], actor: Actor, now: datetime) -> None:
    """Replaces the week. Bookings already made stay as they are."""
    before = [str(each) for each in OpeningHours.objects.values_list("weekday", "opens", "closes")]
    rows = [OpeningHours(weekday=each.weekday, opens=each.opens, closes=each.closes) for each in hours]
    OpeningHours.objects.all().delete()
    OpeningHours.objects.bulk_create(rows)
    after = [f"({row.weekday}, {row.opens}, {row.closes})" for row in rows]
    assert actor.member is not None
    record_change(
        row=actor.member,
        act="opening hours",
        actor=actor,
        at=now,
        before={"week": before},
        after={"week": after},
    )


@transaction.atomic
def close_day(*, on: Any, name: str, actor: Actor, now: datetime) -> ClosedDay:
    day, _new = ClosedDay.objects.update_or_create(on=on, defaults={"name": name})
    record_change(row=day, act="day closed", actor=actor, at=now, after={"on": on, "name": name})
    return day


@transaction.atomic
def open_day(*, day: ClosedDay, actor: Actor, now: datetime) -> None:
    record_change(row=day, act="day opened", actor=actor, at=now, before={"on": day.on, "name": day.name})
    day.delete()


@transaction.atomic
def set_bays(*, names: list[str], actor: Actor, now: datetime) -> None:
    """The bays in order. One no longer named is retired, never deleted: bookings point to its lane."""
    before = list(Bay.objects.filter(retired_at__isnull=True).values_list("name", flat=True))
    Bay.objects.exclude(name__in=names).filter(retired_at__isnull=True).update(retired_at=now)
    for position, name in enumerate(names, start=1):
        Bay.objects.update_or_create(name=name, defaults={"position": position, "retired_at": None})
    assert actor.member is not None
    record_change(
        row=actor.member, act="bays", actor=actor, at=now, before={"bays": before}, after={"bays": names}
    )
