"""Do vehicles that came back still come to their planned checks? Read from the checks that were due."""

from __future__ import annotations

from datetime import date

import numpy as np
from django.db.models import Min

from shopwarranty.analysis.attendance import attendance
from shopwarranty.inspections.models import Check, Visit

SETTLED = {Check.State.DONE: True, Check.State.MISSED: False}


def attendance_of() -> float | None:
    """Attendance after a callback over attendance without; None while it cannot be said. Two queries."""
    settled = list(
        Check.objects.filter(state__in=SETTLED)
        .order_by("pk")
        .values_list("job_id", "plan_id", "due_on", "state")
    )
    came_back = _first_callbacks()
    if not settled or not came_back:
        return None
    plans = {plan: number for number, plan in enumerate(sorted({plan for _, plan, _, _ in settled}))}
    kind = np.array([plans[plan] for _, plan, _, _ in settled])
    attended = np.array([SETTLED[Check.State(state)] for *_, state in settled])
    after = np.array([job in came_back and came_back[job] < due for job, _, due, _ in settled])
    return attendance(kind, attended, after).ratio


def _first_callbacks() -> dict[int, date]:
    because = Visit.objects.filter(
        state=Visit.State.FINISHED, origin__in=(Visit.Origin.DEFECT, Visit.Origin.CLAIM)
    )
    return dict(because.values_list("job_id").annotate(first=Min("happened_on")))
