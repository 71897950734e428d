"""The conditions a panel was laid in: of the reading its record goes by."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from zoneinfo import ZoneInfo

from shopwarranty.jobs.models import Reading
from shopwarranty.jobs.nearest import nearest_reading
from shopwarranty.jobs.record import reading_record
from shopwarranty.jobs.record_parts import ReadingRecord
from shopwarranty.jobs.technique_rows import Recorded

from .columns import Numbers, Texts, numbers, texts
from .record_rows import Rows

ENOUGH, TOO_LITTLE = "enough", "too little"


def conditions(panels: Rows, zone: ZoneInfo, wanted_margin_c: float) -> dict[str, Texts | Numbers]:
    """For every panel: surface temperature, humidity, and whether it stayed clear of the dew point."""
    found = list(_readings(panels, zone))
    return {
        "surface_c": _column([r.surface if r else None for r in found], step=1.0),
        "humidity": _column([r.humidity if r else None for r in found], step=5.0),
        "dew_margin": texts(_margin(r, wanted_margin_c) for r in found),
    }


def _readings(panels: Rows, zone: ZoneInfo) -> Iterator[ReadingRecord | None]:
    by_job: dict[int, list[ReadingRecord]] = defaultdict(list)
    for row in Reading.objects.select_related("member"):
        by_job[row.job_id].append(reading_record(row))
    columns = (panels.columns["job_id"], panels.columns["finished_at"])
    for panel_id, job_id, finished_at in zip(panels.ids, *columns, strict=True):
        of_job = by_job.get(job_id)
        yield nearest_reading(of_job, int(panel_id), finished_at, zone) if of_job and finished_at else None


def _column(values: Iterable[Recorded | None], step: float) -> Numbers:
    kept = list(values)
    known = [None if v is None or not isinstance(v.value, int | float) else float(v.value) for v in kept]
    return numbers(known, [v.basis if v else "" for v in kept], step)


def _margin(reading: ReadingRecord | None, wanted_c: float) -> str:
    margin = reading.margin if reading else None
    if margin is None:
        return ""
    return TOO_LITTLE if margin.is_less_than(wanted_c) else ENOUGH
