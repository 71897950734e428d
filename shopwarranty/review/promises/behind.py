"""The rows that a figure of the page was counted from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import OuterRef, Subquery
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopwarranty.analysis.claim_rates import MONTH_DAYS, Watched
from shopwarranty.claims.models import Claim, ClaimedDefect, MakerClaim
from shopwarranty.defects.models import Remedy
from shopwarranty.jobs.models import Job
from shopwarranty.shops.models import Shop
from shopwarranty.trade import words as trade
from shopwarranty.web.trade_names import first_upper

from ..words import Words
from .counting import (
    UNKNOWN,
    Counting,
    Known,
    cause_of,
    claims_known,
    months_between,
    remedies_known,
    watched_jobs,
)
from .lines import money
from .record import JobRow

KINDS = ("claims", "remedies", "jobs", "claims-jobs", "remedies-jobs", "credits")


class NoSuchFigure(LookupError):
    """The address names no figure of the page."""


@dataclass(frozen=True, slots=True)
class Filters:
    """Of one figure. `first`, `last`: months of age, both included; `cost`: "none", "some" or any."""

    what: str
    first: int | None = None
    last: int | None = None
    panel: str | None = None
    cause: str | None = None
    cost: str = ""

    @classmethod
    def of(cls, said: Mapping[str, str]) -> Filters:
        """Raises NoSuchFigure."""
        what = said.get("of", "")
        if what not in KINDS:
            raise NoSuchFigure
        first, last = (said.get(name, "") for name in ("first", "last"))
        if not all(
            text == "" or (text.isascii() and text.isdigit() and len(text) < 5) for text in (first, last)
        ):
            raise NoSuchFigure
        return cls(
            what,
            int(first) if first else None,
            int(last) if last else None,
            said.get("panel"),
            said.get("cause"),
            said.get("cost", ""),
        )


@dataclass(frozen=True, slots=True)
class Line:
    name: str
    url: str
    about: str
    on: date | None
    said: str
    amount: str


def ids_behind(found: Counting, asked: Filters) -> list[int]:
    """Newest first, in a fixed number of steps."""
    if asked.what == "credits":
        return _credit_ids(found)
    if asked.what.endswith("jobs"):
        return _job_ids(found, asked)
    if asked.what == "claims":
        rows = [(c.pk, c.job, c.reported_on) for c in found.claims if c.job is not None]
        return _at_age(found, asked, rows, claims_known)
    kept = [row for row in found.remedies if _fits(row, asked)]
    return _at_age(found, asked, [(row.pk, row.job, row.on) for row in kept], remedies_known)


def _fits(row: Any, asked: Filters) -> bool:
    if asked.panel is not None and row.panel != asked.panel:
        return False
    if asked.cause is not None and cause_of(row) != asked.cause:
        return False
    return not asked.cost or (row.cost is None) == (asked.cost == "none")


def _at_age(
    found: Counting, asked: Filters, rows: Sequence[tuple[int, int, date]], known: Known
) -> list[int]:
    if asked.first is None:
        return [pk for pk, _job, _on in sorted(rows, key=lambda row: (row[2], row[0]), reverse=True)]
    watched, places = watched_jobs(found, known)
    handed = {job.pk: job.handed_over_on for job in found.jobs}
    kept = []
    for pk, job, on in rows:
        age = months_between(handed[job], on)
        if job in places and _in_band(age, asked) and _was_watched(watched, places[job], age):
            kept.append((on, pk))
    return [pk for _on, pk in sorted(kept, reverse=True)]


def _in_band(age: float, asked: Filters) -> bool:
    assert asked.first is not None
    return age >= asked.first and (asked.last is None or age < asked.last + 1)


def _was_watched(watched: Watched, place: int, age: float) -> bool:
    return bool(watched.entry[place] <= age <= watched.until[place])


def _job_ids(found: Counting, asked: Filters) -> list[int]:
    if asked.what == "jobs":
        return _newest(found.jobs)
    known = claims_known if asked.what.startswith("claims") else remedies_known
    watched, places = watched_jobs(found, known)
    low = asked.first or 0
    high = asked.last + 1 if asked.last is not None else float("inf")
    inside = [
        job
        for job in found.jobs
        if job.pk in places
        and watched.until[places[job.pk]] > low
        and watched.entry[places[job.pk]] < high
        and watched.until[places[job.pk]] > watched.entry[places[job.pk]]
    ]
    return _newest(inside)


def _newest(jobs: Iterable[JobRow]) -> list[int]:
    return [job.pk for job in sorted(jobs, key=lambda job: (job.handed_over_on, job.pk), reverse=True)]


def _credit_ids(found: Counting) -> list[int]:
    rows = MakerClaim.objects.filter(credited__isnull=False).order_by("-answered_on", "-pk")
    values = rows.values_list("pk", "answered_on", "product__family")
    family = found.asked.family
    narrowed = found.asked.since or found.asked.until
    return [
        pk
        for pk, on, of in values
        if (not family or of == family) and (not narrowed or (on is not None and found.asked.inside(on)))
    ]


def heading_of(asked: Filters, count: int, words: Words) -> str:
    counted = {
        "claims": ngettext("One claim", "%(n)s claims", count),
        "remedies": ngettext("One remedy", "%(n)s remedies", count),
        "credits": ngettext("One credit of a film maker", "%(n)s credits of film makers", count),
    }.get(asked.what, ngettext("One job", "%(n)s jobs", count)) % {"n": count}
    parts = [counted, *_narrowed(asked, words)]
    return ", ".join(parts)


def _narrowed(asked: Filters, words: Words) -> Iterable[str]:
    if asked.first is not None:
        last = asked.last if asked.last is not None else asked.first
        yield _("months %(first)s to %(last)s of age") % {"first": asked.first + 1, "last": last + 1}
    if asked.panel is not None:
        yield words.panel(asked.panel)
    if asked.cause is not None:
        yield _("cause: %(cause)s") % {"cause": cause_name(asked.cause)}
    if asked.cost == "none":
        yield _("no cost recorded")
    if asked.cost == "some":
        yield _("cost recorded")


def cause_name(key: str) -> str:
    if key in ("", UNKNOWN):
        return _("not known or not judged")
    return _(dict(trade.pairs(trade.CAUSES)).get(key, key))


def lines_of(asked: Filters, ids: Sequence[int], found: Counting, shop: Shop, words: Words) -> list[Line]:
    """In the order of `ids`, in a fixed number of queries."""
    make = {"claims": _claim_lines, "remedies": _remedy_lines, "credits": _credit_lines}
    lines = make.get(asked.what, _job_lines)(ids, found, shop, words)
    return [lines[pk] for pk in ids if pk in lines]


def _claim_lines(ids: Sequence[int], found: Counting, shop: Shop, words: Words) -> dict[int, Line]:
    first = ClaimedDefect.objects.filter(claim=OuterRef("pk")).order_by("pk")
    rows = Claim.objects.filter(pk__in=ids).select_related("vehicle")
    rows = rows.annotate(first_words=Subquery(first.values("words")[:1]))
    return {
        row.pk: Line(
            row.number,
            reverse("claim", args=[shop.slug, row.pk]),
            str(row.vehicle),
            row.first_reported_at.astimezone(shop.zone).date(),
            f"{first_upper(str(row.get_state_display()))}. {row.first_words or row.words}",
            "",
        )
        for row in rows
    }


def _remedy_lines(ids: Sequence[int], found: Counting, shop: Shop, words: Words) -> dict[int, Line]:
    known = dict(trade.pairs(trade.REMEDIES))
    path = "defect__place__piece__panel_work__job__vehicle"
    rows = Remedy.objects.filter(pk__in=ids).select_related(path)
    return {
        row.pk: Line(
            row.defect.number,
            reverse("defect", args=[shop.slug, row.defect_id]),
            str(row.defect.place.piece.panel_work.job.vehicle),
            row.done_on,
            _("%(panel)s, %(kind)s: %(remedy)s. Cause: %(cause)s.")
            % {
                "panel": words.panel(row.defect.place.piece.panel_work.panel),
                "kind": row.defect.kind_said,
                "remedy": _(known.get(row.kind, row.kind)),
                "cause": cause_name(row.defect.cause),
            },
            money(row.cost, shop),
        )
        for row in rows
    }


def _job_lines(ids: Sequence[int], found: Counting, shop: Shop, words: Words) -> dict[int, Line]:
    of_job = {job.pk: job for job in found.jobs}
    rows = Job.objects.filter(pk__in=ids).select_related("vehicle")
    return {
        row.pk: Line(
            _("Job %(ref)s") % {"ref": row.ref},
            reverse("job", args=[shop.slug, row.pk]),
            str(row.vehicle),
            row.handed_over_on,
            service_words(of_job[row.pk], found.today),
            "",
        )
        for row in rows
    }


def service_words(job: JobRow, today: date) -> str:
    ended = min((day for day in (job.gone_on, job.last_day, today) if day), default=today)
    months = max(0, int((ended - job.handed_over_on).days / MONTH_DAYS))
    if ended < today:
        return ngettext("%(n)s month in service, ended", "%(n)s months in service, ended", months) % {
            "n": months
        }
    return ngettext("%(n)s month in service", "%(n)s months in service", months) % {"n": months}


def _credit_lines(ids: Sequence[int], found: Counting, shop: Shop, words: Words) -> dict[int, Line]:
    rows = MakerClaim.objects.filter(pk__in=ids).select_related("product")
    return {
        row.pk: Line(
            row.number,
            reverse("maker-claim", args=[shop.slug, row.pk]),
            str(row.product),
            row.answered_on,
            "",
            money(row.credited, shop),
        )
        for row in rows
    }
