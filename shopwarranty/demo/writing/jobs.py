"""Jobs with their panels, pieces and places, and everything recorded of them."""

from collections.abc import Iterator
from datetime import datetime, time, timedelta
from uuid import UUID

from shopwarranty.jobs.models import (
    Deviation,
    FilmPiece,
    Job,
    JobSession,
    LayingEvent,
    PanelIntake,
    PanelMember,
    PanelWork,
    Place,
    Reading,
    RemovedItem,
)
from shopwarranty.jobs.technique_rows import Said, put
from shopwarranty.shops.models import Change, Counter
from shopwarranty.trade import catalogue

from .. import told
from ..chance import uid
from ..plans import FIRST_DAY_HERE, HANDED_OVER_AS_ONE_ACT
from ..told import Story
from .rows import Written, add, change


def write_jobs(written: Written, story: Story) -> None:
    written.jobs = add(_job(written, story, job) for job in story.jobs)
    Counter.objects.update_or_create(series="job", defaults={"last": len(story.jobs)})
    flat = iter(add(_panel_rows(written, story)))
    written.panels = [[next(flat) for _ in job.panels] for job in story.jobs]
    pieces = iter(add(_piece_rows(written, story)))
    by_job = [[[next(pieces) for _ in panel.pieces] for panel in job.panels] for job in story.jobs]
    places = iter(add(_place_rows(story, by_job)))
    written.places = [
        [next(places) for panel in job.panels for piece in panel.pieces for _ in piece.places]
        for job in story.jobs
    ]
    _tie_seams(written, story, by_job)
    _write_around(written, story)


def _job(written: Written, story: Story, job: told.Job) -> Job:
    handed = written.at(job.handed_over_at)
    started, here = written.at(job.started_at), story.today - timedelta(days=FIRST_DAY_HERE)
    imported_at = written.at(datetime.combine(here, time(19, 30))) if job.imported else None
    gone = not is_left_to_handover(story, job)
    row = Job(
        uid=uid("job", job.number),
        ref=str(job.number),
        vehicle=written.vehicles[job.car],
        kind=job.kind,
        method_version=written.versions[job.method, job.version],
        state=Job.State.HANDED_OVER if gone else Job.State.OPEN,
        handed_over_at=handed if gone else None,
        handed_over_on=job.handed_over_at.date() if gone else None,
        handed_over_by=written.members["desk"] if gone else None,
        started_at=started,
        entered_at=imported_at or started,
        imported_at=imported_at,
        ready_at=handed - timedelta(minutes=30),
        confirmed_at=started + timedelta(minutes=30),
        confirmed_by=written.members[job.panels[0].lead],
    )
    _put_all(row, job.values)
    return row


def is_left_to_handover(story: Story, job: told.Job) -> bool:
    return (story.today - job.handed_over_at.date()).days in HANDED_OVER_AS_ONE_ACT


def _put_all(row: Job | PanelWork | Place, values: told.Values) -> None:
    for key, (value, basis) in values.items():
        put(row, key, Said(value, basis))


def _panel_rows(written: Written, story: Story) -> Iterator[PanelWork]:
    for job, row in zip(story.jobs, written.jobs, strict=True):
        keys = catalogue.panel_keys(story.cars[job.car].body)
        for panel in job.panels:
            finished = written.at(panel.finished_at)
            made = PanelWork(
                uid=uid("panel", job.number, panel.key),
                job=row,
                panel=panel.key,
                walk=keys.index(panel.key),
                finished_at=finished,
                confirmed_at=finished if panel.confirmed else None,
                confirmed_by=written.members[panel.lead] if panel.confirmed else None,
            )
            _put_all(made, panel.values)
            yield made


def _piece_rows(written: Written, story: Story) -> Iterator[FilmPiece]:
    for job, panels in zip(story.jobs, written.panels, strict=True):
        for panel, work in zip(job.panels, panels, strict=True):
            for number, piece in enumerate(panel.pieces, 1):
                yield _piece(written, work, piece, number, uid("piece", job.number, panel.key, number))


def _piece(written: Written, work: PanelWork, piece: told.Piece, number: int, key: UUID) -> FilmPiece:
    roll = None if piece.roll is None else written.rolls[piece.roll]
    return FilmPiece(
        uid=key,
        panel_work=work,
        number=number,
        layer=piece.layer,
        name=piece.name,
        product=written.products[piece.film],
        lot=roll.lot if roll else None,
        lot_unknown_reason=roll.lot_unknown_reason if roll else "other",
        roll=roll,
        cut=None if piece.roll is None or piece.cut is None else written.cuts[piece.roll][piece.cut],
    )


def _place_rows(story: Story, pieces: list[list[list[FilmPiece]]]) -> Iterator[Place]:
    for job, by_panel in zip(story.jobs, pieces, strict=True):
        for panel, rows in zip(job.panels, by_panel, strict=True):
            for piece, row in zip(panel.pieces, rows, strict=True):
                for walk, place in enumerate(piece.places):
                    made = Place(
                        uid=uid("place", job.number, panel.key, row.number, place.key),
                        piece=row,
                        key=place.key,
                        kind=place.kind,
                        walk=900 if place.kind == "seam" else walk,
                    )
                    _put_all(made, place.values)
                    yield made


