"""The page from its top: the answer, what it was counted from, rates by age, money, what could fool us."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import numpy as np
from django.db.models import Sum
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopwarranty.analysis.claim_rates import (
    AgeRate,
    ByAge,
    Events,
    Watched,
    by_age,
    last_month,
    rates_by,
    watched_events,
)
from shopwarranty.analysis.reporting import EVERYTHING_REPORTED, check_ages, round_dates
from shopwarranty.claims.models import MakerClaim
from shopwarranty.shops.models import Shop
from shopwarranty.trade.words import CAUSES, pairs
from shopwarranty.web.formats import full_date

from .. import said
from ..words import Words
from .ahead import AheadWords, Figures, ahead_words, work_out
from .asked import Asked
from .chart import rate_chart
from .counting import (
    UNKNOWN,
    Counting,
    Spent,
    all_spent,
    cause_of,
    claims_known,
    delays,
    events_of,
    panel_of,
    remedies_known,
    spent,
    watched_jobs,
)
from .lines import Addresses, AgeLine, Count, SpentLine, age_lines, display_bands, money, spent_lines

FIRST_AGES = (12, 6, 3)
ENOUGH_EVENTS = 5


@dataclass(frozen=True, slots=True, eq=False)
class Rates:
    """Claims or remedies by age, and what they were worked out from."""

    lines: tuple[AgeRate, ...]
    first: ByAge | None
    watched: Watched
    events: Events


@dataclass(frozen=True, slots=True, eq=False)
class Worked:
    """Every number of the page, unrounded; pages and files read it."""

    counting: Counting
    claims: Rates
    remedies: Rates
    panels: tuple[Spent, ...]
    causes: tuple[Spent, ...]
    total: Spent
    credited: Decimal | None
    ahead: Figures


def work(found: Counting) -> Worked:
    claims = [(c.job, c.reported_on) for c in found.claims if c.job is not None]
    watched, places = watched_jobs(found, claims_known)
    told = watched, events_of(claims, found.jobs, places)
    watched, places = watched_jobs(found, remedies_known)
    put_right = watched, events_of([(r.job, r.on) for r in found.remedies], found.jobs, places)
    last = max(last_month(told[0]), last_month(put_right[0]))
    return Worked(
        found,
        _rates(*told, last, found),
        _rates(*put_right, last, None),
        spent(found.remedies, panel_of),
        spent(found.remedies, cause_of),
        all_spent(found.remedies),
        credited_in(found.asked),
        work_out(found),
    )


def _rates(watched: Watched, events: Events, last: int, late: Counting | None) -> Rates:
    """`late`: claims reach the record late; remedies are written down when they are done."""
    known = delays(late) if late else EVERYTHING_REPORTED
    lines = rates_by(watched, events, display_bands(last), known)
    inside = int(watched_events(watched, events).sum()) if len(events) else 0
    first = None
    if inside >= ENOUGH_EVENTS:
        ages = (by_age(watched, events, upto, known) for upto in FIRST_AGES)
        first = next((one for one in ages if one), None)
    return Rates(lines, first, watched, events)


def credited_in(asked: Asked) -> Decimal | None:
    """By film makers in the period; None: nothing is on record."""
    rows = MakerClaim.objects.filter(credited__isnull=False)
    rows = rows.filter(product__family=asked.family) if asked.family else rows
    rows = rows.filter(answered_on__gte=asked.since) if asked.since else rows
    rows = rows.filter(answered_on__lte=asked.until) if asked.until else rows
    total: Decimal | None = rows.aggregate(total=Sum("credited"))["total"]
    return total


@dataclass(frozen=True, slots=True)
class Page:
    heading: str
    lead: tuple[Count, ...]
    ages: list[AgeLine]
    charts: tuple[tuple[str, SafeString], ...]
    panels: list[SpentLine]
    causes: list[SpentLine]
    ahead: AheadWords
    notes: list[str]


def page_of(worked: Worked, shop: Shop, words: Words) -> Page:
    found, addresses = worked.counting, Addresses(shop, worked.counting.asked)
    panels = {one.key: words.panel(one.key) for one in worked.panels}
    causes = {key: _(name) for key, name in pairs(CAUSES)} | {UNKNOWN: _("not known or not judged")}
    return Page(
        heading(worked),
        tuple(lead(worked, shop, addresses)),
        age_lines(worked.claims.lines, worked.remedies.lines, addresses),
        tuple(charts(worked)),
        spent_lines(worked.panels, panels, "panel", "", addresses, shop),
        spent_lines(worked.causes, causes, "cause", UNKNOWN, addresses, shop),
        ahead_words(worked.ahead, shop),
        list(notes(worked, found, shop)),
    )


def heading(worked: Worked) -> str:
    """What a hundred jobs bring; the longest age that enough is known about."""
    first = worked.claims.first
    if first is not None:
        return _("In their first %(months)s months, 100 jobs bring about %(n)s claims (%(between)s).") % {
            "months": first.months,
            "n": said.times(100 * first.mean),
            "between": said.between((100 * first.interval.low, 100 * first.interval.high)),
        }
    if not worked.counting.claims:
        return _("No claim is on record for this.")
    return _("Too few claims to say what 100 jobs bring.")


def lead(worked: Worked, shop: Shop, addresses: Addresses) -> Iterator[Count]:
    found, total = worked.counting, worked.total
    jobs, claims = len(found.jobs), len(found.claims)
    yield Count(ngettext("one job", "%(n)s jobs", jobs) % {"n": said.count(jobs)}, addresses.of("jobs"))
    yield Count(
        ngettext("one claim", "%(n)s claims", claims) % {"n": said.count(claims)}, addresses.of("claims")
    )
    yield Count(
        ngettext("one remedy", "%(n)s remedies", total.remedies) % {"n": said.count(total.remedies)},
        addresses.of("remedies"),
    )
    if total.remedies:
        words = _("cost recorded: %(sum)s") % {"sum": money(total.total, shop)}
        yield Count(words, addresses.of("remedies", cost="some"))
    if total.without:
        words = ngettext(
            "one remedy has no cost recorded and is in no sum",
            "%(n)s remedies have no cost recorded and are in no sum",
            total.without,
        )
        yield Count(words % {"n": said.count(total.without)}, addresses.of("remedies", cost="none"))
    if worked.credited is not None:
        words = _("credited by film makers: %(sum)s") % {"sum": money(worked.credited, shop)}
        yield Count(words, addresses.of("credits"))


def charts(worked: Worked) -> Iterator[tuple[str, SafeString]]:
    for name, rates in ((_("Claims"), worked.claims), (_("Remedies"), worked.remedies)):
        summary = _("%(what)s per 100 jobs by month of age, with 95%% intervals; the table has the numbers.")
        yield name, rate_chart(rates.lines, summary % {"what": name})


def notes(worked: Worked, found: Counting, shop: Shop) -> Iterator[str]:
    """What could fool the reader."""
    yield from late_notes(found, shop)
    yield from heaped_notes(worked, found)
    left = int(worked.remedies.watched.left.sum())
    if left:
        yield ngettext(
            "One job left service early, its film gone or its certificate withdrawn: it counts until then.",
            "%(n)s jobs left service early, film gone or certificate withdrawn: they count until then.",
            left,
        ) % {"n": said.count(left)}
    if found.unplaced:
        yield ngettext(
            "One claim is matched to no job or film yet: it is in no rate.",
            "%(n)s claims are matched to no job or film yet: they are in no rate.",
            len(found.unplaced),
        ) % {"n": said.count(len(found.unplaced))}
    outside = len(found.claims) - int(watched_events(worked.claims.watched, worked.claims.events).sum())
    if outside > 0:
        yield ngettext(
            "One claim was reported before its job came on record or after its promise ended: in no rate.",
            "%(n)s claims were reported before their job came on record or after its promise ended:"
            " in no rate.",
            outside,
        ) % {"n": said.count(outside)}
    yield _("An interval is wider where single vehicles claim again and again.")


def late_notes(found: Counting, shop: Shop) -> Iterator[str]:
    imported = any(job.claims_on > job.handed_over_on for job in found.jobs)
    if found.record.claims_since:
        words = _("Every claim since %(day)s is on record, as the owner said.")
        yield words % {"day": full_date(found.record.claims_since, shop)}
    elif imported:
        yield _("Claims of imported jobs count from the day of import: before it they were kept elsewhere.")
    late = [(c.received_on - c.reported_on).days for c in found.claims if c.received_on > c.reported_on]
    if late:
        yield ngettext(
            "One claim came on record later than it was first reported, by %(most)s days.",
            "%(n)s claims came on record later than they were first reported, by up to %(most)s days.",
            len(late),
        ) % {"n": said.count(len(late)), "most": said.count(max(late))}
        if delays(found).days:
            yield _("Recent months are weighed by the share of claims that is known of by now.")


def heaped_notes(worked: Worked, found: Counting) -> Iterator[str]:
    dates = round_dates(np.array([claim.reported_on.day for claim in found.claims], dtype=int))
    if dates.is_heaped:
        words = _("%(n)s of %(of)s claims are dated the 1st or the 15th: days given from memory, perhaps.")
        yield words % {"n": said.count(dates.found), "of": said.count(dates.total)}
    ages = check_ages(worked.remedies.events.age * 365.25 / 12)
    if ages.is_heaped:
        words = _(
            "%(n)s of %(of)s remedies fall within ten days of a planned check:"
            " such months show when somebody looked, not when it began."
        )
        yield words % {"n": said.count(ages.found), "of": said.count(ages.total)}


def context_of(worked: Worked, shop: Shop, words: Words) -> dict[str, Any]:
    page = page_of(worked, shop, words)
    return {"page": page, "asked": worked.counting.asked, "empty": not worked.counting.record.jobs}
