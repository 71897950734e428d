"""What was swept and what was looked at place by place, and how often a sweep missed something."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.core.cache import cache
from django.db.models import Count, Q
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopwarranty.analysis.miss_rate import FEWEST_VISITS, MissRate, miss_rate
from shopwarranty.defects.models import SpotProof
from shopwarranty.inspections.models import Finding, Visit

from . import said
from .reviewing import KEPT_S
from .words import Words

Said = Finding.Said


@dataclass(frozen=True, slots=True)
class Looks:
    """Places found clean at finished checks by how that was said, and what the draws among the swept found.
    `unanswered`: drawn and not looked at again."""

    tapped: int
    swept: int
    drawn: int
    missed: MissRate
    unanswered: int


@dataclass(frozen=True, slots=True)
class SweptSheet:
    heading: str
    sentences: tuple[str, ...]


def swept_sheet(words: Words, version: str) -> SweptSheet | None:
    """None where nothing was ever swept. Two queries, none while the record stays as it is."""
    key = f"review:swept:{words.shop.pk}:{version}"
    looks: Looks | None = cache.get(key)
    if looks is None:
        looks = looks_of_shop()
        cache.set(key, looks, KEPT_S)
    if not (looks.swept or looks.missed.places or looks.unanswered):
        return None
    return SweptSheet(heading_of(looks.missed), tuple(one for one in sentences(looks) if one))


def looks_of_shop() -> Looks:
    """A look at handover has no draw, and a photo proves only what it shows: neither counts here."""
    checks = Q(visit__state=Visit.State.FINISHED, visit__is_handover_look=False, visit__by_photo=False)
    clean = Finding.objects.filter(checks, result=Finding.Result.CLEAN, corrected_at__isnull=True)
    counts = dict(clean.order_by().values_list("said").annotate(n=Count("pk")))
    rows = list(SpotProof.objects.filter(checks).exclude(found="").order_by().values_list("visit", "found"))
    looked = [(visit, found) for visit, found in rows if found != SpotProof.Found.NOT_SHOWN]
    return Looks(
        tapped=counts.get(Said.TAPPED, 0),
        swept=counts.get(Said.SWEPT, 0),
        drawn=counts.get(Said.SPOT_PROVED, 0),
        missed=miss_rate(
            np.array([visit for visit, _found in looked], dtype=np.int64),
            np.array([found == SpotProof.Found.DEFECT for _visit, found in looked], dtype=bool),
        ),
        unanswered=len(rows) - len(looked),
    )


def heading_of(missed: MissRate) -> str:
    if missed.share is None or missed.interval is None:
        return _("What a sweep misses cannot be told yet")
    if not missed.wrong:
        text = _("No sweep was caught missing anything; up to %(high)s of swept places may still be wrong")
        return text % {"high": said.percent(missed.interval.high)}
    text = _("About %(share)s (%(low)s to %(high)s) of the places said clean with the rest are wrong")
    ends = {"low": said.percent(missed.interval.low), "high": said.percent(missed.interval.high)}
    return text % {"share": said.percent(missed.share), **ends}


def sentences(looks: Looks) -> tuple[str, ...]:
    return (_drawn(looks.missed), _unanswered(looks.unanswered), _how_said(looks))


def _drawn(missed: MissRate) -> str:
    if not missed.places:
        text = _(
            "No place drawn at random was looked at again yet; from %(fewest)s visits on a share is told."
        )
        return text % {"fewest": said.count(FEWEST_VISITS)}
    counted = {
        "places": said.count(missed.places),
        "visits": said.count(missed.visits),
        "wrong": said.count(missed.wrong),
        "fewest": said.count(FEWEST_VISITS),
    }
    if missed.interval is None:
        text = _(
            "Looked at again, drawn at random from what was swept: %(places)s places on %(visits)s visits, "
            "%(wrong)s of them wrong. From %(fewest)s visits on a share is told."
        )
        return text % counted
    text = _(
        "Looked at again, drawn at random from what was swept: %(places)s places on %(visits)s visits, "
        "%(wrong)s of them wrong. With 95%% certainty the share lies between %(low)s and %(high)s; places of "
        "one visit count as alike as they were."
    )
    ends = {"low": said.percent(missed.interval.low), "high": said.percent(missed.interval.high)}
    return text % {**counted, **ends}


def _unanswered(count: int) -> str:
    if not count:
        return ""
    text = ngettext(
        "One drawn place was not looked at again: unknown, not clean.",
        "%(n)s drawn places were not looked at again: unknown, not clean.",
        count,
    )
    return text % {"n": said.count(count)}


def _how_said(looks: Looks) -> str:
    text = _(
        "Found clean at checks: %(swept)s places with the rest of their panel, %(tapped)s by themselves, "
        "%(drawn)s drawn and looked at again. Visits without a draw tell nothing of what they missed."
    )
    each = {"swept": looks.swept, "tapped": looks.tapped, "drawn": looks.drawn}
    return text % {name: said.count(value) for name, value in each.items()}
