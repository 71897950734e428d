"""What was done at one place, and what differed from the method there."""

from collections.abc import Mapping
from datetime import date, datetime

from django.db import transaction
from django.db.models import Max

from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.rows import Basis
from shopwarranty.trade.technique import Value

from ..models import Deviation, FilmPiece, Job, PanelWork, Place
from ..technique_rows import Said, as_text, columns_of, put
from ..usual import usual_of_job, usual_of_panel, usual_of_place
from .values import Target, guard_correction, locked_panel, save_next_version, set_own_field, write_values


@transaction.atomic
def set_place_values(
    *,
    place: Place,
    values: Mapping[str, Said],
    actor: Actor,
    now: datetime,
    own: Mapping[str, Said] | None = None,
    reason: str = "",
    version: int | None = None,
) -> Place:
    """Technique values of one place; what is not the method's is a deviation with `reason`.

    Raises DoesNotApply, ValueRefused, StaleSave, ReasonForCorrection.
    """
    fresh, panel_work = fresh_place(place)
    guard_correction(panel_work.job, panel_work, reason)
    target = Target(panel_work.job, panel_work, fresh)
    usual = usual_of_place(panel_work, fresh)
    write_values(target, values, usual, actor=actor, now=now, reason=reason, version=version)
    for key, said in (own or {}).items():
        set_own_field(
            target=target, key=key, value=as_text(said.value), basis=said.basis, actor=actor, now=now
        )
    return fresh


def fresh_place(place: Place) -> tuple[Place, PanelWork]:
    fresh = Place.objects.select_related("piece").get(pk=place.pk)
    return fresh, locked_panel(fresh.piece.panel_work_id)


@transaction.atomic
def record_deviation(
    *,
    place: Place,
    field: str,
    actual: Value,
    reason: str,
    actor: Actor,
    now: datetime,
    basis: str = Basis.STATED,
    typed: str = "",
) -> Deviation | None:
    """One thing done another way, and why. None when the value is the usual one after all."""
    values = {field: Said(actual, basis, typed)}
    fresh = set_place_values(place=place, values=values, actor=actor, now=now, reason=reason)
    standing = Deviation.objects.filter(place=fresh, field=field, undone_at__isnull=True)
    found: Deviation | None = standing.first()
    return found


@transaction.atomic
def undo_deviation(*, deviation: Deviation, actor: Actor, now: datetime, reason: str = "") -> None:
    """As usual again: the method's value where the panel is confirmed, else not recorded."""
    target = target_of(deviation)
    guard_correction(target.job, target.panel_work, reason)
    if not Deviation.objects.filter(pk=deviation.pk, undone_at__isnull=True).update(undone_at=now):
        return
    row, key = target.row, deviation.field
    confirmed = (target.panel_work or target.job).confirmed_at
    usual = usual_of(target).get(key) if confirmed else None
    put(row, key, Said(usual, Basis.BY_METHOD))
    save_next_version(row, list(columns_of(key)))
    before, after = {key: deviation.actual}, {key: as_text(usual)}
    record_change(row=row, act="as usual again", actor=actor, at=now, before=before, after=after, why=reason)


@transaction.atomic
def as_usual_again(*, place: Place, actor: Actor, now: datetime, reason: str = "") -> int:
    """Undoes everything that differs at the place; returns how many that were."""
    rows = list(Deviation.objects.filter(place=place, undone_at__isnull=True))
    for row in rows:
        undo_deviation(deviation=row, actor=actor, now=now, reason=reason)
    return len(rows)


def target_of(deviation: Deviation) -> Target:
    if deviation.place_id:
        place = Place.objects.select_related("piece").get(pk=deviation.place_id)
        panel_work = locked_panel(place.piece.panel_work_id)
        return Target(panel_work.job, panel_work, place)
    if deviation.panel_work_id:
        panel_work = locked_panel(deviation.panel_work_id)
        return Target(panel_work.job, panel_work)
    job = Job.objects.select_related("method_version__method").get(pk=deviation.job_id)
    return Target(job)


def usual_of(target: Target) -> dict[str, Value]:
    if target.panel_work is None:
        return usual_of_job(target.job)
    if target.place is None:
        return usual_of_panel(target.panel_work)
    return usual_of_place(target.panel_work, target.place)


@transaction.atomic
def add_place(
    *,
    piece: FilmPiece,
    key: str,
    kind: str,
    actor: Actor,
    now: datetime,
    name: str = "",
    other_piece: FilmPiece | None = None,
    added_on: date | None = None,
) -> Place:
    """A place the catalogue does not know; `added_on` is the day one found unrecorded came under record."""
    if there := Place.objects.filter(piece=piece, key=key).first():
        return there
    walk = (piece.places.aggregate(last=Max("walk"))["last"] or 0) + 1
    place = Place.objects.create(
        piece=piece, key=key, kind=kind, name=name, walk=walk, other_piece=other_piece, added_on=added_on
    )
    after = {"key": key, "kind": kind, "name": name, "added_on": added_on}
    record_change(row=place, act="place added", actor=actor, at=now, after=after)
    return place