def _tie_seams(written: Written, story: Story, pieces: list[list[list[FilmPiece]]]) -> None:
    """A seam names the piece it meets."""
    first = {row.panel_work_id: row for by_panel in pieces for rows in by_panel for row in rows[:1]}
    seams = [place for places in written.places for place in places if place.kind == "seam"]
    for seam in seams:
        seam.other_piece = first[seam.piece.panel_work_id]
    Place.objects.bulk_update(seams, ["other_piece"])


def _write_around(written: Written, story: Story) -> None:
    add(_members(written, story))
    add(_readings(written, story))
    add(_intakes(written, story))
    add(_removed(written, story))
    add(_events(written, story))
    add(_deviations(written, story))
    add(_sessions(written, story))
    add(_history(written, story))


def _each(written: Written, story: Story) -> Iterator[tuple[told.Job, Job, told.Panel, PanelWork]]:
    for job, row, panels in zip(story.jobs, written.jobs, written.panels, strict=True):
        for panel, work in zip(job.panels, panels, strict=True):
            yield job, row, panel, work


def _members(written: Written, story: Story) -> Iterator[PanelMember]:
    for _, _, panel, work in _each(written, story):
        yield PanelMember(panel_work=work, member=written.members[panel.lead], is_lead=True)
        if panel.helper:
            yield PanelMember(panel_work=work, member=written.members[panel.helper], is_lead=False)


def _readings(written: Written, story: Story) -> Iterator[Reading]:
    for job, row in zip(story.jobs, written.jobs, strict=True):
        for number, reading in enumerate(job.readings):
            made = Reading(
                uid=uid("reading", job.number, number),
                job=row,
                at=written.at(reading.at),
                instrument="infrared" if reading.surface_c is not None else "room",
                member=written.members[job.panels[0].lead],
                entered_at=written.at(reading.at),
                air_c=reading.air_c,
                air_c_basis="measured",
                air_typed=f"{reading.air_c * 1.8 + 32:.0f} F",
                humidity=reading.humidity,
                humidity_basis="measured",
            )
            if reading.surface_c is not None:
                made.surface_c, made.surface_c_basis = reading.surface_c, "measured"
                made.surface_typed = f"{reading.surface_c * 1.8 + 32:.0f} F"
            yield made


def _intakes(written: Written, story: Story) -> Iterator[PanelIntake]:
    for job, row, panel, work in _each(written, story):
        if panel.substrate or panel.marks:
            at = row.started_at - timedelta(minutes=15)
            yield PanelIntake(
                uid=uid("intake", job.number, panel.key),
                panel_work=work,
                substrate=panel.substrate,
                marks=panel.marks,
                acknowledged_at=at if panel.marks else None,
                acknowledged_by=_holder_of(story, job) if panel.marks else "",
                member=written.members["desk"],
                at=at,
            )


def _holder_of(story: Story, job: told.Job) -> str:
    holder = story.cars[job.car].holder
    return "" if holder is None else story.holders[holder].name


def _removed(written: Written, story: Story) -> Iterator[RemovedItem]:
    for job, _, panel, work in _each(written, story):
        for number, name in enumerate(panel.removed):
            yield RemovedItem(
                uid=uid("removed", job.number, panel.key, number),
                panel_work=work,
                name=name,
                outcome="refitted",
                settled_at=written.at(panel.finished_at),
                settled_by=written.members[panel.lead],
            )


def _events(written: Written, story: Story) -> Iterator[LayingEvent]:
    for job, _, panel, work in _each(written, story):
        for number, (kind, note) in enumerate(panel.events):
            yield LayingEvent(
                uid=uid("event", job.number, panel.key, number),
                panel_work=work,
                kind=kind,
                at=written.at(panel.finished_at - timedelta(minutes=25)),
                note=note,
            )


def _deviations(written: Written, story: Story) -> Iterator[Deviation]:
    where = {(place.piece.panel_work_id, place.key): place for places in written.places for place in places}
    for _, row, panel, work in _each(written, story):
        for one in panel.differed:
            place = where.get((work.pk, one.place)) if one.place else None
            if one.place and place is None:
                continue
            yield Deviation(
                job=row,
                panel_work=work,
                place=place,
                field=one.key,
                usual=one.usual,
                actual=one.actual,
                reason=one.reason,
                member=written.members[panel.lead],
                at=written.at(panel.finished_at),
            )


def _sessions(written: Written, story: Story) -> Iterator[JobSession]:
    for job, row in zip(story.jobs, written.jobs, strict=True):
        if not job.imported:
            yield JobSession(
                uid=uid("session", job.number),
                job=row,
                member=written.members[job.panels[0].lead],
                started_at=row.started_at,
                stopped_at=written.at(job.panels[-1].finished_at),
            )


def _history(written: Written, story: Story) -> Iterator[Change]:
    owner = written.members["owner"]
    for job, row in zip(story.jobs, written.jobs, strict=True):
        if row.imported_at:
            yield change(row, "imported", owner, row.imported_at, {"ref": row.ref})
            continue
        yield change(row, "job opened", written.members["desk"], row.started_at, {"ref": row.ref})
        for panel, work in zip(job.panels, written.panels[job.number - 1], strict=True):
            at = written.at(panel.finished_at)
            yield change(work, "panel finished", written.members[panel.lead], at, {"finished_at": str(at)})
