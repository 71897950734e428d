"""Visits, findings, defects with their sightings, and what was done about them."""

from collections.abc import Iterator
from datetime import datetime, time, timedelta
from decimal import Decimal

from django.utils.translation import gettext

from shopwarranty.defects.models import Defect, Remedy, Sighting
from shopwarranty.inspections.models import Finding, Visit
from shopwarranty.shops.models import Counter
from shopwarranty.trade import defects as kinds

from .. import told
from ..chance import uid
from ..told import Story
from .rows import Written, add


def write_looks(written: Written, story: Story) -> None:
    """Needs checks and appointments: a visit says which one it was."""
    flat = iter(add(_visits(written, story)))
    written.visits = [[next(flat) for _ in course.visits] for course in story.courses]
    rows = list(_findings(written, story))
    written.findings = dict(zip([key for key, _ in rows], add(row for _, row in rows), strict=True))
    _write_defects(written, story)


def _visits(written: Written, story: Story) -> Iterator[Visit]:
    for number, course in enumerate(story.courses):
        for nth, visit in enumerate(course.visits):
            started = written.at(visit.at)
            yield Visit(
                uid=uid("visit", number, nth),
                job=written.jobs[number],
                check_due=written.checks.get((number, visit.check)),
                booking=written.bookings.get((number, visit.check)),
                state=Visit.State.FINISHED,
                origin=visit.origin,
                is_handover_look=visit.check == "handover",
                since_when=visit.since_when,
                since_when_words=visit.since_words,
                happened_on=visit.on,
                started_at=started,
                finished_at=started + timedelta(minutes=25),
                entered_at=max(started, written.jobs[number].entered_at),
                member=written.members[visit.member],
            )


def _findings(written: Written, story: Story) -> Iterator[tuple[tuple[int, int, int], Finding]]:
    for number, course in enumerate(story.courses):
        places = written.places[number]
        for nth, visit in enumerate(course.visits):
            row = written.visits[number][nth]
            for order, finding in enumerate(visit.findings):
                yield (
                    (number, nth, finding.place),
                    Finding(
                        uid=uid("finding", number, nth, order),
                        visit=row,
                        place=places[finding.place],
                        result=finding.result,
                        why_not=finding.why_not,
                        said=finding.said,
                        at=row.started_at + timedelta(seconds=10 * order),
                        order=order,
                    ),
                )


def _each(story: Story) -> list[tuple[int, int, told.Defect]]:
    """(job, defect of the job, defect), in the order in which they were first seen."""
    found = [
        (number, nth, defect)
        for number, course in enumerate(story.courses)
        for nth, defect in enumerate(course.defects)
    ]
    return sorted(found, key=lambda each: story.courses[each[0]].visits[each[2].sightings[0].visit].at)


def _write_defects(written: Written, story: Story) -> None:
    each = _each(story)
    rows = add(_defect(written, story, n, *one) for n, one in enumerate(each, 1))
    Counter.objects.update_or_create(series="defect", defaults={"last": len(rows)})
    by_key = {(job, nth): row for (job, nth, _), row in zip(each, rows, strict=True)}
    again = []
    for job, nth, defect in each:
        if defect.recurrence_of is not None:
            by_key[job, nth].recurrence_of = by_key[job, defect.recurrence_of]
            again.append(by_key[job, nth])
    # before their sightings are there: afterwards what was seen is kept as it is
    Defect.objects.bulk_update(again, ["recurrence_of"])
    add(_sightings(written, by_key, each))
    add(_remedies(written, by_key, each))


def _defect(written: Written, story: Story, number: int, job: int, nth: int, defect: told.Defect) -> Defect:
    first = written.visits[job][defect.sightings[0].visit]
    judged_by = written.members["owner"] if defect.cause else None
    return Defect(
        uid=uid("defect", job, nth),
        number=f"D{number:04d}",
        place=written.places[job][defect.place],
        kind=defect.kind,
        kind_words=gettext(kinds.kind(defect.kind).name_us)[:80],
        found_on=first.happened_on,
        at_handover=first.is_handover_look,
        state=Defect.State.REMEDIED if defect.remedy else Defect.State.OPEN,
        cause=defect.cause,
        cause_sure=defect.sure,
        cause_judged_by=judged_by,
        cause_judged_at=first.finished_at if defect.cause else None,
    )


def _sightings(
    written: Written, rows: dict[tuple[int, int], Defect], each: list[tuple[int, int, told.Defect]]
) -> Iterator[Sighting]:
    for job, nth, defect in each:
        for seen in defect.sightings:
            yield Sighting(
                uid=uid("sighting", job, nth, seen.visit),
                defect=rows[job, nth],
                finding=written.findings[job, seen.visit, defect.place],
                extent_mm=seen.extent_mm,
                depth_mm=seen.depth_mm,
                count=seen.count,
                severity=seen.severity,
            )


def _cost(job: int, nth: int, done: told.Remedy) -> Decimal | None:
    """Work by the minute, and film where it was laid anew; of one in six nobody wrote it down."""
    if (5 * job + nth) % 6 == 0:
        return None
    film = Decimal("38.50") if done.kind == "relay" else Decimal(0)
    return Decimal(done.minutes) * Decimal("1.15") + film


def _remedies(
    written: Written, rows: dict[tuple[int, int], Defect], each: list[tuple[int, int, told.Defect]]
) -> Iterator[Remedy]:
    for job, nth, defect in each:
        done = defect.remedy
        if done is None:
            continue
        visit = None if done.visit is None else written.visits[job][done.visit]
        at = written.at(datetime.combine(done.on, time(14)))
        if visit is not None:
            at = visit.started_at + timedelta(minutes=25)
        yield Remedy(
            uid=uid("remedy", job, nth),
            defect=rows[job, nth],
            kind=done.kind,
            done_on=done.on,
            done_at=at,
            member=written.members[done.member],
            visit=visit,
            minutes=done.minutes,
            cost=_cost(job, nth, done),
            post_heat_c=done.post_heat_c,
            post_heat_c_basis="stated" if done.post_heat_c is not None else "",
            passes=2 if done.kind == "reheat" else None,
            passes_basis="stated" if done.kind == "reheat" else "",
        )
