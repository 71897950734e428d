"""Which panels of a job get film, and which film."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from shopwarranty.shops.access import IN_THE_BAY, actor_of, allow
from shopwarranty.trade.catalogue import USUAL_FRONT
from shopwarranty.web.trade_names import first_upper

from .. import actions
from ..forms.film import FilmForm, initial_of
from ..forms.opening import PanelsForm
from ..models import Job
from ..record_parts import JobRecord
from .job import about
from .rows import recorded, the_job


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
def choose_panels(request: Any, pk: int) -> HttpResponse:
    """Which panels get film, and which film."""
    row = the_job(pk)
    record, catalogue = recorded(request, row)
    taken, body = {panel.key for panel in record.panels}, record.vehicle.body_style
    free = [key for key in catalogue.panel_keys(body) if key not in taken]
    choices = [(key, first_upper(catalogue.panel_name(body, key))) for key in free]
    posted = request.POST if request.method == "POST" and "quick" not in request.POST else None
    form = PanelsForm(posted, choices=choices, initial={"panels": picked(request, free)})
    film = FilmForm(posted, initial=film_before(request, record))
    asks_reason = False
    if posted and form.is_valid() and film.is_valid():
        try:
            return start_chosen(request, row, catalogue, form, film)
        except actions.PanelThere:
            form.add_error("panels", _("Somebody started one of these in between. Choose again."))
        except actions.ReasonForFilm:
            asks_reason = True
            film.add_error("roll", _("Its lot is in quarantine. Say why it is used all the same."))
    context = {**about(request, record), "form": form, "film": film, "asks_reason": asks_reason}
    return render(request, "jobs/choose_panels.html", context)


def picked(request: Any, free: list[str]) -> list[str]:
    """A quick set, or the panel tapped in the drawing."""
    quick = request.POST.get("quick")
    if quick == "front":
        return [key for key in USUAL_FRONT if key in free]
    if quick == "all":
        return free
    return [key for key in request.GET.getlist("panels") if key in free]


def film_before(request: Any, record: JobRecord) -> dict[str, Any]:
    """The film picked a step before, else the one the job used last."""
    given = {name: request.GET[name] for name in FilmForm.base_fields if name in request.GET}
    pieces = [piece for panel in record.panels for piece in panel.pieces]
    if given or not pieces:
        return given
    return initial_of(pieces[-1])


def start_chosen(request: Any, row: Job, catalogue: Any, form: PanelsForm, film: FilmForm) -> HttpResponse:
    actor, now = actor_of(request), request.now
    choice = film.choice(actor=actor, now=now)
    started = actions.start_panels(
        job=row,
        panels=form.cleaned_data["panels"],
        catalogue=catalogue,
        film=choice,
        lead=request.member if request.member.is_installer else None,
        reason=request.POST.get("film_reason", ""),
        actor=actor,
        now=now,
    )
    first = min(started, key=lambda panel: panel.walk)
    return redirect("panel", request.shop.slug, first.pk)
