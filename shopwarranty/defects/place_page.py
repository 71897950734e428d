"""A place's own story: each life, and every look that made it."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopwarranty.inspections.models import Finding, Visit
from shopwarranty.inspections.visit_rows import origin_words
from shopwarranty.jobs.models import Place
from shopwarranty.web import formats
from shopwarranty.web.formats import ShopLike

from .life_rules import AT_HANDOVER, BEFORE_RECORD, DAMAGE, PUT_RIGHT
from .models import Defect, Life, Sighting
from .record_for_lives import counts_as_planned
from .visit_summary import what_words, why_not_words


@dataclass(frozen=True, slots=True)
class LifeLine:
    """A life in words. `main` as the planned checks saw it, `every` as all visits did (when that differs)."""

    number: int
    starts_on: date
    chip: str
    words: str
    main: str
    every: str


@dataclass(frozen=True, slots=True)
class LookLine:
    on: date
    age: int | None
    origin: str
    is_planned: bool
    visit_id: int
    chip: str
    words: str
    defects: tuple[tuple[int, str], ...]
    is_corrected: bool


def life_lines(place: Place, shop: ShopLike) -> list[LifeLine]:
    """Oldest first. One query."""
    return [_life(life, shop) for life in Life.objects.filter(place=place).order_by("number")]


def _life(life: Life, shop: ShopLike) -> LifeLine:
    chip, words = ended_words(life, shop)
    main = reading(life.clean_day, life.failed_day)
    every = reading(life.all_clean_day, life.all_failed_day)
    return LifeLine(life.number, life.starts_on, chip, words, main, every if every != main else "")


def ended_words(life: Life, shop: ShopLike) -> tuple[str, str]:
    """The chip and how it ended."""
    if life.ended == Life.Ended.OPEN:
        return "clean" if life.all_clean_day is not None else "unseen", _("Still watched")
    day = formats.full_date(life.starts_on + timedelta(days=life.ended_day or 0), shop)
    if life.ended == Life.Ended.FAILED:
        return "lift", _("Found failed on %(day)s") % {"day": day}
    return "plain", f"{why_words(life.ended_why)}, {day}"


def why_words(why: str) -> str:
    known = {
        AT_HANDOVER: _("Ended at handover with a defect left as it was; no failure"),
        BEFORE_RECORD: _("Was wrong already when it came under record; no failure"),
        DAMAGE: _("Ended by damage from outside; no failure"),
        PUT_RIGHT: _("Ended by work on it before it failed; no failure"),
        "replaced": _("Ended when its film was replaced; no failure"),
        "removed": _("Ended when its film was taken off; no failure"),
        "panel_replaced": _("Ended when the panel was replaced; no failure"),
        "cut_back": _("Ended when the piece was cut back; no failure"),
        "collision": _("Ended by a collision; no failure"),
    }
    return known.get(why, _("Ended without a failure"))


def reading(clean: int | None, failed: int | None) -> str:
    """When it was last seen holding and first seen failed, in days of age."""
    seen = days_words(clean)
    if failed is None:
        return _("last seen clean at %(age)s") % {"age": seen} if seen else _("never seen clean")
    if not seen:
        return _("failed by %(age)s, never seen clean before") % {"age": days_words(failed)}
    return _("failed between %(clean)s and %(age)s") % {"clean": seen, "age": days_words(failed)}


def days_words(days: int | None) -> str:
    return "" if days is None else ngettext("%(n)d day", "%(n)d days", days) % {"n": days}


def look_lines(place: Place, shop: ShopLike, born: date | None) -> list[LookLine]:
    """Every look at the place, corrected ones included, newest first. Two queries."""
    rows = list(
        Finding.objects.filter(place=place, visit__state=Visit.State.FINISHED)
        .select_related("visit")
        .order_by("-visit__happened_on", "-pk")
    )
    seen: dict[int, list[tuple[int, str]]] = defaultdict(list)
    for one in Sighting.objects.filter(finding__in=rows).select_related("defect"):
        seen[one.finding_id].append((one.defect_id, what_words(one.defect, one, shop)))
    return [_look(row, tuple(seen[row.pk]), born) for row in rows]


def _look(row: Finding, defects: tuple[tuple[int, str], ...], born: date | None) -> LookLine:
    chips = {
        Finding.Result.CLEAN: "clean",
        Finding.Result.DEFECT: "lift",
        Finding.Result.NOT_LOOKED: "unseen",
    }
    visit = row.visit
    return LookLine(
        visit.happened_on,
        (visit.happened_on - born).days if born else None,
        origin_words(visit),
        counts_as_planned(visit),
        visit.pk,
        chips[Finding.Result(row.result)],
        why_not_words(row),
        defects,
        row.corrected_at is not None,
    )


def defects_of(place: Place) -> list[Defect]:
    return list(place.defects.order_by("-found_on", "-pk"))
