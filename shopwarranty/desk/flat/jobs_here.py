"""What findings need to know of jobs that are in the shop already."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from shopwarranty.jobs.models import Job

from .film_of_jobs import FilmOfJobs


@dataclass(frozen=True, slots=True)
class JobOutline:
    """Places by panel and piece, days on which panels were finished, which piece took whose place."""

    body: str
    places: dict[tuple[str, int], tuple[str, ...]]
    finished: dict[str, date | None]
    replaced: dict[tuple[str, int], int]


def outlines(refs: Iterable[str], zone: ZoneInfo) -> dict[str, JobOutline]:
    """Those of the shop's jobs with these refs. Five queries."""
    ref_of = dict(Job.objects.filter(ref__in=list(refs)).values_list("pk", "ref"))
    film = FilmOfJobs.read(ref_of)
    found = {ref: JobOutline(film.bodies[pk], {}, {}, {}) for pk, ref in ref_of.items()}
    for job_id, panel, finished in film.panels.values():
        found[ref_of[job_id]].finished[panel] = finished.astimezone(zone).date() if finished else None
    for piece in film.pieces.values():
        outline = found[ref_of[piece.job_id]]
        outline.places[piece.panel, piece.number] = ()
        if piece.replaces_number is not None:
            outline.replaced[piece.panel, piece.number] = piece.replaces_number
    for place in film.places.values():
        found[ref_of[place.job_id]].places[place.panel, place.piece] += (place.place,)
    return found
