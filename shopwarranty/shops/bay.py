"""Devices of the bay: enrolled once by an owner; members switch on them by picture and PIN.

The browser of a device holds a key of its own, never a sign-in: whoever works on it is a member with the
one role "bay", whatever they may do elsewhere.
"""

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any, Final

from axes.handlers.proxy import AxesProxyHandler
from axes.utils import reset
from django.conf import settings
from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction
from django.db.models import Q, QuerySet

from .actions import hashed
from .history import Actor, record_change
from .models import BayDevice, Member
from .scope import every_shop

COOKIE: Final = "bay_device"
COOKIE_AGE: Final = 400 * 24 * 3600
WORKING: Final = "bay_working"  # in the session: [device, member, when last seen]
ENROLS_FOR: Final = timedelta(minutes=30)
IDLE: Final = timedelta(minutes=30)
A_WHILE: Final = timedelta(minutes=1)
PIN_DIGITS: Final = 6
GUESSED_AT: Final = "bay "
PICTURES: Final = ("disc", "ring", "square", "triangle", "cross", "wave", "drop", "half")


class EnrolmentOver(Exception):
    """The address was used, taken back, or is too old."""


class PinTooEasy(Exception):
    """One digit over and over, or a row of digits."""


@dataclass(frozen=True, slots=True)
class TooManyTries(Exception):
    """Guessed too often: nobody gets in with this picture on this device for a while."""


@transaction.atomic
def offer_device(*, name: str, actor: Actor, now: datetime) -> tuple[BayDevice, str]:
    """The device and the token of the address that enrols it once; the token is kept nowhere."""
    assert actor.member is not None
    token = secrets.token_urlsafe(32)
    device = BayDevice.objects.create(
        name=name, token_hash=hashed(token), enrolled_by=actor.member, enrolled_at=now
    )
    record_change(row=device, act="device offered", actor=actor, at=now, after={"name": name})
    return device, token


def offered(token: str, now: datetime) -> BayDevice:
    """Raises EnrolmentOver."""
    with every_shop():
        rows = BayDevice.objects.select_related("shop", "enrolled_by").filter(
            used_since__isnull=True, revoked_at__isnull=True, enrolled_at__gt=now - ENROLS_FOR
        )
        found: BayDevice | None = rows.filter(token_hash=hashed(token)).first()
    if found is None:
        raise EnrolmentOver
    return found


@transaction.atomic
def take_into_use(*, device: BayDevice, now: datetime) -> str:
    """Gives the device's own key. Raises EnrolmentOver when another browser was quicker."""
    key = secrets.token_urlsafe(32)
    rows = BayDevice.objects.filter(pk=device.pk, used_since__isnull=True, revoked_at__isnull=True)
    if not rows.update(token_hash=hashed(key), used_since=now, last_seen_at=now):
        raise EnrolmentOver
    actor = Actor.of(device.enrolled_by, device)
    record_change(row=device, act="device in use", actor=actor, at=now, after={"name": device.name})
    return key


@transaction.atomic
def revoke_device(*, device: BayDevice, actor: Actor, now: datetime) -> None:
    if BayDevice.objects.filter(pk=device.pk, revoked_at__isnull=True).update(revoked_at=now):
        record_change(row=device, act="device revoked", actor=actor, at=now, before={"name": device.name})


def set_pin(*, member: Member, pin: str, picture: str, actor: Actor, now: datetime) -> None:
    """Raises PinTooEasy. Only its hash is kept, and of its change only that there was one."""
    steps = {int(after) - int(before) for before, after in pairwise(pin)}
    if steps in ({0}, {1}, {-1}):
        raise PinTooEasy
    with transaction.atomic():
        Member.objects.filter(pk=member.pk).update(pin_hash=make_password(pin), bay_picture=picture)
        record_change(row=member, act="PIN set", actor=actor, at=now)


def cookie_name() -> str:
    return f"{settings.COOKIE_PREFIX}{COOKIE}"


def device_of(request: Any) -> BayDevice | None:
    """The enrolled device that asks, if it is one and was not revoked."""
    key = request.COOKIES.get(cookie_name(), "")
    if not key:
        return None
    with every_shop():
        rows = BayDevice.objects.select_related("shop").filter(
            token_hash=hashed(key), used_since__isnull=False, revoked_at__isnull=True
        )
        found: BayDevice | None = rows.first()
        if found and (found.last_seen_at is None or request.now - found.last_seen_at > A_WHILE):
            BayDevice.objects.filter(pk=found.pk).update(last_seen_at=request.now)
    return found


def those_with_a_pin(device: BayDevice) -> "QuerySet[Member]":
    """Who may work on the device: not who left the shop, nor whom the operator shut out."""
    members = Member.objects.filter(shop=device.shop_id, left_at__isnull=True).exclude(pin_hash="")
    return members.filter(Q(user=None) | Q(user__is_active=True))


def switch_to(request: Any, device: BayDevice, member: Member, pin: str) -> bool:
    """Whether the PIN was right. Raises TooManyTries, counted as wrong passwords are."""
    guessed = {"username": f"{GUESSED_AT}{device.token_hash} {member.pk}"}
    if not AxesProxyHandler.is_allowed(request, guessed):
        raise TooManyTries
    if not (member.pin_hash and check_password(pin, member.pin_hash)):
        AxesProxyHandler.user_login_failed(sender=__name__, credentials=guessed, request=request)
        return False
    reset(username=guessed["username"])
    request.session.flush()
    request.session[WORKING] = [device.pk, member.pk, request.now.timestamp()]
    return True


def counted_by(tried: Any, credentials: dict[str, Any] | None = None) -> list[str | list[str]]:
    """What wrong tries are counted by: of a PIN by device and member, wherever the device is taken; of a
    password by name and place, so that nobody locks out somebody else. The hash in it is known to nobody."""
    name = (credentials or {}).get("username") or getattr(tried, "username", "") or ""
    return ["username"] if str(name).startswith(GUESSED_AT) else [["username", "ip_address"]]


def leave(request: Any) -> None:
    request.session.pop(WORKING, None)


def member_at(request: Any, slug: str) -> Member | None:
    """Who works on the device that asks; nobody after half an hour without a press, or in another shop."""
    device_id, member_id, seen = request.session.get(WORKING) or (0, 0, 0.0)
    device = device_of(request) if device_id else None
    if device is None or device.pk != device_id or device.shop.slug != slug:
        return None
    idle = request.now.timestamp() - seen
    if idle > IDLE.total_seconds():
        return None
    with every_shop():
        rows = those_with_a_pin(device).select_related("shop", "user")
        member: Member | None = rows.filter(pk=member_id).first()
    if member is not None:
        member.device = device
        if idle > A_WHILE.total_seconds():
            request.session[WORKING] = [device_id, member_id, request.now.timestamp()]
    return member
