"""The places behind a figure, as a list with everything that leads on from there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from django.utils.translation import gettext as _

from shopwarranty.defects.life_rules import AT_HANDOVER, BEFORE_RECORD, DAMAGE, PUT_RIGHT
from shopwarranty.defects.models import Life
from shopwarranty.jobs.models import Plate
from shopwarranty.trials.drawn_places import trials_of
from shopwarranty.trials.models import Trial
from shopwarranty.web.nav import address
from shopwarranty.web.trade_names import first_upper

from .words import Words


@dataclass(frozen=True, slots=True)
class InTrial:
    words: str
    url: str


@dataclass(frozen=True, slots=True)
class PlaceLine:
    """`state` is one of the marks: lift, clean or unseen. `days`: as the planned checks saw it."""

    vehicle: str
    plate: str
    url: str
    panel: str
    place: str
    started: date
    state: str
    seen: str
    ended: str
    defect: str
    defect_url: str
    trials: tuple[InTrial, ...] = ()


def place_lines(ids: Sequence[int], words: Words) -> list[PlaceLine]:
    """In the order of `ids`; five queries however many."""
    rows = Life.objects.select_related(
        "job__vehicle", "place__piece__panel_work", "place__piece__product", "defect"
    ).in_bulk(list(ids))
    kept = [rows[pk] for pk in ids if pk in rows]
    plates = _plates(life.job.vehicle_id for life in kept)
    trials = trials_of([life.place_id for life in kept])
    lines = [_line(life, plates.get(life.job.vehicle_id, ""), words) for life in kept]
    return [
        replace(line, trials=tuple(_in_trial(trial, words) for trial in trials.get(life.place_id, ())))
        for line, life in zip(lines, kept, strict=True)
    ]


def _in_trial(trial: Trial, words: Words) -> InTrial:
    text = _("Trial %(number)s") % {"number": trial.number}
    return InTrial(text, address("trial", words.shop.slug, trial.pk))


def _plates(vehicles: Iterable[int]) -> dict[int, str]:
    present = Plate.objects.filter(vehicle_id__in=set(vehicles), until__isnull=True).order_by("since", "pk")
    return dict(present.values_list("vehicle_id", "text"))


def _line(life: Life, plate: str, words: Words) -> PlaceLine:
    place, work, slug = life.place, life.place.piece.panel_work, words.shop.slug
    defect = life.defect
    return PlaceLine(
        vehicle=str(life.job.vehicle),
        plate=plate,
        url=address("job", slug, life.job_id),
        panel=first_upper(words.panel(work.panel)),
        place=place.name or words.place(work.panel, place.key),
        started=life.starts_on,
        state=_state(life),
        seen=_seen(life),
        ended=_ended(life),
        defect=defect.kind_said if defect else "",
        defect_url=address("defect", slug, defect.pk) if defect else "",
    )


def _state(life: Life) -> str:
    if life.failed_day is not None:
        return "lift"
    return "unseen" if life.clean_day is None or life.clean_day <= life.entry_day else "clean"


def _seen(life: Life) -> str:
    if life.failed_day is not None and life.clean_day is not None:
        days = {"clean": life.clean_day, "failed": life.failed_day}
        return _("Clean on day %(clean)s, found failing on day %(failed)s") % days
    if life.failed_day is not None:
        return _("Found failing on day %(failed)s, never seen clean") % {"failed": life.failed_day}
    if life.clean_day is not None:
        return _("Clean on day %(clean)s") % {"clean": life.clean_day}
    return _("Not looked at")


def _ended(life: Life) -> str:
    if life.ended == Life.Ended.FAILED and life.failed_day is None:
        return _("Reported on day %(day)s; no planned check has seen it yet") % {"day": life.ended_day}
    if life.ended != Life.Ended.OTHER:
        return ""
    words = {
        DAMAGE: _("ended by damage from outside"),
        AT_HANDOVER: _("wrong at handover and left"),
        BEFORE_RECORD: _("failed before it came under record"),
        PUT_RIGHT: _("put right, watched anew"),
    }
    return words.get(life.ended_why, _("its film came off"))
