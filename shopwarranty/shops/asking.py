"""How often public pages may be asked for: counted in the database, so for all processes together.

The count is one statement, made before the page is: two processes never lose one. No address is kept.
"""

import hashlib
import hmac
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any, Final

from django.conf import settings
from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import Resolver404, resolve
from django.utils import timezone

from .asked_from import asked_from
from .bay import WORKING
from .models import Asked

MINUTE: Final = timedelta(minutes=1)
KEPT: Final = timedelta(days=2)
# A proxy that does not say whom it asks for would otherwise lock everybody out at once.
THIS_MACHINE: Final = ("127.0.0.1", "::1", "")
NOT_COUNTED: Final = ("health",)  # a monitor's; it says nothing and asks one row
COUNT: Final = (
    "INSERT INTO shops_asked (who, since, times) VALUES (%s, %s, 1)"
    " ON CONFLICT (who, since) DO UPDATE SET times = shops_asked.times + 1 RETURNING times"
)
Handler = Callable[[HttpRequest], HttpResponse]


def times_asked(what: str, who: str, *, now: datetime, within: timedelta = MINUTE) -> int:
    """Counts this one, and gives how many there were in this stretch of time."""
    key = hmac.digest(settings.SECRET_KEY.encode(), f"asked {what} {who}".encode(), hashlib.sha256).hex()
    seconds = int(within.total_seconds())
    since = datetime.fromtimestamp(int(now.timestamp()) // seconds * seconds, tz=now.tzinfo)
    with connection.cursor() as cursor:
        cursor.execute(COUNT, [key, connection.ops.adapt_datetimefield_value(since)])
        return int(cursor.fetchone()[0])


def sweep(now: datetime) -> int:
    """A step of the tick: old counts are of no use."""
    return int(Asked.objects.filter(since__lt=now - KEPT).delete()[0])


class PublicPagesMiddleware:
    """Too many from one place within a minute are told to wait. Whoever is signed in is not counted."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if is_counted(request) and asked_too_often(request):
            answer = render(request, "shops/too_often.html", status=429)
            answer["Retry-After"] = str(int(MINUTE.total_seconds()))
            return answer
        return self.get_response(request)


def is_counted(request: Any) -> bool:
    if asked_from(request) in THIS_MACHINE:
        return False
    if WORKING in request.session:
        return False  # somebody at a device of the bay
    try:
        found = resolve(request.path_info)
    except Resolver404:
        found = None  # guessing addresses
    if found is not None and found.url_name in NOT_COUNTED:
        return False
    return not bool(request.user.is_authenticated)


def asked_too_often(request: HttpRequest) -> bool:
    """Reading and sending are counted apart: a form may be sent less often than a page is read."""
    sends = request.method not in ("GET", "HEAD", "OPTIONS")
    most: int = settings.PUBLIC_SENT_A_MINUTE if sends else settings.PUBLIC_READ_A_MINUTE
    who = asked_from(request)
    return times_asked("send" if sends else "read", who, now=timezone.now()) > most
