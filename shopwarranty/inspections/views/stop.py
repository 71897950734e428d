"""Stopping reminders from a mail. RFC 8058: a post to the address is enough, without anything else; looking
at it (mail scanners do) changes nothing; the answer is never a redirect.
"""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import translation
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from shopwarranty.shops.history import Actor
from shopwarranty.shops.scope import shop_scope

from ..holder.reminders import resume_reminders, stop_reminders
from ..writing.stop_links import Stop, read_token


@csrf_exempt
@require_http_methods(["GET", "HEAD", "POST"])
def stop(request: Any, token: str) -> HttpResponse:
    """The token alone decides. One that is not ours looks the same whatever is wrong with it."""
    found = read_token(token)
    if found is None:
        return kept_from_others(render(request, "inspections/stop_unknown.html", status=404))
    with shop_scope(found.shop), translation.override(found.party.language or found.shop.language):
        if request.method == "POST":
            act(request, found)
        context = {"shop": found.shop, "stopped": found.party.reminders_stopped_at is not None}
        return kept_from_others(render(request, "inspections/stop.html", context))


def act(request: Any, found: Stop) -> None:
    """Anything posted stops; only our own page's other button asks for them again."""
    change = resume_reminders if request.POST.get("act") == "resume" else stop_reminders
    change(party=found.party, actor=Actor(who=found.party.name), now=request.now)


def kept_from_others(response: HttpResponse) -> HttpResponse:
    response["Cache-Control"] = "private, no-store"
    response["Referrer-Policy"] = "no-referrer"
    response["X-Robots-Tag"] = "noindex"
    return response
