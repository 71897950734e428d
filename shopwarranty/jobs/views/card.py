"""The job card: what was recorded, on paper, to go with the vehicle through the bay."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from shopwarranty.shops.access import ANYONE, allow
from shopwarranty.trade.safety import FOOT

from ..drawings import job_drawing
from ..record_parts import JobRecord
from ..tells import margin_words
from ..words import differing, values_phrase
from .job import film_line
from .rows import recorded, the_job


@require_GET
@allow(ANYONE)
def job_card(request: Any, pk: int) -> HttpResponse:
    record, catalogue = recorded(request, the_job(pk))
    context = {
        "record": record,
        "drawing": job_drawing(record, catalogue, panel_url=lambda _key: "", add_url=lambda _key: ""),
        "panels": card_rows(request, record),
        "differs": differing(record.all_deviations, record.panels, request.shop),
        "readings": [(one, margin_words(one, request.shop)) for one in record.readings],
        "film_line": film_line(record),
        "foot": FOOT,
        "back_url": reverse("job", args=[request.shop.slug, pk]),
    }
    return render(request, "jobs/job_card.html", context)


def card_rows(request: Any, record: JobRecord) -> list[tuple[Any, str]]:
    """Each panel with its technique in one line."""
    return [(panel, values_phrase(panel.values, request.shop)) for panel in record.panels]
