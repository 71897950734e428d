"""The page of one job, and what concerns the job as a whole."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from shopwarranty.shops.access import IN_THE_BAY, allow
from shopwarranty.shops.kept_pages import asked_to_keep, kept_on_phone
from shopwarranty.trade.safety import CAUTIONS, FOOT, SHORT_FOOT
from shopwarranty.web import nav

from .. import copying
from ..drawings import is_settled, job_drawing
from ..panel_notes import job_notes_at
from ..record_parts import JobRecord
from ..tells import film_words, is_close, margin_words
from ..words import differing, place_words
from .rows import recorded, the_job


@require_GET
@allow(IN_THE_BAY)
@kept_on_phone(has_names=True)
def job(request: Any, pk: int) -> HttpResponse:
    row = the_job(pk)
    record, catalogue = recorded(request, row)
    as_list = request.GET.get("view") == "list"
    context = {
        **about(request, record),
        "nameless": asked_to_keep(request),
        "drawing": None if as_list else drawn(request, record, catalogue),
        "listed": list_rows(request, record) if as_list else None,
        "differs": differing(record.all_deviations, record.panels, request.shop),
        "film_line": film_line(record),
        "reading": record.last_reading,
        "margin": margin_words(record.last_reading, request.shop) if record.last_reading else "",
        "tells": film_words(record.last_reading, record.films, request.shop) if record.last_reading else (),
        "close": bool(record.last_reading and is_close(record.last_reading, request.shop)),
        "cautions": CAUTIONS,
        "caution_short": SHORT_FOOT,
        "caution_foot": FOOT,
        "next_panel": next_panel(record),
        "notes": job_notes_at(request.shop.slug, record.id),
        "similar": copying.last_similar(row) if copies(request, record) else None,
        "hand_over_url": "" if request.member.device else hand_over_url(request, record),
        "look_url": nav.address("start-look", request.shop.slug, record.id),
    }
    return render(request, "jobs/job.html", context)


def hand_over_url(request: Any, record: JobRecord) -> str:
    return nav.address("hand-over", request.shop.slug, record.id)


def copies(request: Any, record: JobRecord) -> bool:
    """Not on a device of the bay: what is taken over from another job is chosen by who signed in."""
    return not request.member.device and copying.is_offered(record)


def about(request: Any, record: JobRecord) -> dict[str, Any]:
    """What every page of the job says: which job, how far it is."""
    places = record.places
    differ = {row.place_id for row in record.all_deviations if row.place_id}
    settled = [panel for panel in record.panels if is_settled(record, panel)]
    as_usual = sum(len(panel.places) for panel in settled) - sum(
        1 for panel in settled for place in panel.places if place.id in differ
    )
    return {
        "record": record,
        "section": "jobs",
        "places": len(places),
        "places_usual": as_usual,
        "places_differ": len(differ),
        "unsettled": len(record.panels) - len(settled),
    }


def next_panel(record: JobRecord, after: int | None = None) -> Any:
    """The first panel not finished, from the one after `after` on and then from the start."""
    waiting = record.unfinished_panels
    if after is None:
        return next(iter(waiting), None)
    order = [panel.id for panel in record.panels]
    at = order.index(after) if after in order else -1
    later = [panel for panel in waiting if order.index(panel.id) > at]
    return next(iter((*later, *(panel for panel in waiting if panel.id != after))), None)


def drawn(request: Any, record: JobRecord, catalogue: Any) -> Any:
    ids = {panel.key: panel.id for panel in record.panels}
    slug = request.shop.slug
    choose = reverse("choose-panels", args=[slug, record.id])
    return job_drawing(
        record,
        catalogue,
        panel_url=lambda key: reverse("panel", args=[slug, ids[key]]),
        add_url=lambda key: f"{choose}?panels={key}",
    )


def list_rows(request: Any, record: JobRecord) -> list[tuple[Any, list[tuple[Any, str]]]]:
    """Panels in walking order with what is recorded of each place."""
    return [
        (panel, [(place, place_words(place, request.shop)) for place in panel.places])
        for panel in record.panels
    ]


def film_line(record: JobRecord) -> str:
    """Films, lots and rolls in one line, each once."""
    lines = []
    for panel in record.panels:
        for piece in panel.standing_pieces:
            lot = piece.lot or (_("unknown") if piece.lot_unknown_reason else _("not recorded"))
            roll = _("roll %(roll)s") % {"roll": piece.roll} if piece.roll else ""
            parts = (str(piece.film or _("Film not recorded")), _("lot %(lot)s") % {"lot": lot}, roll)
            lines.append(", ".join(part for part in parts if part))
    return "; ".join(dict.fromkeys(lines))
