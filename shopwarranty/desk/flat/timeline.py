"""What held since when, one thing after the other: the plates of a vehicle, its holders."""

from bisect import insort
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import Generic, TypeVar

T = TypeVar("T")


@dataclass(slots=True, eq=False)
class Stretch(Generic[T]):
    """`pk` 0: not written yet. `until` as stored: the day the next one began, None while it lasts.

    `party`: the row of a holder, where it is one.
    """

    since: date
    item: T
    pk: int = 0
    until: date | None = None
    party: int = 0


@dataclass(slots=True)
class Timeline(Generic[T]):
    """Ordered by `since`; of one day the later written comes later."""

    stretches: list[Stretch[T]] = field(default_factory=list)

    def at(self, day: date) -> T | None:
        stretch = self.stretch_at(day)
        return stretch.item if stretch else None

    def stretch_at(self, day: date) -> Stretch[T] | None:
        """What held on that day: the last begun by then, else the first there is."""
        begun = [stretch for stretch in self.stretches if stretch.since <= day]
        if begun or not self.stretches:
            return begun[-1] if begun else None
        return [stretch for stretch in self.stretches if stretch.since == self.stretches[0].since][-1]

    def put(self, item: T, day: date, since: date | None) -> None:
        """Says that `item` held on `day`. With `since` exactly from then; without it only if that is new."""
        if since is None:
            if self.at(day) == item:
                return
        elif any(stretch.since == since and stretch.item == item for stretch in self.stretches):
            return
        insort(self.stretches, Stretch(since or day, item), key=lambda stretch: stretch.since)

    @property
    def has_new(self) -> bool:
        return any(stretch.pk == 0 for stretch in self.stretches)

    def moved_ends(self) -> Iterator[Stretch[T]]:
        """Sets the ends anew; gives the written ones whose end has moved."""
        for at, stretch in enumerate(self.stretches, 1):
            following = self.stretches[at] if at < len(self.stretches) else None
            end = following.since if following else None
            if stretch.pk and following and not following.pk and _later(stretch.until, following.since):
                stretch.until = following.since
                yield stretch
            elif not stretch.pk:
                stretch.until = end


def _later(until: date | None, day: date) -> bool:
    return until is None or until > day
