"""The page on which a member gets calendar addresses, and what such an address answers."""

from typing import Any, Final

from django.conf import settings
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.shops.access import ANYONE, actor_of, allow
from shopwarranty.shops.asked_from import asked_from
from shopwarranty.shops.models import Bay
from shopwarranty.shops.scope import shop_scope
from shopwarranty.warranty.public_views import kept_private
from shopwarranty.web.notices import tell

from ..holder.asked import too_often
from ..holder.links import LOCAL
from ..invitation import Method, content_type
from ..models import CalendarFeed
from .addresses import find_feed, new_feed, revoke_feed, standing_feeds
from .contents import shop_calendar

FETCHED_AN_HOUR: Final = 60
UNKNOWN_AN_HOUR: Final = 60
OWN: Final = "own"


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def calendar_feeds(request: Any) -> HttpResponse:
    """A press makes an address and shows it this once."""
    address, shown_for = "", ""
    if request.method == "POST":
        wanted = request.POST.get("whose", "")
        who = {"actor": actor_of(request), "now": request.now}
        if wanted == OWN:
            _feed, token = new_feed(member=request.member, **who)
        else:
            bay = get_object_or_404(bays_in_use(), pk=int(wanted) if wanted.isdecimal() else 0)
            _feed, token = new_feed(bay=bay, **who)
        address, shown_for = address_of(request, token), wanted
    standing = standing_feeds(request.member)
    rows = [(OWN, _("The whole shop, for you"), standing.get(OWN))]
    rows += [(str(bay.pk), bay.name, standing.get(str(bay.pk))) for bay in bays_in_use()]
    context = {"rows": rows, "address": address, "shown_for": shown_for, "section": "week"}
    return render(request, "inspections/feeds/calendar_feeds.html", context)


def bays_in_use() -> Any:
    return Bay.objects.filter(retired_at__isnull=True).order_by("position")


def address_of(request: Any, token: str) -> str:
    start = (request.shop.public_url or settings.PUBLIC_URL).rstrip("/") or LOCAL
    return f"{start}{reverse('calendar-feed', args=[token])}"


@require_POST
@allow(ANYONE)
def calendar_feed_revoke(request: Any, pk: int) -> HttpResponse:
    """One's own, or that of a bay; an owner any."""
    feed = get_object_or_404(CalendarFeed.objects.all(), pk=pk)
    if feed.member_id not in (None, request.member.pk) and not request.member.is_owner:
        raise Http404
    revoke_feed(feed=feed, actor=actor_of(request), now=request.now)
    tell(request, _("This address opens nothing any more. Calendars that had it keep what they last read."))
    return redirect("calendar-feeds", request.shop.slug)


@kept_private
@require_GET
def calendar_feed(request: Any, token: str) -> HttpResponse:
    """Unknown and revoked addresses get the same short answer; a calendar program shows none of it anyway."""
    feed = find_feed(token)
    if feed is None:
        often = too_often("unknown feed", asked_from(request), at_most=UNKNOWN_AN_HOUR, now=request.now)
        return HttpResponse("", content_type="text/plain", status=429 if often else 404)
    if too_often("feed", feed.token_hash, at_most=FETCHED_AN_HOUR, now=request.now):
        return HttpResponse("", content_type="text/plain", status=429)
    shop = feed.shop
    with shop_scope(shop), timezone.override(shop.zone), translation.override(shop.language):
        today = request.now.astimezone(shop.zone).date()
        content = shop_calendar(shop, now=request.now, today=today, bay=feed.bay)
    response = HttpResponse(content, content_type=content_type(Method.PUBLISH if shop.email else None))
    response["Content-Disposition"] = 'inline; filename="checks.ics"'
    return response
