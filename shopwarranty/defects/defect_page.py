"""One defect with what belongs to it: what was seen when, the record of its place, what was done."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopwarranty.jobs import words as job_words
from shopwarranty.jobs.models import Photo
from shopwarranty.jobs.record import load_record
from shopwarranty.jobs.record_parts import PanelRecord, PieceRecord, PlaceRecord
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.models import Shop
from shopwarranty.trade import words as trade
from shopwarranty.trade.defects import SEVERITIES
from shopwarranty.trade.technique import BY_KEY
from shopwarranty.web import formats
from shopwarranty.web.formats import ShopLike
from shopwarranty.web.trade_names import first_upper

from .models import Defect, Remedy, Sighting


@dataclass(frozen=True, slots=True)
class Seen:
    """One sighting. `width` is its extent as a share of the largest, 0 to 100; None when not measured."""

    on: date
    size: str
    severity: int
    severity_words: str
    visit_id: int
    origin: str
    note: str
    is_corrected: bool
    width: int | None


@dataclass(frozen=True, slots=True)
class ValueLine:
    """One technique value with how it is known."""

    name: str
    value: str
    basis: str
    is_recorded: bool


@dataclass(frozen=True, slots=True)
class Record:
    """What the job's record says of the place; parts are None when the record does not have them."""

    panel: PanelRecord | None
    piece: PieceRecord | None
    place: PlaceRecord | None
    values: tuple[ValueLine, ...]
    method: str


def seen_lines(defect: Defect, shop: ShopLike) -> list[Seen]:
    """Oldest first. One query."""
    rows = list(
        Sighting.objects.filter(defect=defect)
        .select_related("finding__visit")
        .order_by("finding__visit__happened_on", "pk")
    )
    largest = max((row.extent_mm or 0 for row in rows), default=0)
    return [_seen(row, largest, shop) for row in rows]


def _seen(row: Sighting, largest: float, shop: ShopLike) -> Seen:
    visit = row.finding.visit
    mm = row.extent_mm
    return Seen(
        visit.happened_on,
        formats.not_recorded() if mm is None else str(formats.short_length(mm, shop)),
        row.severity,
        _(SEVERITIES[row.severity].words),
        visit.pk,
        _("handover look") if visit.is_handover_look else str(visit.get_origin_display()),
        row.note,
        row.finding.corrected_at is not None,
        None if mm is None or not largest else max(2, round(100 * mm / largest)),
    )


def trend_words(defect: Defect, shop: ShopLike) -> str:
    """How it changed between the first and the last look, in one sentence."""
    rows = Sighting.objects.filter(defect=defect, finding__corrected_at__isnull=True, extent_mm__isnull=False)
    rows = rows.select_related("finding__visit").order_by("finding__visit__happened_on", "pk")
    first, last = rows.first(), rows.last()
    if first is None or last is None or first.pk == last.pk:
        return ""
    days = (last.finding.visit.happened_on - first.finding.visit.happened_on).days
    before, after = first.extent_mm or 0, last.extent_mm or 0
    values = {
        "before": formats.short_length(before, shop),
        "after": formats.short_length(after, shop),
        "days": ngettext("%(n)d day", "%(n)d days", days) % {"n": days},
    }
    if after > before:
        return _("Grew from %(before)s to %(after)s in %(days)s.") % values
    if after < before:
        return _("Shrank from %(before)s to %(after)s in %(days)s.") % values
    return _("As large as %(days)s before.") % values


def load_place_record(place: Any, shop: Shop, catalogue: ShopCatalogue) -> Record:
    """The place within its job's record; a fixed number of queries."""
    record = load_record(place.piece.panel_work.job, catalogue)
    panel = next((one for one in record.panels if one.id == place.piece.panel_work_id), None)
    pieces = panel.pieces if panel else ()
    piece = next((one for one in pieces if one.id == place.piece_id), None)
    found = next((one for one in (piece.places if piece else ()) if one.id == place.pk), None)
    method = str(record.method) if record.method else record.no_method_reason
    return Record(panel, piece, found, value_lines(found, shop) if found else (), method)


def value_lines(place: PlaceRecord, shop: ShopLike) -> tuple[ValueLine, ...]:
    """Every technique field of the place: what is not recorded says so."""
    bases = {choice.key: choice.words for choice in trade.BASES}
    return tuple(
        ValueLine(
            first_upper(_(BY_KEY[key].words)),
            job_words.value_words(BY_KEY[key], one.value, shop),
            _(bases[one.basis]) if one.basis else "",
            one.value is not None,
        )
        for key, one in place.values.items()
        if key in BY_KEY
    )


def remedies_of(defect: Defect) -> list[tuple[Remedy, str]]:
    """Each remedy with its words. One query."""
    known = dict(trade.pairs(trade.REMEDIES))
    rows = defect.remedies.select_related("member", "new_piece")
    return [(row, first_upper(_(known.get(row.kind, row.kind)))) for row in rows]


def photos_of(defect: Defect) -> list[Photo]:
    rows = Photo.objects.filter(pk__in=defect.photos.values("photo"), set_aside_at__isnull=True)
    return list(rows)


def cause_words(defect: Defect) -> str:
    if not defect.cause:
        return ""
    known = dict(trade.pairs(trade.CAUSES))
    cause = _(known.get(defect.cause, defect.cause))
    return f"{first_upper(cause)} ({defect.get_cause_sure_display()})"
