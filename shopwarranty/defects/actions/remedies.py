"""What was done about a defect. Most remedies start a new life of the place."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from typing import Any, Final

from django.db import transaction
from django.utils.translation import gettext as _

from shopwarranty.films.actions import CutSize, take_cut
from shopwarranty.films.models import Cut
from shopwarranty.inspections.models import Check, CheckPlan, Visit
from shopwarranty.jobs.actions import NO_FILM_SAID, FilmChoice, add_piece, end_piece
from shopwarranty.jobs.actions.pieces import guard_quarantine, make_piece, make_places, make_seam
from shopwarranty.jobs.models import FilmPiece, Job
from shopwarranty.jobs.shop_catalogue import PlaceSort, ShopCatalogue
from shopwarranty.shops.history import Actor, StaleState, move_state, record_change
from shopwarranty.shops.rows import Basis
from shopwarranty.trade.panels import FIELD_KEY, PlaceKind
from shopwarranty.trade.words import REMEDIES

from ..lives import rebuild_lives
from ..models import Defect, Remedy
from .refusals import NotOpen, OutOfOrder, UnknownKind

BY_KEY: Final = {remedy.key: remedy for remedy in REMEDIES}
LEAVES_IT_OPEN: Final = frozenset({"wait", "none", "refund"})
NEW_PIECE: Final = "replace_piece"
NEW_PANEL: Final = "replace_panel"
PATCH: Final = "patch"
AFTER_REMEDY: Final = "after-repair"
LOOK_AFTER: Final = timedelta(days=14)
LOOK_AROUND: Final = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class How:
    """What is known about how it was done. Nothing said is not recorded."""

    minutes: int | None = None
    post_heat_c: float | None = None
    passes: int | None = None
    cut: Cut | None = None
    film: FilmChoice = NO_FILM_SAID
    by_whom_else: str = ""
    cost: Decimal | None = None
    is_goodwill: bool = False
    look_again_on: date | None = None
    off_roll_mm: float | None = None
    note: str = ""

    @property
    def columns(self) -> dict[str, Any]:
        return {
            "minutes": self.minutes,
            "post_heat_c": self.post_heat_c,
            "post_heat_c_basis": "" if self.post_heat_c is None else Basis.STATED,
            "passes": self.passes,
            "passes_basis": "" if self.passes is None else Basis.STATED,
            "cut": self.cut,
            "by_whom_else": self.by_whom_else,
            "cost": self.cost,
            "is_goodwill": self.is_goodwill,
            "note": self.note,
        }


@transaction.atomic
def record_remedy(
    *,
    defect: Defect,
    kind: str,
    done_on: date,
    actor: Actor,
    now: datetime,
    how: How | None = None,
    visit: Visit | None = None,
) -> Remedy:
    """One remedy of an open defect. Raises UnknownKind, NotOpen, or OutOfOrder for a day that cannot be.

    New film on the piece or the panel ends the old piece on that day and lays a new one with the same places,
    whose technique is not recorded until somebody does. Waiting, a refund or nothing leaves the defect open.
    """
    how = how or How()
    if kind not in BY_KEY:
        raise UnknownKind(kind)
    fresh = _held(defect)
    today = now.astimezone(fresh.shop.zone).date()
    if not fresh.found_on <= done_on <= today or (how.look_again_on and how.look_again_on <= done_on):
        raise OutOfOrder
    new_piece = _new_film(fresh, kind, done_on, how, actor, now)
    columns = {**how.columns, "cut": how.cut or _cut(how, actor, now)}
    remedy = Remedy.objects.create(
        defect=fresh,
        kind=kind,
        done_on=done_on,
        done_at=now,
        member=actor.member,
        visit=visit,
        new_piece=new_piece,
        **columns,
    )
    record_change(row=remedy, act="remedy", actor=actor, at=now, after={"kind": kind, "on": done_on})
    if kind not in LEAVES_IT_OPEN:
        move_state(fresh, old=Defect.State.OPEN, new=Defect.State.REMEDIED, actor=actor, at=now)
    if how.look_again_on and fresh.place.piece.panel_work.job.state != Job.State.OPEN:
        plan_look_again(fresh, how.look_again_on)
    defect.state = fresh.state
    rebuild_lives([fresh.place.piece.panel_work.job_id])
    return remedy


def _cut(how: How, actor: Actor, now: datetime) -> Cut | None:
    """Film taken off the roll; one that falls below zero is noted with the remedy's words as reason."""
    if how.off_roll_mm is None or how.film.roll is None:
        return None
    size = CutSize(along_mm=how.off_roll_mm, across_mm=None, off_roll_mm=how.off_roll_mm)
    reason = how.note or _("for a remedy")
    return take_cut(roll=how.film.roll, kind=Cut.Kind.RECUT, size=size, reason=reason, actor=actor, now=now)


