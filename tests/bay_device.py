"""A device of the bay with somebody at it, as a test's browser."""

import time
from datetime import datetime
from typing import Any

from django.contrib.auth.hashers import make_password
from django.test import Client

from shopwarranty.shops import bay
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import BayDevice, Member
from shopwarranty.shops.scope import shop_scope

PIN = "402917"


def enrolled(owner: Any, now: datetime, name: str = "Tablet") -> tuple[BayDevice, str]:
    """The device and its key."""
    with shop_scope(owner.shop):
        device, _token = bay.offer_device(name=name, actor=Actor.of(owner), now=now)
        return device, bay.take_into_use(device=device, now=now)


def with_pin(member: Any) -> None:
    with shop_scope(member.shop):
        Member.objects.filter(pk=member.pk).update(pin_hash=make_password(PIN), bay_picture="wave")


def client_at(owner: Any, member: Any, now: datetime) -> Client:
    """The member works on a device that the owner enrolled."""
    device, key = enrolled(owner, now)
    with_pin(member)
    client = Client()
    client.cookies[bay.COOKIE] = key
    session = client.session
    session[bay.WORKING] = [device.pk, member.pk, time.time()]
    session.save()
    return client
