"""All jobs of the shop: searched, filtered by state, sorted, page by page."""

from typing import Any

from django.core.paginator import Paginator
from django.db.models import Count, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET

from shopwarranty.shops.access import ANYONE, allow

from ..models import Holding, Job, PanelWork, Plate
from ..plates import searched_form

SORTS = {
    "": ("-started_at", "-pk"),
    "oldest": ("started_at", "pk"),
    "handover": ("-handed_over_on", "-pk"),
    "vehicle": ("vehicle__make", "vehicle__model", "-started_at"),
}
SORT_WORDS = (
    ("", gettext_lazy("newest first")),
    ("oldest", gettext_lazy("oldest first")),
    ("handover", gettext_lazy("by handover")),
    ("vehicle", gettext_lazy("by vehicle")),
)


@require_GET
@allow(ANYONE)
def jobs(request: Any) -> HttpResponse:
    words, state = request.GET.get("q", "").strip(), request.GET.get("state", "")
    sort = request.GET.get("sort", "")
    rows = listed(words, state).order_by(*SORTS.get(sort, SORTS[""]))
    page = Paginator(rows, 50).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "q": words,
        "state": state,
        "sort": sort,
        "states": [("", _("all")), *Job.State.choices],
        "sorts": SORT_WORDS,
        "open_jobs": Job.objects.still_open().count(),
        "section": "jobs",
    }
    return render(request, "jobs/jobs.html", context)


def listed(words: str, state: str) -> Any:
    """Jobs with vehicle, plate, holder and how many panels are done; a fixed number of queries."""
    panels = PanelWork.objects.filter(job=OuterRef("pk")).order_by().values("job")
    counted = panels.annotate(n=Count("pk")).values("n")
    rows = Job.objects.with_vehicle().annotate(
        panels_all=Coalesce(Subquery(counted), 0),
        panels_done=Coalesce(Subquery(counted.filter(finished_at__isnull=False)), 0),
    )
    if state in Job.State.values:
        rows = rows.filter(state=state)
    return rows.filter(found_by(words)) if words else rows


def found_by(words: str) -> Q:
    """By the number of the job, any plate it ever had, VIN, name of a holder, make or model."""
    compact = searched_form(words)
    found = Q(ref__istartswith=words) | Q(vehicle__make__icontains=words) | Q(vehicle__model__icontains=words)
    found |= Q(vehicle__in=name_of_holder(words))
    if compact:
        plates = Plate.objects.filter(searched__startswith=compact).values("vehicle")
        found |= (
            Q(vehicle__in=plates) | Q(vehicle__vin__startswith=compact) | Q(vehicle__vin__endswith=compact)
        )
    return found


def name_of_holder(words: str) -> Any:
    return Holding.objects.filter(party__name__icontains=words).values("vehicle")