def plan_look_again(defect: Defect, on: date) -> Check:
    """An offer to the holder to have it looked at again; several remedies of one day share one check."""
    plan, _new = CheckPlan.objects.get_or_create(
        key=AFTER_REMEDY,
        defaults={
            "name": _("Look after a repair"),
            "offset_days": LOOK_AFTER.days,
            "days_before": LOOK_AROUND.days,
            "days_after": LOOK_AROUND.days,
            "minutes": 15,
            # planned by hand, one at a time: no job gets it by itself
            "retired_at": datetime.combine(on, time(), tzinfo=UTC),
        },
    )
    window = {"window_from": on - LOOK_AROUND, "window_to": on + LOOK_AROUND}
    job = defect.place.piece.panel_work.job
    check, _new = Check.objects.get_or_create(job=job, plan=plan, due_on=on, defaults=window)
    return check


def _held(defect: Defect) -> Defect:
    rows = Defect.objects.select_related("shop", "place__piece__panel_work__job__vehicle")
    fresh: Defect = rows.select_for_update(of=("self",)).get(pk=defect.pk)
    if fresh.state != Defect.State.OPEN:
        raise NotOpen
    return fresh


def _new_film(defect: Defect, kind: str, on: date, how: How, actor: Actor, now: datetime) -> FilmPiece | None:
    """The piece that took the place of the defect's one, or of a part of it, if film was laid anew."""
    if kind == PATCH and how.film != NO_FILM_SAID:
        return _patch(defect, how, actor, now)
    if kind not in (NEW_PIECE, NEW_PANEL):
        return None
    piece = defect.place.piece
    old = [piece] if kind == NEW_PIECE else list(piece.panel_work.pieces.filter(ended_on__isnull=True))
    guard_quarantine(how.film, how.note)
    reason = how.note or _("Remedy of defect %(number)s") % {"number": defect.number}
    laying = _Laying(on, how.film, reason, ShopCatalogue(defect.shop), actor, now)
    new = {one.pk: _relay(one, laying) for one in old}
    _end_other_defects(defect, list(new), actor, now)
    return new.get(piece.pk)


def _patch(defect: Defect, how: How, actor: Actor, now: datetime) -> FilmPiece:
    """New film for a part of the old, which is cut back to a seam and stays, with its edges and dates."""
    guard_quarantine(how.film, how.note)
    old = defect.place.piece
    patch = make_piece(old.panel_work, how.film, name=_("patch"), layer=old.layer, replaces=old)
    make_places(patch, [PlaceSort(FIELD_KEY, PlaceKind.FIELD, "", shop_added=False)])
    make_seam(patch, old)
    after = {"panel": old.panel_work.panel, "number": patch.number, "cut back": old.number}
    record_change(row=patch, act="piece added", actor=actor, at=now, after=after, why=how.note)
    return patch


@dataclass(frozen=True, slots=True)
class _Laying:
    on: date
    film: FilmChoice
    reason: str
    catalogue: ShopCatalogue
    actor: Actor
    now: datetime


def _relay(piece: FilmPiece, laying: _Laying) -> FilmPiece:
    actor, now = laying.actor, laying.now
    ended = end_piece(piece=piece, why="replaced", on=laying.on, actor=actor, now=now)
    return add_piece(
        panel_work=piece.panel_work,
        film=laying.film,
        catalogue=laying.catalogue,
        name=piece.name,
        layer=piece.layer,
        places=[
            PlaceSort(place.key, place.kind, place.name, shop_added=bool(place.name))
            for place in piece.places.all()
        ],
        replaces=ended,
        reason=laying.reason,
        actor=actor,
        now=now,
    )


def _end_other_defects(defect: Defect, pieces: list[int], actor: Actor, now: datetime) -> None:
    """What else was wrong on film that is gone ended with it."""
    others = Defect.objects.filter(place__piece__in=pieces, state=Defect.State.OPEN).exclude(pk=defect.pk)
    for other in others:
        try:
            move_state(other, old=Defect.State.OPEN, new=Defect.State.ENDED, actor=actor, at=now)
        except StaleState:
            continue
