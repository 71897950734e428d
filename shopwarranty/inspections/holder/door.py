"""What stands before every page of a holder: the link, how often it is used, the holder's language."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from functools import wraps
from typing import Any, Final

from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone, translation
from django.views.decorators.csrf import csrf_exempt

from shopwarranty.jobs.models import HolderLink
from shopwarranty.shops.asked_from import asked_from
from shopwarranty.shops.scope import shop_scope
from shopwarranty.warranty.public_views import kept_private

from .asked import too_often
from .links import find_link

OPENED_AN_HOUR: Final = 300
ACTS_AN_HOUR: Final = 40
UNKNOWN_AN_HOUR: Final = 60
USED_SAID_EVERY: Final = timedelta(hours=1)
HolderView = Callable[..., HttpResponse]


def for_holder(view: HolderView) -> HolderView:
    """The view gets the link instead of its token. Unknown, ended, revoked: all the same to a stranger.

    The token in the address is the key, and no session is used: a forged post could only ask what anybody
    who has the address may ask. A page whose address is told to nobody also sends its forms without origin.
    """

    @csrf_exempt
    @kept_private
    @wraps(view)
    def inner(request: Any, token: str, *args: Any, **kwargs: Any) -> HttpResponse:
        link = find_link(token, request.now)
        if link is None:
            return unknown(request)
        with entered(link):
            if used_too_often(request, link):
                return render(request, "inspections/holder/later.html", {"shop": link.shop}, status=429)
            note_use(link, request)
            return view(request, link, token, *args, **kwargs)

    return inner


@contextmanager
def entered(link: HolderLink) -> Iterator[None]:
    language = link.party.language or link.shop.language
    with (
        shop_scope(link.shop),
        timezone.override(link.shop.zone),
        translation.override(language),
    ):
        yield


def unknown(request: Any) -> HttpResponse:
    """One answer, whatever is wrong with the address."""
    often = too_often("unknown link", asked_from(request), at_most=UNKNOWN_AN_HOUR, now=request.now)
    return render(request, "inspections/holder/unknown.html", status=429 if often else 404)


def used_too_often(request: Any, link: HolderLink) -> bool:
    who = str(link.uid)
    if request.method == "POST":
        return too_often("acts", who, at_most=ACTS_AN_HOUR, now=request.now)
    return too_often("opened", who, at_most=OPENED_AN_HOUR, now=request.now)


def note_use(link: HolderLink, request: Any) -> None:
    long_ago = Q(last_used_at__isnull=True) | Q(last_used_at__lt=request.now - USED_SAID_EVERY)
    HolderLink.objects.filter(long_ago, pk=link.pk).update(last_used_at=request.now)


def shown(request: Any, link: HolderLink, token: str, template: str, **context: Any) -> HttpResponse:
    """A page of the holder, with the shop's zone in a word: appointments are in the shop's time."""
    zone = link.shop.time_zone.rsplit("/", 1)[-1].replace("_", " ")
    common = {"link": link, "token": token, "shop": link.shop, "zone": zone}
    return render(request, f"inspections/holder/{template}", common | context)
