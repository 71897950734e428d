"""The web hook by which a mail service reports an address that takes no mail."""

import json
from datetime import datetime, timedelta
from typing import Any, Final

from django.conf import settings
from django.db import transaction
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST

from shopwarranty.shops.scope import every_shop, shop_scope

from .addresses import mark_address, written_to
from .models import HookCall, MarkedAddress
from .signing import NotSigned, verify

LONGEST: Final = 64 * 1024
KEPT: Final = timedelta(days=1)
CHANNELS: Final = ("mail", "text")


@csrf_exempt
@require_POST
def bounced(request: HttpRequest) -> HttpResponse:
    """Body: {"address": "...", "permanent": true, "channel": "mail", "why": "..."}, signed.

    The answer never says whether anybody here has that address. The same call a second time changes nothing.
    """
    now = timezone.now()
    if not settings.BOUNCE_SECRET:
        return JsonResponse({"error": "not set up"}, status=404)
    if int(request.headers.get("content-length") or 0) > LONGEST:
        return JsonResponse({"error": "too long"}, status=413)
    try:
        signed = verify(settings.BOUNCE_SECRET, request.headers, request.body, now)
    except NotSigned:
        return JsonResponse({"error": "not signed"}, status=401)
    report = report_in(request.body)
    if report is None:
        return JsonResponse({"error": "no address"}, status=400)
    with transaction.atomic():
        if is_first(signed.call, now):
            take_in(report, now)
    return JsonResponse({"ok": True})


def is_first(call: str, now: datetime) -> bool:
    """A call is taken once. Old ids are swept: their timestamp no longer holds anyway."""
    HookCall.objects.filter(at__lt=now - KEPT).delete()
    _row, new = HookCall.objects.get_or_create(call=call, defaults={"at": now})
    return bool(new)


def report_in(body: bytes) -> dict[str, Any] | None:
    try:
        said = json.loads(body)
    except ValueError:
        return None
    good = isinstance(said, dict) and isinstance(said.get("address"), str)
    return said if good and 0 < len(said["address"]) <= 254 else None


def take_in(report: dict[str, Any], now: datetime) -> None:
    """Only what is permanent is marked, in each shop that has written there."""
    channel = report.get("channel", "mail")
    if report.get("permanent") is not True or channel not in CHANNELS:
        return
    why, source = str(report.get("why", ""))[:240], MarkedAddress.Source.REPORTED
    with every_shop():
        shops = written_to(report["address"], channel)
    for shop, address in shops:
        with shop_scope(shop):
            mark_address(channel=channel, address=address, source=source, why=why, now=now)
