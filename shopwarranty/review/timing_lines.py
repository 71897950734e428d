"""When to look: what the planned checks catch before it grows, and what another day would do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import astuple, dataclass

from django.core.cache import cache
from django.utils.translation import gettext as _

from shopwarranty.analysis.check_timing import A_YEAR, CheckPlan, Costs, Timing, timings

from . import said
from .check_plan_now import PlannedChecks, planned_checks
from .models import CheckCosts
from .reviewing import KEPT_S, ShopReview
from .words import Words

USUALLY_SMALL = 30
"""Days a lift is taken to stay small until the owner says otherwise; common practice, no source."""

OTHER_DAYS = (7, 14, 21, 30, 45, 60, 90, 120, 150, 180, 240, 300, 365)
SHOWN = 3
WITHIN = A_YEAR + 35
"""A yearly check is often planned a little late."""


@dataclass(frozen=True, slots=True)
class TimingLine:
    name: str
    early: str
    between: str
    found: str
    cost: str


@dataclass(frozen=True, slots=True)
class TimingSheet:
    heading: str
    explained: str
    lines: tuple[TimingLine, ...]
    priced: bool


def timing_sheet(found: ShopReview, words: Words, version: str) -> TimingSheet | None:
    """None on a page that explores, without planned checks, or while nothing was found failing. 2 queries."""
    if found.selection.exploring or not found.asked.question.claimed:
        return None
    plan = planned_checks(WITHIN)
    said_costs = CheckCosts.objects.first()
    if plan is None or not found.ranked:
        return None
    grows_after = said_costs.grows_after if said_costs else USUALLY_SMALL
    costs = _costs(found, plan, said_costs)
    kept = _worked_out(found, words, version, plan, grows_after, costs)
    if not kept:
        return None
    return _sheet(kept, plan, grows_after, said_costs is not None, words)


def _costs(found: ShopReview, plan: PlannedChecks, said_costs: CheckCosts | None) -> Costs | None:
    if said_costs is None or not found.whole.vehicles:
        return None
    return Costs(
        caught_early=float(said_costs.caught_early),
        caught_late=float(said_costs.caught_late),
        minute=float(said_costs.minute),
        minutes=plan.minutes,
        places=found.whole.edges / found.whole.vehicles,
    )


def _worked_out(
    found: ShopReview,
    words: Words,
    version: str,
    plan: PlannedChecks,
    grows_after: int,
    costs: Costs | None,
) -> tuple[Timing, ...]:
    """The present plan first, then every other; kept for this state of record, plan and costs."""
    asked = (found.selection.query(), astuple(plan), grows_after, costs and astuple(costs))
    key = f"review:timing:{words.shop.pk}:{version}:{hash(repr(asked))}"
    kept: tuple[Timing, ...] | None = cache.get(key)
    if kept is None:
        plans = [plan.ages, *other_plans(plan.ages)]
        kept = timings(found.asked.question.lives, plans, grows_after=grows_after, costs=costs)
        cache.set(key, kept, KEPT_S)
    return kept


def other_plans(now: CheckPlan) -> Iterator[CheckPlan]:
    """One check on another day between its neighbours; or one more, with as many coming as on average."""
    days = sorted(now.days)
    for which, own in enumerate(now.days):
        at = days.index(own)
        first = days[at - 1] if at else 0
        last = days[at + 1] if at + 1 < len(days) else A_YEAR + 1
        yield from (now.moved(which, day) for day in OTHER_DAYS if first < day < last and day != own)
    usual = sum(now.attended) / len(now.attended)
    yield from (now.with_check(day, usual) for day in OTHER_DAYS if day not in days)


def _sheet(
    kept: Sequence[Timing], plan: PlannedChecks, grows_after: int, is_said: bool, words: Words
) -> TimingSheet:
    now, others = kept[0], kept[1:]
    moved = [one for one in others if len(one.plan.days) == len(now.plan.days)]
    more = [one for one in others if len(one.plan.days) > len(now.plan.days)]
    better = [one for one in sorted(moved, key=_rank)[:SHOWN] if _rank(one) < _rank(now)]
    better += sorted(more, key=_rank)[:SHOWN]
    heading = _("The planned checks catch %(share)s of first-year failures before they grow")
    text = _(
        "Taken as: a lift stays small for %(days)s days (%(whose)s). Those who came to the checks so far: "
        "%(shares)s. The share failed by age is the record's; what began between two checks, and so every "
        "other day than those of the plan, is a projection."
    )
    whose = _("as the owner says") if is_said else _("until the owner says otherwise")
    shares = ", ".join(
        _("day %(day)s %(share)s") % {"day": day, "share": said.percent(came, 0)}
        for day, came in zip(plan.ages.days, plan.ages.attended, strict=True)
    )
    return TimingSheet(
        heading=heading % {"share": said.percent(now.early, 0)},
        explained=text % {"days": grows_after, "whose": whose, "shares": shares},
        lines=tuple(_line(one, now, words) for one in (now, *better)),
        priced=now.cost is not None,
    )


def _rank(timing: Timing) -> float:
    """The cheaper first where costs are said, else what catches more."""
    return -timing.early if timing.cost is None else timing.cost


def _line(one: Timing, now: Timing, words: Words) -> TimingLine:
    cost = ""
    if one.cost is not None:
        cost = f"{said.fixed(one.cost, 2)}\u00a0{words.shop.currency}"
    return TimingLine(
        name=_name(one.plan, now.plan),
        early=said.percent(one.early, 0),
        between=_("%(low)s to %(high)s")
        % {"low": said.percent(one.low, 0), "high": said.percent(one.high, 0)},
        found=said.percent(one.found, 0),
        cost=cost,
    )


def _name(plan: CheckPlan, now: CheckPlan) -> str:
    if plan == now:
        days = ", ".join(map(str, now.days))
        return _("As planned: day %(days)s") % {"days": days}
    if len(plan.days) > len(now.days):
        return _("One more check on day %(day)s") % {"day": plan.days[-1]}
    was, becomes = next((a, b) for a, b in zip(now.days, plan.days, strict=True) if a != b)
    return _("Day %(becomes)s instead of day %(was)s") % {"was": was, "becomes": becomes}
