"""The next twelve months in words: claims, remedies and their cost, or why that cannot be told yet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

import numpy as np
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from shopwarranty.analysis.claim_rates import Events, Watched, watched_events
from shopwarranty.analysis.forecast import (
    LEAST_COSTS,
    LEAST_EVENTS,
    LEAST_IN_SERVICE,
    LEAST_VEHICLES,
    CannotTell,
    Cost,
    Forecast,
    cost_of,
    forecast,
)
from shopwarranty.shops.models import Shop

from .. import said
from .counting import Counting, claims_known, delays, events_of, is_about, remedies_known, watched_jobs
from .lines import about, money

WHY: Final[dict[CannotTell, str | Promise]] = {
    CannotTell.NONE_IN_SERVICE: gettext_lazy("It takes %(service)s jobs in service."),
    CannotTell.FEW_EVENTS: gettext_lazy("It takes %(events)s of them on record."),
    CannotTell.FEW_VEHICLES: gettext_lazy("It takes %(vehicles)s different vehicles with one."),
    CannotTell.TOO_YOUNG: gettext_lazy("Most of the time ahead lies at ages that nobody has watched yet."),
    CannotTell.FEW_COSTS: gettext_lazy("It takes %(costs)s recorded costs, and a third of all remedies."),
}
NEEDED: Final = {
    "service": LEAST_IN_SERVICE,
    "events": LEAST_EVENTS,
    "vehicles": LEAST_VEHICLES,
    "costs": LEAST_COSTS,
}


@dataclass(frozen=True, slots=True, eq=False)
class Figures:
    claims: Forecast
    remedies: Forecast
    cost: Cost | None


@dataclass(frozen=True, slots=True)
class AheadLine:
    """`said` None: it cannot be told yet, and `why` says what is missing."""

    name: str
    said: str | None
    between: str
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AheadWords:
    lines: tuple[AheadLine, ...]
    notes: tuple[str, ...]


def work_out(found: Counting) -> Figures:
    """From everything on record of the film asked for, whatever the period."""
    record, of_job = found.record, {job.pk: job for job in found.jobs}
    jobs, places = watched_jobs(found, claims_known, whole=True)
    claims = events_of(
        [
            (c.job, c.reported_on)
            for c in record.claims
            if c.job is not None and is_about(c, found.asked.family, of_job)
        ],
        found.jobs,
        places,
    )
    told = forecast(jobs, claims, reported=delays(found))
    rows = [row for row in record.remedies if not found.asked.family or row.family == found.asked.family]
    jobs, places = watched_jobs(found, remedies_known, whole=True)
    rows = [row for row in rows if row.job in places]
    remedies = events_of([(row.job, row.on) for row in rows], found.jobs, places)
    put_right = forecast(jobs, remedies)
    known = [None if row.cost is None else float(row.cost) for row in rows]
    return Figures(told, put_right, _cost(put_right, jobs, remedies, known))


def _cost(told: Forecast, jobs: Watched, events: Events, costs: Sequence[float | None]) -> Cost | None:
    """By the recorded costs of the remedies that the forecast goes by."""
    if told.counted is None:
        return None
    kept = [cost for cost, inside in zip(costs, watched_events(jobs, events), strict=True) if inside]
    return cost_of(told.counted, np.array([cost for cost in kept if cost is not None]), len(kept))


def ahead_words(figures: Figures, shop: Shop) -> AheadWords:
    cost = figures.cost
    lines = (
        count_line(_("Claims"), figures.claims),
        count_line(_("Remedies"), figures.remedies),
        AheadLine(
            _("What the remedies cost"),
            about(cost.mean, shop),
            _("%(low)s to %(high)s")
            % {"low": about(cost.interval.low, shop), "high": about(cost.interval.high, shop)},
            (),
        )
        if cost
        else AheadLine(_("What the remedies cost"), None, "", _why_no_cost(figures.remedies)),
    )
    return AheadWords(lines, tuple(_notes(figures, shop)))


def count_line(name: str, found: Forecast) -> AheadLine:
    if found.counted is None:
        return AheadLine(name, None, "", reasons(found.why))
    ends = found.counted.interval
    between = {"low": said.count(round(ends.low)), "high": said.count(round(ends.high))}
    mean = found.counted.mean
    return AheadLine(name, said.fixed(mean, 0 if mean >= 10 else 1), _("%(low)s to %(high)s") % between, ())


def reasons(why: Sequence[CannotTell]) -> tuple[str, ...]:
    return tuple(str(WHY[one]) % NEEDED for one in why)


def _why_no_cost(remedies: Forecast) -> tuple[str, ...]:
    return reasons(remedies.why or (CannotTell.FEW_COSTS,))


def _notes(figures: Figures, shop: Shop) -> list[str]:
    found = figures.remedies
    notes = [
        ngettext(
            "One job is in service, with %(months)s job-months to come. Jobs still to be done are not in it.",
            "%(n)s jobs are in service, with %(months)s job-months to come."
            " Jobs still to be done are not in it.",
            found.in_service,
        )
        % {"n": said.count(found.in_service), "months": said.count(round(found.ahead))}
    ]
    told = figures.claims.counted or found.counted
    if told and told.beyond >= 0.005:
        words = _(
            "%(share)s of that time lies at ages hardly watched yet; it goes by the oldest ages watched."
        )
        notes.append(words % {"share": said.percent(told.beyond)})
    if figures.cost:
        words = _("A remedy cost %(one)s on average, by %(recorded)s of %(of)s whose cost is recorded.")
        one = {"recorded": said.count(figures.cost.recorded), "of": said.count(figures.cost.of)}
        notes.append(words % {**one, "one": money(Decimal(figures.cost.one), shop)})
    return notes
