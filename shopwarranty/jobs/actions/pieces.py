"""Film on a panel: pieces side by side, layers, what they are cut from, and what became of them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.db.models import Max

from shopwarranty.films.models import Cut, FilmProduct, Lot, Roll
from shopwarranty.shops.history import Actor, record_change
from shopwarranty.trade.panels import PlaceKind

from ..models import FilmPiece, PanelWork, Place
from ..shop_catalogue import SEAM_KEY, PlaceSort, ShopCatalogue
from .refusals import ReasonForFilm
from .values import guard_correction, guard_version, locked_panel, save_next_version
from .vehicles import kept

SEAM_WALK = 900


@dataclass(frozen=True, slots=True)
class FilmChoice:
    """What a piece is made of. A roll brings its product and lot; an unknown lot says why."""

    product: FilmProduct | None = None
    lot: Lot | None = None
    lot_unknown_reason: str = ""
    roll: Roll | None = None
    supplied_by_owner: bool = False

    @property
    def columns(self) -> dict[str, Any]:
        """As a film piece stores it: lot and reason exclude each other."""
        lot = self.roll.lot if self.roll else self.lot
        unknown = self.roll.lot_unknown_reason if self.roll else self.lot_unknown_reason
        return {
            "product": self.roll.product if self.roll else self.product or (lot.product if lot else None),
            "lot": lot,
            "lot_unknown_reason": "" if lot else unknown,
            "roll": self.roll,
            "supplied_by_owner": self.supplied_by_owner,
        }


NO_FILM_SAID = FilmChoice()


@transaction.atomic
def set_film(
    *,
    piece: FilmPiece,
    film: FilmChoice,
    actor: Actor,
    now: datetime,
    reason: str = "",
    version: int | None = None,
) -> FilmPiece:
    """What the piece is made of. Raises ReasonForFilm when the lot is quarantined and no reason is given."""
    panel_work = locked_panel(piece.panel_work_id)
    guard_correction(panel_work.job, panel_work, reason)
    guard_quarantine(film, reason)
    fresh = FilmPiece.objects.get(pk=piece.pk)
    guard_version(fresh, version, {})
    changed = {name: value for name, value in film.columns.items() if getattr(fresh, name) != value}
    if changed:
        before = kept({name: getattr(fresh, name) for name in changed})
        for name, value in changed.items():
            setattr(fresh, name, value)
        save_next_version(fresh, list(changed))
        record_change(
            row=fresh, act="film", actor=actor, at=now, before=before, after=kept(changed), why=reason
        )
    return fresh


def guard_quarantine(film: FilmChoice, reason: str) -> None:
    lot = film.columns["lot"]
    if lot and lot.quarantined_at and not reason:
        raise ReasonForFilm


@transaction.atomic
def set_cut(*, piece: FilmPiece, cut: Cut, actor: Actor, now: datetime) -> FilmPiece:
    """The cut of a roll that the piece was made from."""
    fresh = FilmPiece.objects.get(pk=piece.pk)
    before = kept({"cut": fresh.cut})
    fresh.cut = cut
    save_next_version(fresh, ["cut"])
    record_change(row=fresh, act="cut", actor=actor, at=now, before=before, after={"cut": cut.pk})
    return fresh


@transaction.atomic
def add_piece(
    *,
    panel_work: PanelWork,
    film: FilmChoice,
    catalogue: ShopCatalogue,
    actor: Actor,
    now: datetime,
    name: str = "",
    layer: int = 1,
    with_seam: bool = True,
    places: Iterable[PlaceSort] | None = None,
    replaces: FilmPiece | None = None,
    reason: str = "",
) -> FilmPiece:
    """One more piece on the panel, with its places; in the same layer it meets its neighbour at a seam.

    A piece of a higher `layer` lies over the others. `places` names those of this piece; without it all of
    the panel's. What it `replaces` ends.
    """
    fresh = locked_panel(panel_work.pk)
    guard_correction(fresh.job, fresh, reason)
    guard_quarantine(film, reason)
    beside = fresh.pieces.filter(layer=layer, ended_on__isnull=True).order_by("number").last()
    piece = make_piece(fresh, film, name=name, layer=layer, replaces=replaces)
    sorts = (
        tuple(places) if places is not None else catalogue.places(fresh.job.vehicle.body_style, fresh.panel)
    )
    make_places(piece, sorts)
    if beside and with_seam and not replaces:
        make_seam(piece, beside)
    if replaces:
        end_piece(
            piece=replaces,
            why="replaced",
            on=now.astimezone(catalogue.shop.zone).date(),
            actor=actor,
            now=now,
        )
    after = {"panel": fresh.panel, "number": piece.number, "layer": layer, "name": name}
    record_change(row=piece, act="piece added", actor=actor, at=now, after=after, why=reason)
    return piece


def make_piece(
    panel_work: PanelWork,
    film: FilmChoice,
    *,
    name: str = "",
    layer: int = 1,
    replaces: FilmPiece | None = None,
) -> FilmPiece:
    last = panel_work.pieces.aggregate(last=Max("number"))["last"] or 0
    return FilmPiece.objects.create(
        panel_work=panel_work, number=last + 1, layer=layer, name=name, replaces=replaces, **film.columns
    )


def make_places(piece: FilmPiece, sorts: Iterable[PlaceSort]) -> list[Place]:
    rows = [
        Place(piece=piece, key=sort.key, kind=sort.kind, walk=walk, name=sort.name if sort.shop_added else "")
        for walk, sort in enumerate(sorts)
    ]
    return Place.objects.bulk_create(rows)


def make_seam(piece: FilmPiece, beside: FilmPiece) -> Place:
    """The seam belongs to the later piece and names the one it meets."""
    key = SEAM_KEY if beside.number == 1 else f"{SEAM_KEY}-{beside.number}"
    return Place.objects.create(piece=piece, key=key, kind=PlaceKind.SEAM, walk=SEAM_WALK, other_piece=beside)


@transaction.atomic
def end_piece(*, piece: FilmPiece, why: str, on: date, actor: Actor, now: datetime) -> FilmPiece:
    """The piece is gone from that day on: `replaced`, `removed`, `panel_replaced`, `cut_back`."""
    fresh = FilmPiece.objects.get(pk=piece.pk)
    if fresh.ended_on is None:
        fresh.ended_on, fresh.ended_why = on, why
        save_next_version(fresh, ["ended_on", "ended_why"])
        record_change(row=fresh, act="piece ended", actor=actor, at=now, after={"on": on, "why": why})
    return fresh


@transaction.atomic
def remove_panel(*, panel_work: PanelWork, why: str, on: date, actor: Actor, now: datetime) -> PanelWork:
    """The body part itself is gone (`collision`, `panel_replaced`): its film ends, which is no failure."""
    fresh = locked_panel(panel_work.pk)
    if fresh.removed_on is None:
        fresh.removed_on, fresh.removed_why = on, why
        save_next_version(fresh, ["removed_on", "removed_why"])
        for piece in fresh.pieces.filter(ended_on__isnull=True):
            end_piece(piece=piece, why="panel_replaced", on=on, actor=actor, now=now)
        record_change(row=fresh, act="panel removed", actor=actor, at=now, after={"on": on, "why": why})
    return fresh
