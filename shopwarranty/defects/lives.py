"""Stored lives, derived from the record. The only writer of `Life` rows.

A photo sent in never counts as a planned check, whatever it answers. A vehicle that walked in counts as
planned when the visit settled a check that was due; one that came back because of a defect does not, and its
check stays open: otherwise those who noticed something would be watched less than the others.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.db import transaction

from shopwarranty.jobs.models import Job
from shopwarranty.shops.many_rows import Table
from shopwarranty.shops.models import Counter, Shop
from shopwarranty.shops.scope import required_shop_id

from .failure_rule import Rule
from .life_rules import LifeFound, lives_of
from .models import Life
from .record_for_lives import WatchedPlace, shop_rule, watched_places

Key = tuple[int, int]  # a place's row and the number of its life
Row = tuple[object, ...]  # what stands in `VALUES`

AT_ONCE = 400
LINE_USED = "lives.line"
VALUES = (
    "job_id",
    "family",
    "starts_on",
    "entry_day",
    "clean_day",
    "failed_day",
    "all_clean_day",
    "all_failed_day",
    "ended",
    "ended_day",
    "ended_why",
    "defect_id",
)


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """How many lives were made, changed and dropped."""

    made: int = 0
    changed: int = 0
    dropped: int = 0

    @property
    def total(self) -> int:
        return self.made + self.changed + self.dropped

    def __add__(self, other: "Rebuilt") -> "Rebuilt":
        return Rebuilt(self.made + other.made, self.changed + other.changed, self.dropped + other.dropped)


def rebuild_lives(job_ids: Iterable[int] | None = None) -> Rebuilt:
    """Brings the stored lives of these jobs (all of the shop in scope: None) in line with the record."""
    rule, total = shop_rule(_shop()), Rebuilt()
    for chunk in _chunks(job_ids):
        total += _rebuild(chunk, rule)
    if job_ids is None:
        Counter.objects.update_or_create(series=LINE_USED, defaults={"last": rule.line})
    return total


def differences(job_ids: Iterable[int] | None = None) -> Rebuilt:
    """What `rebuild_lives` would do; nothing is written."""
    rule, total = shop_rule(_shop()), Rebuilt()
    for chunk in _chunks(job_ids):
        made, changed, dropped = _compare(chunk, rule)
        total += Rebuilt(len(made), len(changed), len(dropped))
    return total


def line_in_use() -> int | None:
    """The shop's line by which all its lives were last derived; None before the first time."""
    counter = Counter.objects.filter(series=LINE_USED).first()
    return counter.last if counter else None


def _shop() -> Shop:
    return Shop.objects.get(pk=required_shop_id())


def _chunks(job_ids: Iterable[int] | None) -> Iterator[list[int]]:
    wanted = Job.objects.order_by("pk").values_list("pk", flat=True) if job_ids is None else job_ids
    ids = sorted(set(wanted))
    for first in range(0, len(ids), AT_ONCE):
        yield ids[first : first + AT_ONCE]


@transaction.atomic
def _rebuild(job_ids: list[int], rule: Rule) -> Rebuilt:
    list(Job.objects.select_for_update().filter(pk__in=job_ids).order_by("pk").values_list("pk"))
    made, changed, dropped = _compare(job_ids, rule)
    Life.objects.filter(pk__in=dropped).delete()
    table = Table(Life, ("place_id", "number", *VALUES), ids_at_once=len(made))
    for (place_id, number), values in made:
        table.add(place_id, number, *values)
    table.flush()
    Life.objects.bulk_update(changed, VALUES, batch_size=200)
    return Rebuilt(len(made), len(changed), len(dropped))


def _compare(job_ids: list[int], rule: Rule) -> tuple[list[tuple[Key, Row]], list[Life], list[int]]:
    """Lives to make, lives to change (with their row's id), ids to drop."""
    rows = Life.objects.filter(job_id__in=job_ids).values_list("pk", "place_id", "number", *VALUES)
    stored = {(place_id, number): (pk, tuple(values)) for pk, place_id, number, *values in rows}
    made: list[tuple[Key, Row]] = []
    changed: list[Life] = []
    for key, values in _derived(job_ids, rule):
        before = stored.pop(key, None)
        if before is None:
            made.append((key, values))
        elif before[1] != values:
            changed.append(Life(pk=before[0], **dict(zip(VALUES, values, strict=True))))
    return made, changed, [pk for pk, _values in stored.values()]


def _derived(job_ids: list[int], rule: Rule) -> Iterator[tuple[Key, Row]]:
    for place in watched_places(job_ids, rule):
        for found in lives_of(place.watched, place.looks, place.remedied):
            yield (place.pk, found.number), _values(place, found)


def _values(place: WatchedPlace, found: LifeFound) -> Row:
    """In the order of `VALUES`."""
    return (
        place.job_id,
        place.family,
        found.starts,
        found.entry,
        found.clean,
        found.failed,
        found.all_clean,
        found.all_failed,
        found.ended.value,
        found.ended_day,
        found.ended_why[:24],
        found.defect,
    )
