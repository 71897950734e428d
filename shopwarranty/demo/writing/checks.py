"""Checks of every job as the plans have them, and the appointments made for those that took place."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta

from shopwarranty.inspections.actions.plans import HANDOVER, YEARLY, timing_of
from shopwarranty.inspections.due_dates import CheckTiming, DueWindow, due_window
from shopwarranty.inspections.models import BookedQuarter, Booking, Check, CheckPlan

from .. import told
from ..chance import stream, uid
from ..told import Story
from .jobs import is_left_to_handover
from .rows import Written, add

LANES = (1, 2)
QUARTER = timedelta(minutes=15)


def write_checks(written: Written, story: Story) -> None:
    """Done where somebody came, missed where the window is over, due where it is not."""
    plans = {plan.key: plan for plan in CheckPlan.objects.all()}
    keyed = [
        ((number, key), _check(written, story, number, key, plans[key.partition("-2")[0]], window))
        for number, job in enumerate(story.jobs)
        if not is_left_to_handover(story, job)
        for key, window in _windows(plans, job.handed_over_at.date())
    ]
    written.checks = dict(zip([key for key, _ in keyed], add(row for _, row in keyed), strict=True))


def _windows(plans: dict[str, CheckPlan], handed: date) -> Iterator[tuple[str, DueWindow]]:
    for key, plan in plans.items():
        timing = timing_of(plan)
        yield key, due_window(handed, timing)
        if key == YEARLY:
            second = CheckTiming(
                timing.offset_months + 12, timing.offset_days, timing.days_before, timing.days_after
            )
            yield f"{key}-2", due_window(handed, second)


def _check(
    written: Written, story: Story, number: int, key: str, plan: CheckPlan, window: DueWindow
) -> Check:
    visit = next((v for v in story.courses[number].visits if v.check == key), None)
    row = Check(
        job=written.jobs[number],
        plan=plan,
        due_on=window.due,
        window_from=window.opens,
        window_to=window.closes,
    )
    if visit is not None:
        row.state, row.settled_at = Check.State.DONE, written.at(visit.at) + timedelta(minutes=25)
    elif window.closes < story.today:
        row.state, row.state_why = Check.State.MISSED, "Its window ended without a visit."
        row.settled_at = written.at(datetime.combine(window.closes + timedelta(days=1), time(6)))
    return row


def write_appointments(written: Written, story: Story) -> None:
    """Kept ones, in whichever bay was free; who found no bay walked in."""
    taken: set[tuple[datetime, int]] = set()
    wanted = {
        (number, visit.check): _booking(written, number, visit, taken)
        for number, course in enumerate(story.courses)
        for visit in course.visits
        if visit.check
    }
    rows = {key: row for key, row in wanted.items() if row is not None}
    written.bookings = dict(zip(rows, add(rows.values()), strict=True))
    add(
        BookedQuarter(booking=booking, lane=booking.lane, quarter=quarter)
        for booking in written.bookings.values()
        for quarter in _quarters(booking.starts_at, booking.minutes)
    )


def _booking(
    written: Written, number: int, visit: told.Visit, taken: set[tuple[datetime, int]]
) -> Booking | None:
    check = written.checks.get((number, visit.check))
    if check is None or check.plan.key == HANDOVER:
        return None
    starts, minutes = written.at(visit.at).astimezone(UTC), check.plan.minutes
    lane = _free_lane(starts, minutes, taken)
    if lane is None:
        return None
    taken |= {(quarter, lane) for quarter in _quarters(starts, minutes)}
    booked_at = starts - timedelta(days=stream("booked", number, visit.check).randint(3, 9))
    return Booking(
        check_due=check,
        uid=uid("booking", number, visit.check),
        starts_local=f"{visit.at:%Y-%m-%dT%H:%M}",
        zone=written.shop.time_zone,
        starts_at=starts,
        minutes=minutes,
        lane=lane,
        state=Booking.State.KEPT,
        booked_at=booked_at,
        booked_by=written.members["desk"],
        changed_at=starts,
    )


def _free_lane(starts: datetime, minutes: int, taken: set[tuple[datetime, int]]) -> int | None:
    return next(
        (lane for lane in LANES if all((q, lane) not in taken for q in _quarters(starts, minutes))), None
    )


def _quarters(starts: datetime, minutes: int) -> list[datetime]:
    return [starts + QUARTER * n for n in range(-(-minutes // 15))]
