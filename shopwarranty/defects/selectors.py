"""Defects for lists, in a fixed number of queries however many there are."""

from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.utils.translation import gettext as _

from shopwarranty.jobs.models import Holding, Place, Plate
from shopwarranty.jobs.plates import searched_form
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.trade.catalogue import UnknownPanel, pooled_panel_name
from shopwarranty.web import formats
from shopwarranty.web.formats import ShopLike
from shopwarranty.web.trade_names import first_upper

from .kind_in_words import kind_in_words
from .models import Defect, Sighting

Rows = QuerySet[Defect]
CHIPS: Final = {
    Defect.State.OPEN: "lift",
    Defect.State.REMEDIED: "clean",
    Defect.State.NOT_REPRODUCED: "unseen",
    Defect.State.ENDED: "plain",
}


@dataclass(frozen=True, slots=True)
class DefectRow:
    pk: int
    number: str
    what: str
    where: str
    vehicle: str
    plate: str
    found_on: date
    chip: str
    chip_words: str
    severity: int | None
    is_rework: bool
    comes_again: bool


def defects_with_details() -> Rows:
    """With place, vehicle, present plate, and what was seen last."""
    vehicle = OuterRef("place__piece__panel_work__job__vehicle")
    plate = Plate.objects.filter(vehicle=vehicle, until__isnull=True).order_by("-since", "-pk")
    last = Sighting.objects.filter(defect=OuterRef("pk"), finding__corrected_at__isnull=True).order_by(
        "-finding__visit__happened_on", "-pk"
    )
    return Defect.objects.select_related("place__piece__panel_work__job__vehicle").annotate(
        plate_now=Subquery(plate.values("text")[:1]),
        last_mm=Subquery(last.values("extent_mm")[:1]),
        last_severity=Subquery(last.values("severity")[:1]),
    )


def chosen(*, state: str, kind: str, panel: str, words: str) -> Rows:
    """Empty: all of them."""
    rows = defects_with_details()
    rows = rows.filter(state=state) if state in Defect.State.values else rows
    rows = rows.filter(kind=kind) if kind else rows
    rows = rows.filter(place__piece__panel_work__panel=panel) if panel else rows
    return matching(rows, words).order_by("-found_on", "-pk")


def matching(rows: Rows, words: str) -> Rows:
    """By the defect's number, plate, VIN, holder's name or the job's number."""
    wanted = words.strip()
    if not wanted:
        return rows
    job = "place__piece__panel_work__job"
    plain = searched_form(wanted)
    plates = Plate.objects.filter(searched__startswith=plain).values("vehicle")
    holders = Holding.objects.filter(until__isnull=True, party__name__icontains=wanted).values("vehicle")
    found = Q(number__iexact=wanted) | Q(**{f"{job}__ref__iexact": wanted})
    found |= Q(**{f"{job}__vehicle__vin__icontains": wanted}) | Q(**{f"{job}__vehicle__in": holders})
    return rows.filter(found | Q(**{f"{job}__vehicle__in": plates}) if plain else found)


def kinds_found() -> list[tuple[str, str]]:
    """Kinds there are defects of, by the words they had."""
    rows = Defect.objects.order_by("kind").values_list("kind", "kind_words").distinct()
    said = [(key, first_upper(kind_in_words(key, words))) for key, words in dict(rows).items()]
    return sorted(said, key=lambda pair: pair[1])


def panels_found(catalogue: ShopCatalogue) -> list[tuple[str, str]]:
    keys = Place.objects.filter(defects__isnull=False).values_list("piece__panel_work__panel", flat=True)
    names = {key: first_upper(pooled_name(key, catalogue)) for key in set(keys.order_by())}
    return sorted(names.items(), key=lambda pair: pair[1])


def pooled_name(panel: str, catalogue: ShopCatalogue) -> str:
    """What a panel is called where several body styles stand in one list."""
    own = catalogue.own_panels.get(panel)
    if own is not None:
        return own.name
    try:
        return _(pooled_panel_name(panel, american=catalogue.american))
    except UnknownPanel:
        return panel


def row_of(defect: Any, catalogue: ShopCatalogue) -> DefectRow:
    """From a defect of `defects_with_details`."""
    work = defect.place.piece.panel_work
    vehicle = work.job.vehicle
    panel = first_upper(catalogue.panel_name(vehicle.body_style, work.panel))
    place = catalogue.place_name(vehicle.body_style, work.panel, defect.place.key, defect.place.name)
    return DefectRow(
        defect.pk,
        defect.number,
        what_words(defect.kind_said, defect.last_mm, catalogue.shop),
        f"{panel}, {place}",
        str(vehicle),
        defect.plate_now or "",
        defect.found_on,
        CHIPS[Defect.State(defect.state)],
        first_upper(str(defect.get_state_display())),
        defect.last_severity,
        defect.at_handover,
        defect.recurrence_of_id is not None,
    )


def what_words(kind: str, mm: float | None, shop: ShopLike) -> str:
    name = first_upper(kind)
    return name if mm is None else f"{name}, {formats.short_length(mm, shop)}"


def sentence(open_ones: int) -> str:
    """The answer in front: how many are still open."""
    if not open_ones:
        return _("No defect is open.")
    return _("%(n)d defects are open.") % {"n": open_ones} if open_ones > 1 else _("One defect is open.")
