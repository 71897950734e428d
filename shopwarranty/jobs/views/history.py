"""Who changed what of a job, when and why."""

from collections.abc import Iterable
from typing import Any

from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from shopwarranty.shops.access import ANYONE, allow
from shopwarranty.shops.models import Change

from ..history_words import history_line
from ..models import FilmPiece, Job, LayingEvent, PanelIntake, PanelWork, Place, Reading, RemovedItem
from ..record_parts import JobRecord
from .rows import recorded, the_job

OF_PANEL = (FilmPiece, PanelIntake, RemovedItem, LayingEvent)


@require_GET
@allow(ANYONE)
def job_history(request: Any, pk: int) -> HttpResponse:
    """Of the job and everything in it, newest first."""
    job = the_job(pk)
    record, catalogue = recorded(request, job)
    page = Paginator(changes_of(job), 50).get_page(request.GET.get("page"))
    where = names_of_rows(job, record, page.object_list)
    body = job.vehicle.body_style
    lines = [
        history_line(one, where.get((one.table, one.row), ""), body, catalogue) for one in page.object_list
    ]
    context = {"job": job, "page": page, "lines": lines, "section": "jobs"}
    return render(request, "jobs/job_history.html", context)


def changes_of(job: Job) -> Any:
    """The history names tables and row numbers: those of the job and of all that hangs on it."""
    hanging: list[tuple[Any, Any]] = [
        (Job, Job.objects.filter(pk=job.pk)),
        (PanelWork, PanelWork.objects.filter(job=job)),
        (Reading, Reading.objects.filter(job=job)),
        (Place, Place.objects.filter(piece__panel_work__job=job)),
        *((model, model.objects.filter(panel_work__job=job)) for model in OF_PANEL),
    ]
    wanted = Q()
    for model, rows in hanging:
        wanted |= Q(table=model._meta.db_table, row__in=rows.values("pk"))
    return Change.objects.filter(wanted)


def names_of_rows(job: Job, record: JobRecord, changes: Iterable[Change]) -> dict[tuple[str, int], str]:
    """Panel and place of every row the changes of this page are about."""
    table = {model: model._meta.db_table for model in (PanelWork, Place, *OF_PANEL)}
    names = {(table[PanelWork], panel.id): panel.name for panel in record.panels}
    for panel in record.panels:
        places = (place for piece in panel.pieces for place in piece.places)
        names |= {(table[Place], place.id): f"{panel.name}, {place.name}" for place in places}
    by_panel = {panel.id: panel.name for panel in record.panels}
    shown = {(one.table, one.row) for one in changes}
    for model in OF_PANEL:
        ids = [row for of, row in shown if of == table[model]]
        rows = model.objects.filter(pk__in=ids).values_list("pk", "panel_work")
        names |= {(table[model], pk): by_panel.get(panel_id, "") for pk, panel_id in rows}
    return names
