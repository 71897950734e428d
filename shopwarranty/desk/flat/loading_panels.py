"""What stands beside a panel's row: people, reading, what was taken off, what happened while laying."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from shopwarranty.jobs.models import LayingEvent, PanelMember, Reading, RemovedItem
from shopwarranty.jobs.nearest import nearest_reading
from shopwarranty.jobs.record import reading_record
from shopwarranty.jobs.record_parts import ReadingRecord
from shopwarranty.jobs.technique_rows import Recorded

from .laying import event_entry
from .level_loading import clean_text, to_the_second
from .records import Entry, PanelValues


class BesidePanels:
    """Of the panels of these jobs; four queries."""

    def __init__(self, job_ids: Sequence[int], zone: ZoneInfo) -> None:
        self.zone = zone
        self.people: dict[int, list[PanelMember]] = defaultdict(list)
        self.removed: dict[int, list[Entry]] = defaultdict(list)
        self.panel_events: dict[int, list[Entry]] = defaultdict(list)
        self.place_events: dict[int, list[Entry]] = defaultdict(list)
        self.readings: dict[int, list[ReadingRecord]] = defaultdict(list)
        of_jobs = {"panel_work__job__in": job_ids}
        people = PanelMember.objects.filter(**of_jobs).select_related("member")
        for row in people.order_by("-is_lead", "pk"):
            self.people[row.panel_work_id].append(row)
        for item in RemovedItem.objects.filter(**of_jobs).order_by("pk"):
            self.removed[item.panel_work_id].append(Entry(clean_text(item.name), item.outcome))
        for event in LayingEvent.objects.filter(**of_jobs).order_by("pk"):
            entry = event_entry(event.kind, to_the_second(event.at), clean_text(event.note))
            place = event.place_id
            side = self.panel_events[event.panel_work_id] if place is None else self.place_events[place]
            side.append(entry)
        for reading in Reading.objects.filter(job__in=job_ids).select_related("member").order_by("at", "pk"):
            self.readings[reading.job_id].append(reading_record(reading))

    def complete(
        self, job_id: int, panel_id: int, values: PanelValues, finished: datetime | None
    ) -> PanelValues:
        """`finished` is the exact moment the panel was finished."""
        lead = next((row for row in self.people[panel_id] if row.is_lead), None)
        others = [row for row in self.people[panel_id] if row is not lead]
        return values._replace(
            installer=clean_text(lead.member.name) if lead else "",
            installer_part=clean_text(lead.part) if lead else "",
            other_installers=tuple(
                Entry(clean_text(row.member.name), clean_text(row.part)) for row in others
            ),
            removed_items=tuple(self.removed[panel_id]),
            laying_events=tuple(self.panel_events[panel_id]),
            **self._reading(job_id, panel_id, finished),
        )

    def _reading(self, job_id: int, panel_id: int, finished: datetime | None) -> dict[str, Any]:
        found = reading_of(self.readings[job_id], panel_id, finished, self.zone)
        if found is None:
            return {}
        return {
            "measured_at": to_the_second(found.at),
            **_said("air_c", found.air),
            **_said("surface_c", found.surface),
            **_said("humidity", found.humidity),
            "instrument": clean_text(found.instrument),
        }


def reading_of(
    readings: Iterable[ReadingRecord], panel_id: int, finished: datetime | None, zone: ZoneInfo
) -> ReadingRecord | None:
    """The one the panel goes by, else the last that was taken at this very panel. Empty ones tell nothing."""
    telling = [one for one in readings if any(said.value is not None for said in measured(one))]
    nearest = nearest_reading(telling, panel_id, finished, zone)
    own = [one for one in telling if one.panel_id == panel_id]
    return nearest or max(own, key=lambda one: one.at, default=None)


def measured(reading: ReadingRecord) -> tuple[Recorded, Recorded, Recorded]:
    return reading.air, reading.surface, reading.humidity


def _said(name: str, recorded: Recorded) -> dict[str, Any]:
    return {name: recorded.value, f"{name}_basis": recorded.basis}


PANEL_PATHS: Final = {
    "panel_name": "",
    "substrate": "intake__substrate",
    "painted_on": "intake__painted_on",
    "old_marks": "intake__marks",
    "marks_shown_at": "intake__acknowledged_at",
    "marks_shown_to": "intake__acknowledged_by",
    "panel_note": "note",
    **dict.fromkeys(
        (
            "installer",
            "installer_part",
            "other_installers",
            "removed_items",
            "laying_events",
            "measured_at",
            "air_c",
            "air_c_basis",
            "surface_c",
            "surface_c_basis",
            "humidity",
            "humidity_basis",
            "instrument",
        ),
        "",
    ),
}
