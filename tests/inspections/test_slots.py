"""Free slots: hours, breaks, closed days, lanes, lead time and clock changes."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopwarranty.inspections.slots import (
    BookingRules,
    OpenTimes,
    Slot,
    Stretch,
    Unit,
    extra_lane,
    first_lane_each,
    free_slots,
    is_free,
    may_be_booked,
    slot_at,
    units_of,
)
from shopwarranty.inspections.wall_clock import TimeDoesNotExist, TimeHappensTwice, days_later, moment_of

NY = "America/New_York"
MORNING, AFTERNOON = Stretch(time(9), time(12)), Stretch(time(13), time(17))
WEEK = OpenTimes(
    tuple((weekday, stretch) for weekday in range(5) for stretch in (MORNING, AFTERNOON)),
    closed=frozenset({date(2026, 11, 26)}),
)
RULES = BookingRules(NY, minutes=45, lanes=(1, 2), lead=timedelta(hours=2), days_ahead=60)
NOW = datetime(2026, 11, 23, 13, 0, tzinfo=UTC)


def wall(text: str) -> datetime:
    """A naive wall time."""
    return datetime.fromisoformat(text)


def offered(day: date, **changes: object) -> list[Slot]:
    arguments = {"taken": (), "now": NOW, "first_day": day, "last_day": day} | changes
    return list(free_slots(WEEK, RULES, **arguments))  # type: ignore[arg-type]


def clock_times(slots: list[Slot]) -> list[str]:
    return [f"{slot.starts_local:%H:%M}" for slot in first_lane_each(slots)]


def test_a_day_offers_every_quarter_hour_that_ends_before_the_break_and_before_closing() -> None:
    times = clock_times(offered(date(2026, 11, 24)))
    assert times[:3] == ["09:00", "09:15", "09:30"]
    assert "11:15" in times
    assert "11:30" not in times
    assert "12:00" not in times
    assert times[-1] == "16:15"
    assert len(times) == 10 + 14


def test_a_closed_day_a_weekend_and_a_past_day_offer_nothing() -> None:
    for day in (date(2026, 11, 26), date(2026, 11, 28), date(2026, 11, 20)):
        assert offered(day) == []


def test_a_day_with_hours_of_its_own_uses_them_even_when_it_is_closed_otherwise() -> None:
    hours = OpenTimes(WEEK.weekly, WEEK.closed, ((date(2026, 11, 26), Stretch(time(10), time(11))),))
    slots = free_slots(
        hours, RULES, taken=(), now=NOW, first_day=date(2026, 11, 26), last_day=date(2026, 11, 26)
    )
    assert clock_times(list(slots)) == ["10:00", "10:15"]


def test_lead_time_is_kept_to_the_minute() -> None:
    """13:00 UTC is 08:00 in New York; with two hours of lead the first start is 10:00."""
    today = date(2026, 11, 23)
    assert clock_times(offered(today))[0] == "10:00"
    assert clock_times(offered(today, now=NOW + timedelta(minutes=1)))[0] == "10:15"


def test_nothing_is_offered_further_ahead_than_the_shop_allows() -> None:
    slots = list(
        free_slots(WEEK, RULES, taken=(), now=NOW, first_day=date(2026, 11, 23), last_day=date(2028, 1, 1))
    )
    assert max(slot.starts_local.date() for slot in slots) == date(2027, 1, 22)
    assert date(2026, 11, 23) + timedelta(days=60) == date(2027, 1, 22)


def test_the_shops_today_counts_and_not_the_servers() -> None:
    late = datetime(2026, 11, 25, 3, 0, tzinfo=UTC)
    rules = BookingRules(NY, minutes=45, lanes=(1,), days_ahead=0)
    days = free_slots(
        WEEK, rules, taken=(), now=late, first_day=date(2026, 11, 1), last_day=date(2026, 12, 1)
    )
    assert list(days) == []


def test_a_taken_slot_blocks_its_lane_and_every_start_that_would_overlap_it() -> None:
    day = date(2026, 11, 24)
    booked = slot_at(wall("2026-11-24T10:00"), zone=NY, minutes=45, lane=1)
    slots = offered(day, taken=units_of(booked))
    in_lane_one = [f"{slot.starts_local:%H:%M}" for slot in slots if slot.lane == 1]
    assert [t for t in in_lane_one if "09:15" < t < "10:45"] == []
    assert {"09:15", "10:45"} <= set(in_lane_one)
    assert "10:00" in [f"{slot.starts_local:%H:%M}" for slot in slots if slot.lane == 2]


def test_a_time_is_full_when_every_lane_is_taken() -> None:
    ten = wall("2026-11-24T10:00")
    taken = [u for lane in (1, 2) for u in units_of(slot_at(ten, zone=NY, minutes=45, lane=lane))]
    assert "10:00" not in clock_times(offered(date(2026, 11, 24), taken=taken))
    beyond = extra_lane(slot_at(ten, zone=NY, minutes=45, lane=1), RULES, taken=taken)
    assert beyond.lane == 3
    again = extra_lane(beyond, RULES, taken=[*taken, *units_of(beyond)])
    assert again.lane == 4


def test_units_are_the_quarter_hours_touched_in_utc() -> None:
    slot = slot_at(wall("2026-11-24T10:00"), zone=NY, minutes=45, lane=2)
    fifteen = datetime(2026, 11, 24, 15, 0, tzinfo=UTC)
    assert units_of(slot) == tuple(Unit(fifteen + timedelta(minutes=n), 2) for n in (0, 15, 30))
    odd = slot_at(wall("2026-11-24T10:10"), zone=NY, minutes=20, lane=1)
    assert [unit.quarter.minute for unit in units_of(odd)] == [0, 15]
    assert not is_free(odd, {Unit(fifteen, 1)})
    assert is_free(odd, {Unit(fifteen, 2)})


def test_stretches_that_touch_are_one_and_a_check_may_span_them() -> None:
    hours = OpenTimes(((0, Stretch(time(9), time(10))), (0, Stretch(time(10), time(11)))))
    assert hours.stretches(date(2026, 11, 23)) == (Stretch(time(9), time(11)),)


@pytest.mark.parametrize("day", [date(2026, 11, 1), date(2027, 3, 14)])
def test_a_shop_open_all_night_never_offers_a_time_the_clock_change_touches(day: date) -> None:
    """E64. New York 2026-11-01 01:00-02:00 happens twice; 2027-03-14 02:00-03:00 does not exist."""
    hours = OpenTimes(((6, Stretch(time(0), time(6))),))
    rules = BookingRules(NY, minutes=30, lanes=(1,), days_ahead=400)
    slots = list(
        free_slots(hours, rules, taken=(), now=NOW - timedelta(days=60), first_day=day, last_day=day)
    )
    times = clock_times(slots)
    safe_from = "02:00" if day.month == 11 else "03:00"
    unsafe_from = "00:30" if day.month == 11 else "01:30"
    assert not [t for t in times if unsafe_from < t < safe_from]
    assert times[-1] == "05:30"
    moments = [slot.starts_utc for slot in slots]
    assert len(set(moments)) == len(moments)
    assert all(slot.ends_local - slot.starts_local == timedelta(minutes=30) for slot in slots)


def test_asking_for_a_time_on_the_clock_change_is_refused_in_words() -> None:
    with pytest.raises(TimeHappensTwice):
        slot_at(wall("2026-11-01T01:30"), zone=NY, minutes=30, lane=1)
    with pytest.raises(TimeDoesNotExist):
        slot_at(wall("2027-03-14T02:30"), zone=NY, minutes=30, lane=1)
    with pytest.raises(TimeHappensTwice):
        slot_at(wall("2026-11-01T00:45"), zone=NY, minutes=30, lane=1)


def test_a_time_somebody_types_is_checked_by_the_same_rules_as_an_offer() -> None:
    def bookable(hour: int, minute: int, lane: int = 1) -> bool:
        slot = slot_at(wall(f"2026-11-24T{hour:02d}:{minute:02d}"), zone=NY, minutes=45, lane=lane)
        return may_be_booked(slot, WEEK, RULES, now=NOW)

    assert bookable(9, 0)
    assert bookable(16, 15)
    assert not bookable(16, 30)
    assert not bookable(9, 5)
    assert not bookable(11, 30)
    assert not bookable(9, 0, lane=3)


@pytest.mark.parametrize(
    "make",
    [
        lambda: Stretch(time(12), time(9)),
        lambda: OpenTimes(((7, MORNING),)),
        lambda: BookingRules(NY, minutes=0, lanes=(1,)),
        lambda: BookingRules(NY, minutes=45, lanes=(1,), grid_minutes=10),
        lambda: BookingRules(NY, minutes=45, lanes=(1, 1)),
        lambda: BookingRules(NY, minutes=45, lanes=(1,), lead=timedelta(hours=-1)),
    ],
)
def test_rules_that_cannot_be_are_refused(make: "type[object]") -> None:
    with pytest.raises(ValueError, match=r"."):
        make()


ZONES = st.sampled_from(
    ["America/New_York", "Europe/Berlin", "Australia/Lord_Howe", "America/Phoenix", "Asia/Kathmandu"]
)
QUARTERS = st.integers(0, 92)


@st.composite
def shops(draw: st.DrawFn) -> tuple[OpenTimes, BookingRules, datetime]:
    weekly = []
    for weekday in range(7):
        for _ in range(draw(st.integers(0, 2))):
            first = draw(st.integers(0, 92))
            last = draw(st.integers(first + 1, 95))
            weekly.append((weekday, Stretch(_clock(first), _clock(last))))
    rules = BookingRules(
        zone=draw(ZONES),
        minutes=draw(st.integers(1, 12)) * 10,
        lanes=tuple(range(1, draw(st.integers(1, 3)) + 1)),
        lead=timedelta(minutes=draw(st.integers(0, 600))),
        days_ahead=draw(st.integers(0, 10)),
        grid_minutes=draw(st.sampled_from([15, 30, 60])),
    )
    start = draw(
        st.sampled_from(
            [
                wall("2026-10-22T00:00"),
                wall("2026-10-30T00:00"),
                wall("2027-03-11T00:00"),
                wall("2027-04-01T00:00"),
            ]
        )
    )
    return (
        OpenTimes(tuple(weekly)),
        rules,
        (start + timedelta(minutes=draw(st.integers(0, 4000)))).replace(tzinfo=UTC),
    )


def _clock(quarter: int) -> time:
    return time(quarter // 4, quarter % 4 * 15)


@settings(max_examples=60, deadline=None)
@given(shops(), st.randoms(use_true_random=False))
def test_whatever_is_booked_in_any_order_nothing_overlaps_or_lies_outside_the_hours(
    shop: tuple[OpenTimes, BookingRules, datetime], chance: object
) -> None:
    hours, rules, now = shop
    zone, taken, booked = ZoneInfo(rules.zone), set[Unit](), list[Slot]()
    span = {"first_day": now.date(), "last_day": now.date() + timedelta(days=6)}
    for _ in range(6):
        free = list(free_slots(hours, rules, taken=taken, now=now, **span))
        if not free:
            break
        slot = chance.choice(free)  # type: ignore[attr-defined]
        assert may_be_booked(slot, hours, rules, now=now)
        assert taken.isdisjoint(units_of(slot))
        taken.update(units_of(slot))
        booked.append(slot)
    for slot in booked:
        inside = hours.stretches(slot.starts_local.date())
        assert any(s.opens <= slot.starts_local.time() and slot.ends_local.time() <= s.closes for s in inside)
        assert slot.ends_local.date() == slot.starts_local.date()
        assert slot.starts_utc >= now + rules.lead
        assert slot.starts_utc.astimezone(zone).replace(tzinfo=None) == slot.starts_local
    for one in booked:
        for other in booked:
            if one is not other and one.lane == other.lane:
                assert one.ends_utc <= other.starts_utc or other.ends_utc <= one.starts_utc


@settings(max_examples=25, deadline=None)
@given(shops())
def test_free_slots_equal_a_walk_over_every_quarter_hour_of_real_time(
    shop: tuple[OpenTimes, BookingRules, datetime],
) -> None:
    """Brute force: step through UTC and keep starts whose minutes all read as open, unrepeated wall time."""
    hours, rules, now = shop
    rules = BookingRules(rules.zone, rules.minutes, (1,), rules.lead, 30, 15)
    zone = ZoneInfo(rules.zone)
    first, last = now.date(), now.date() + timedelta(days=3)
    found = {
        s.starts_utc for s in free_slots(hours, rules, taken=(), now=now, first_day=first, last_day=last)
    }
    assert found == _walked(hours, rules, zone, now, first, last)


def _walked(
    hours: OpenTimes, rules: BookingRules, zone: ZoneInfo, now: datetime, first: date, last: date
) -> set[datetime]:
    moment = datetime.combine(first - timedelta(days=1), time(0), tzinfo=UTC)
    end = datetime.combine(last + timedelta(days=2), time(0), tzinfo=UTC)
    today, good = now.astimezone(zone).date(), set()
    while moment < end:
        minutes = [
            (moment + timedelta(minutes=n)).astimezone(zone)
            for n in (0, *range(5, rules.minutes, 5), rules.minutes)
        ]
        local = minutes[0].replace(tzinfo=None)
        ends = [m.replace(fold=1 - m.fold).utcoffset() == m.utcoffset() for m in (minutes[0], minutes[-1])]
        steady = len({m.utcoffset() for m in minutes}) == 1 and all(ends)
        inside = any(
            datetime.combine(local.date(), s.opens) <= local
            and local + timedelta(minutes=rules.minutes) <= datetime.combine(local.date(), s.closes)
            for s in hours.stretches(local.date())
        )
        if steady and inside and moment >= now + rules.lead and max(first, today) <= local.date() <= last:
            good.add(moment)
        moment += timedelta(minutes=15)
    return good


@given(
    st.datetimes(wall("2026-01-01T06:00"), wall("2030-01-01T00:00")).map(
        lambda d: d.replace(hour=6 + d.hour % 14, minute=d.minute // 15 * 15, second=0, microsecond=0)
    ),
    ZONES,
)
def test_fourteen_days_later_is_the_same_wall_time_whatever_the_clocks_did(
    local: datetime, zone: str
) -> None:
    later = days_later(local, 14)
    slot = slot_at(later, zone=zone, minutes=30, lane=1)
    assert (slot.starts_local.time(), slot.starts_local.weekday()) == (local.time(), local.weekday())
    drift = slot.starts_utc - moment_of(local, ZoneInfo(zone)) - timedelta(days=14)
    assert abs(drift) in (timedelta(0), timedelta(minutes=30), timedelta(hours=1))
