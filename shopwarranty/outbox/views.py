"""What waits, what failed and why; and whether the worker is alive."""

from datetime import timedelta
from typing import Any

from django.contrib import messages as notices
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from shopwarranty.shops.access import DESK, actor_of, allow
from shopwarranty.shops.history import StaleState

from . import actions
from .addresses import clear_address
from .models import Heartbeat, MarkedAddress, Message

ALIVE = timedelta(minutes=5)


@require_GET
@allow(DESK)
def messages(request: Any) -> HttpResponse:
    wanted = request.GET.get("show", "")
    rows = Message.objects.all()
    if wanted == "stuck":
        rows = rows.uncertain()
    elif wanted in Message.State.values:
        rows = rows.filter(state=wanted)
    page = Paginator(rows.defer("text", "html"), 50).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "show": wanted,
        "stuck": Message.objects.uncertain().count(),
        "marked": MarkedAddress.objects.filter(cleared_at=None).count(),
        "alive": alive(Heartbeat.objects.filter(name="tick").first()),
        "states": Message.State.choices,
        "section": "messages",
    }
    return render(request, "outbox/messages.html", context)


@require_GET
@allow(DESK)
def addresses(request: Any) -> HttpResponse:
    """What takes nothing, and why."""
    rows = MarkedAddress.objects.filter(cleared_at=None)
    page = Paginator(rows, 50).get_page(request.GET.get("page"))
    return render(request, "outbox/addresses.html", {"page": page, "section": "messages"})


@require_POST
@allow(DESK)
def clear(request: Any, pk: int) -> HttpResponse:
    row = get_object_or_404(MarkedAddress.objects.all(), pk=pk)
    clear_address(row=row, actor=actor_of(request), now=request.now)
    notices.success(request, _("Cleared. It is written to again."))
    return redirect("marked-addresses", request.shop.slug)


@require_GET
@allow(DESK)
def message(request: Any, pk: int) -> HttpResponse:
    row = get_object_or_404(Message.objects.all(), pk=pk)
    return render(request, "outbox/message.html", {"message": row, "section": "today"})


@require_POST
@allow(DESK)
def again(request: Any, pk: int) -> HttpResponse:
    return decide(request, pk, actions.send_again, _("It goes out with the next pass, within a minute."))


@require_POST
@allow(DESK)
def aside(request: Any, pk: int) -> HttpResponse:
    return decide(request, pk, actions.set_aside, _("Set aside. It will not be sent."))


def decide(request: Any, pk: int, act: Any, said: str) -> HttpResponse:
    row = get_object_or_404(Message.objects.all(), pk=pk)
    try:
        act(message=row, actor=actor_of(request), now=request.now)
        notices.success(request, said)
    except StaleState:
        notices.error(request, _("That message has moved on since you opened this page. Look again."))
    return redirect("message", request.shop.slug, pk)


@require_GET
def health(request: HttpRequest) -> HttpResponse:
    """For a monitor: 200 while the worker's last pass is fresh, else 503."""
    beat = Heartbeat.objects.filter(name="tick").first()
    well = alive(beat)
    answer = {
        "web": "up",
        "worker": "up" if well else "silent",
        "last_pass": beat.at.isoformat() if beat else None,
    }
    return JsonResponse(answer, status=200 if well else 503)


def alive(beat: Heartbeat | None) -> bool:
    return beat is not None and timezone.now() - beat.at < ALIVE
