"""Free places as a desk shows them: one after the other, not every quarter hour one could begin at."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from shopwarranty.inspections.slots import Slot


@dataclass(frozen=True, slots=True)
class FreePlace:
    """A time that can be had; `lanes`: how many bays could take it."""

    slot: Slot
    lanes: int

    @property
    def key(self) -> str:
        return slot_key(self.slot)

    @property
    def starts(self) -> datetime:
        return self.slot.starts_utc


def slot_key(slot: Slot) -> str:
    """How a form names a slot: its wall time and lane."""
    return f"{slot.starts_local:%Y-%m-%dT%H:%M}/{slot.lane}"


def read_slot_key(key: str) -> tuple[datetime, int]:
    """The wall time and lane a form named. Raises ValueError."""
    starts, _, lane = key.partition("/")
    return datetime.strptime(starts, "%Y-%m-%dT%H:%M"), int(lane)  # noqa: DTZ007 a wall time


def packed(slots: Iterable[Slot]) -> Iterator[FreePlace]:
    """In order of time: each begins when the one before is over, so that none stands in another's way.

    `slots` as `free_slots` gives them. Times before the next booking that are too short stay out.
    """
    lanes: dict[datetime, list[Slot]] = {}
    for slot in slots:
        lanes.setdefault(slot.starts_local, []).append(slot)
    over: datetime | None = None
    for starts in sorted(lanes):
        if over is None or starts >= over:
            first = min(lanes[starts])
            over = starts + timedelta(minutes=first.minutes)
            yield FreePlace(first, len(lanes[starts]))


def by_day(places: Iterable[FreePlace]) -> dict[date, list[FreePlace]]:
    found: dict[date, list[FreePlace]] = {}
    for place in places:
        found.setdefault(place.slot.starts_local.date(), []).append(place)
    return found
