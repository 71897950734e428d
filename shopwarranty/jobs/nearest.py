"""Which reading a panel goes by."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from .record_parts import ReadingRecord

STILL_TELLS = timedelta(hours=12)


def nearest_reading(
    readings: Iterable[ReadingRecord], panel_id: int, finished_at: datetime | None, zone: ZoneInfo
) -> ReadingRecord | None:
    """The last one of the bay or of this panel not later than its finish; for an unfinished panel the last.

    One of another day tells nothing about this one, unless it is less than twelve hours old (work over
    midnight): better "not measured" than yesterday's air.
    """
    fitting = [
        reading
        for reading in readings
        if reading.panel_id in (None, panel_id) and (finished_at is None or reading.at <= finished_at)
    ]
    last = max(fitting, key=lambda reading: reading.at, default=None)
    if last is None or finished_at is None:
        return last
    same_day = last.at.astimezone(zone).date() == finished_at.astimezone(zone).date()
    return last if same_day or finished_at - last.at <= STILL_TELLS else None
