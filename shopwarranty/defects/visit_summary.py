"""What a visit found, for its last page: wrong, not looked at, and what earlier defects became."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from shopwarranty.inspections.models import Finding, Visit
from shopwarranty.jobs.models import Place
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.trade import words
from shopwarranty.web import formats
from shopwarranty.web.formats import ShopLike
from shopwarranty.web.trade_names import first_upper

from .models import Defect, Sighting


@dataclass(frozen=True, slots=True)
class WrongLine:
    defect_id: int
    number: str
    where: str
    what: str
    severity: int
    is_new: bool
    is_open: bool
    finding_id: int


@dataclass(frozen=True, slots=True)
class FindingLine:
    """One place as the visit left it. `said`: how that was said."""

    finding_id: int
    place_id: int
    name: str
    result: str
    words: str
    said: str
    corrected: str


@dataclass(frozen=True, slots=True)
class Summary:
    wrong: tuple[WrongLine, ...]
    panels: tuple[tuple[str, tuple[FindingLine, ...]], ...]
    not_found_again: tuple[WrongLine, ...]


def load_summary(visit: Visit, catalogue: ShopCatalogue) -> Summary:
    """Three queries."""
    findings = list(
        Finding.objects.filter(visit=visit, corrected_at__isnull=True)
        .select_related("place__piece__panel_work", "corrects")
        .order_by("place__piece__panel_work__walk", "place__piece__number", "place__walk")
    )
    sightings = Sighting.objects.filter(finding__in=findings).select_related(
        "defect", "finding__place__piece__panel_work"
    )
    where = Where(catalogue, visit.job.vehicle.body_style)
    wrong = [wrong_line(one, one.defect, where, catalogue.shop, visit) for one in sightings.order_by("pk")]
    return Summary(tuple(wrong), _by_panel(findings, where), tuple(_not_again(findings, where, visit)))


@dataclass(frozen=True, slots=True)
class Where:
    """Names of panels and places on one body style."""

    catalogue: ShopCatalogue
    body: str

    def panel(self, place: Place) -> str:
        return first_upper(self.catalogue.panel_name(self.body, place.piece.panel_work.panel))

    def place(self, place: Place) -> str:
        panel = place.piece.panel_work.panel
        return first_upper(self.catalogue.place_name(self.body, panel, place.key, place.name))

    def both(self, place: Place) -> str:
        panel = place.piece.panel_work.panel
        name = self.catalogue.place_name(self.body, panel, place.key, place.name)
        return f"{self.panel(place)}, {name}"


def size_words(sighting: Sighting, shop: ShopLike) -> str:
    """The extent in the shop's unit; "" when it was not measured."""
    return "" if sighting.extent_mm is None else str(formats.short_length(sighting.extent_mm, shop))


def what_words(defect: Defect, sighting: Sighting | None, shop: ShopLike) -> str:
    size = size_words(sighting, shop) if sighting else ""
    name = first_upper(defect.kind_said)
    return f"{name}, {size}" if size else name


def wrong_line(sighting: Sighting, defect: Defect, where: Where, shop: ShopLike, visit: Visit) -> WrongLine:
    return WrongLine(
        defect.pk,
        defect.number,
        where.both(sighting.finding.place),
        what_words(defect, sighting, shop),
        sighting.severity,
        defect.found_on == visit.happened_on,
        defect.state == Defect.State.OPEN,
        sighting.finding_id,
    )


def _not_again(findings: Iterable[Finding], where: Where, visit: Visit) -> Iterable[WrongLine]:
    """Open defects of places this visit found clean: somebody decides whether they are gone."""
    clean = {row.place_id: row for row in findings if row.result == Finding.Result.CLEAN}
    rows = Defect.objects.filter(place__in=clean, state=Defect.State.OPEN, found_on__lte=visit.happened_on)
    for defect in rows.select_related("place__piece__panel_work").order_by("pk"):
        name = first_upper(defect.kind_said)
        finding = clean[defect.place_id]
        yield WrongLine(defect.pk, defect.number, where.both(defect.place), name, 0, False, True, finding.pk)


def _by_panel(findings: Iterable[Finding], where: Where) -> tuple[tuple[str, tuple[FindingLine, ...]], ...]:
    panels: dict[int, list[FindingLine]] = defaultdict(list)
    names: dict[int, str] = {}
    for row in findings:
        work = row.place.piece.panel_work_id
        names.setdefault(work, where.panel(row.place))
        panels[work].append(_finding_line(row, where))
    return tuple((names[work], tuple(lines)) for work, lines in panels.items())


def _finding_line(row: Finding, where: Where) -> FindingLine:
    before = row.corrects
    corrected = ""
    if before is not None:
        said = {"before": before.get_result_display(), "why": row.correction_why}
        corrected = _("Corrected, was “%(before)s”: %(why)s") % said
    return FindingLine(
        row.pk,
        row.place_id,
        where.place(row.place),
        row.result,
        why_not_words(row) if row.result == Finding.Result.NOT_LOOKED else str(row.get_result_display()),
        str(row.get_said_display()),
        corrected,
    )


def why_not_words(row: Finding) -> str:
    if not row.why_not:
        return str(row.get_result_display())
    try:
        reason = _(words.words_for(words.NOT_LOOKED_REASONS, row.why_not))
    except KeyError:
        reason = row.why_not
    return f"{row.get_result_display()}: {reason}"
