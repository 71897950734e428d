"""The shop's planned checks as the statistics ask for them: at which age, and how many come."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, Q

from shopwarranty.analysis.check_timing import CheckPlan as Ages
from shopwarranty.inspections.models import Check, CheckPlan

FEWEST_SETTLED = 10
"""Checks due and over below which a plan's own share of those who came is replaced by that of all."""

DAYS_A_MONTH = 365.25 / 12


@dataclass(frozen=True, slots=True)
class PlannedChecks:
    """`minutes`: a check takes on average; `settled`: checks the shares of those who came rest on."""

    ages: Ages
    minutes: float
    settled: int


def planned_checks(within: int) -> PlannedChecks | None:
    """The plans in use with a first look until `within` days; None without any, or before any was due."""
    done = Count("checks", filter=Q(checks__state=Check.State.DONE))
    missed = Count("checks", filter=Q(checks__state=Check.State.MISSED))
    rows = CheckPlan.objects.filter(retired_at=None).annotate(done=done, missed=missed)
    plans = [(age_of(row), row) for row in rows]
    kept = sorted(((age, row) for age, row in plans if 0 < age <= within), key=lambda one: one[0])
    settled = sum(row.done + row.missed for _age, row in kept)
    if not kept or not settled:
        return None
    usual = sum(row.done for _age, row in kept) / settled
    ages = Ages(tuple(age for age, _row in kept), tuple(_came(row, usual) for _age, row in kept))
    return PlannedChecks(ages, _mean(row.minutes for _age, row in kept), settled)


def age_of(plan: CheckPlan) -> int:
    return round(plan.offset_months * DAYS_A_MONTH) + plan.offset_days


def _came(row: CheckPlan, usual: float) -> float:
    done, missed = row.done, row.missed  # type: ignore[attr-defined]
    share: float = done / (done + missed) if done + missed >= FEWEST_SETTLED else usual
    return share


def _mean(values: Iterable[int]) -> float:
    listed = list(values)
    return sum(listed) / len(listed)
