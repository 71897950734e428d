"""What findings need to know of jobs that are in the shop already."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from shopwarranty.jobs.models import FilmPiece, Job, Place


@dataclass(frozen=True, slots=True)
class JobOutline:
    """Places by panel and piece, days on which panels were finished, which piece took whose place."""

    body: str
    places: dict[tuple[str, int], tuple[str, ...]]
    finished: dict[str, date | None]
    replaced: dict[tuple[str, int], int]


def outlines(refs: Iterable[str], zone: ZoneInfo) -> dict[str, JobOutline]:
    """Those of the shop's jobs with these refs. Three queries."""
    bodies = dict(Job.objects.filter(ref__in=list(refs)).values_list("ref", "vehicle__body_style"))
    found = {ref: JobOutline(body, {}, {}, {}) for ref, body in bodies.items()}
    names = ("panel_work__job__ref", "panel_work__panel", "panel_work__finished_at", "number")
    pieces = FilmPiece.objects.filter(panel_work__job__ref__in=list(bodies)).order_by("number")
    for ref, panel, finished, number, before in pieces.values_list(*names, "replaces__number"):
        found[ref].finished[panel] = finished.astimezone(zone).date() if finished else None
        found[ref].places[panel, number] = ()
        if before is not None:
            found[ref].replaced[panel, number] = before
    for (ref, panel, number), keys in place_keys(list(bodies)).items():
        found[ref].places[panel, number] = tuple(keys)
    return found


def place_keys(refs: list[str]) -> dict[tuple[str, str, int], list[str]]:
    found: dict[tuple[str, str, int], list[str]] = defaultdict(list)
    places = Place.objects.filter(piece__panel_work__job__ref__in=refs).order_by("walk", "pk")
    names = ("piece__panel_work__job__ref", "piece__panel_work__panel", "piece__number", "key")
    for ref, panel, number, key in places.values_list(*names):
        found[ref, panel, number].append(key)
    return found
