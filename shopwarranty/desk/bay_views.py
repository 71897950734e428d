"""Where work begins on a device of the bay: open jobs and vehicles coming in today, without their people."""

from datetime import datetime
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from shopwarranty.inspections import selectors
from shopwarranty.inspections.models import Booking, Visit
from shopwarranty.shops.access import IN_THE_BAY, allow
from shopwarranty.shops.models import Shop

from .today import open_jobs


@require_GET
@allow(IN_THE_BAY)
def bay_home(request: Any) -> HttpResponse:
    context = {
        "jobs": list(open_jobs()),
        "coming_in": coming_in(request.shop, request.now),
        "visits": list(
            Visit.objects.filter(state=Visit.State.OPEN, by_photo=False)
            .select_related("job__vehicle")
            .order_by("-started_at")[:12]
        ),
    }
    return render(request, "desk/bay_home.html", context)


def coming_in(shop: Shop, now: datetime) -> list[Any]:
    """Appointments of today that nobody has begun to look at."""
    rows: Any = selectors.coming_in(shop, now.astimezone(shop.zone).date())
    return [row for row in rows.filter(state=Booking.State.BOOKED) if not row.is_here]
