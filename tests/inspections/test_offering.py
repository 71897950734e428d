"""When checks can be had: holidays, single days, hours of a bay, and what the owner is shown before saving.

Public holidays: 5 U.S.C. 6103 for the United States (Christmas Day; Thanksgiving Day on the fourth Thursday
of November; 6103(b): one on a Saturday is observed the day before); Bavaria's Act on Sundays and Holidays,
article 1 (Epiphany, All Saints); Germany's Day of Unity: Unification Treaty, article 2(2). From memory.
"""

from datetime import date, datetime, time, timedelta
from typing import Any

import pytest

from shopwarranty.inspections.actions import offering as actions
from shopwarranty.inspections.models import BayHours, CheckRules, OwnDay
from shopwarranty.inspections.opening import free_between, opening_of
from shopwarranty.inspections.public_holidays import countries, holidays_of, regions
from shopwarranty.inspections.rules import rules_of
from shopwarranty.inspections.slots import BookingRules, OpenTimes, Stretch, free_slots
from shopwarranty.shops.actions import Hours
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Bay, Change, ClosedDay
from tests import builders as b
from tests.conftest import ShopPeople

CHRISTMAS = date(2026, 12, 25)  # a Friday


@pytest.fixture
def owner(ours: ShopPeople) -> Actor:
    return Actor.of(ours.owner)


def keep_holidays(people: ShopPeople, country: str = "US", region: str = "") -> None:
    actions.change_rules(
        shop=people.shop,
        values={"holidays_country": country, "holidays_region": region},
        actor=Actor.of(people.owner),
        now=b.NOW,
    )


def starts(people: ShopPeople, day: date, **more: Any) -> list[str]:
    opening = opening_of(people.shop, 60)
    free = free_between(people.shop, opening, day, day, now=b.NOW)
    return [f"{slot.starts_local:%H:%M}/{slot.lane}" for slot in free]


@pytest.mark.parametrize(
    ("country", "region", "day", "is_one"),
    [
        ("US", "", date(2026, 11, 26), True),
        ("US", "", date(2026, 12, 25), True),
        ("US", "", date(2026, 7, 3), True),  # July 4 is a Saturday
        ("US", "", date(2026, 11, 25), False),
        ("DE", "", date(2026, 10, 3), True),
        ("DE", "", date(2027, 1, 6), False),
        ("DE", "BY", date(2027, 1, 6), True),
        ("DE", "BY", date(2026, 11, 1), True),
        ("", "", date(2026, 12, 25), False),
        ("DE", "nowhere", date(2026, 10, 3), False),
    ],
)
def test_public_holidays_are_those_of_country_and_region(
    country: str, region: str, day: date, is_one: bool
) -> None:
    assert (day in holidays_of(country, region, day.year)) is is_one


def test_holidays_are_named_in_the_shops_language_where_the_library_can() -> None:
    assert holidays_of("DE", "", 2026, "en")[date(2026, 12, 25)] == "Christmas Day"
    assert "Weihnacht" in holidays_of("DE", "", 2026, "de")[date(2026, 12, 25)]


def test_countries_and_regions_can_be_chosen_by_name() -> None:
    assert ("US", "United States") in countries()
    assert ("CA", "California") in regions("US")
    assert regions("XX") == []


def test_nothing_is_offered_on_a_public_holiday_of_the_shop(ours: ShopPeople, owner: Actor) -> None:
    assert starts(ours, CHRISTMAS)
    keep_holidays(ours)
    assert not starts(ours, CHRISTMAS)


def test_a_holiday_can_be_opened_all_the_same_and_closed_again(ours: ShopPeople, owner: Actor) -> None:
    keep_holidays(ours)
    actions.open_on(on=CHRISTMAS, own=None, actor=owner, now=b.NOW)
    assert starts(ours, CHRISTMAS)[0] == "08:00/1"
    actions.as_usual_on(on=CHRISTMAS, actor=owner, now=b.NOW)
    assert not starts(ours, CHRISTMAS)


def test_a_day_may_have_hours_of_its_own_and_closing_by_hand_comes_first(
    ours: ShopPeople, owner: Actor
) -> None:
    sunday = date(2026, 12, 6)
    actions.open_on(on=sunday, own=Stretch(time(10), time(12)), actor=owner, now=b.NOW)
    assert (starts(ours, sunday)[0], starts(ours, sunday)[-1]) == ("10:00/1", "11:00/1")
    actions.close_on(on=sunday, why="flood", actor=owner, now=b.NOW)
    assert not starts(ours, sunday)
    assert not OwnDay.objects.exists()
    actions.open_on(on=sunday, own=Stretch(time(10), time(12)), actor=owner, now=b.NOW)
    assert not ClosedDay.objects.exists()
    assert Change.objects.filter(act__in=["day opened", "day closed"]).count() == 3


def test_a_bay_takes_checks_only_in_its_own_hours(ours: ShopPeople, owner: Actor) -> None:
    second = Bay.objects.create(name="Bay 2", position=2)
    thursday = b.TODAY + timedelta(days=1)
    mornings = [Hours(3, time(9), time(11))]
    actions.set_bay_hours(bay=second, takes_checks=True, hours=mornings, actor=owner, now=b.NOW)
    assert [each for each in starts(ours, thursday) if each.endswith("/2")] == [
        "09:00/2",
        "09:15/2",
        "09:30/2",
        "09:45/2",
        "10:00/2",
    ]
    assert not [each for each in starts(ours, thursday + timedelta(days=1)) if each.endswith("/2")]
    actions.set_bay_hours(bay=second, takes_checks=False, hours=[], actor=owner, now=b.NOW)
    assert not [each for each in starts(ours, thursday) if each.endswith("/2")]
    assert not BayHours.objects.exists()


def test_hours_of_a_lane_equal_a_walk_over_every_quarter_hour() -> None:
    """Brute force over a week: each start of each lane asked by itself."""
    week = OpenTimes(tuple((day, Stretch(time(8), time(17))) for day in range(6)))
    own = (
        (2, 0, Stretch(time(8), time(10))),
        (2, 0, Stretch(time(13), time(14))),
        (2, 4, Stretch(time(12), time(20))),
    )
    rules = BookingRules("America/New_York", 45, (1, 2), lane_hours=own)
    now = datetime(2026, 11, 28, 12, tzinfo=b.NOW.tzinfo)
    first = date(2026, 11, 30)
    got = {
        (slot.starts_local, slot.lane)
        for slot in free_slots(week, rules, taken=(), now=now, first_day=first, last_day=date(2026, 12, 6))
    }
    wanted = set()
    for quarter in range(7 * 96):
        start = datetime.combine(first, time()) + timedelta(minutes=15 * quarter)
        end, day = start + timedelta(minutes=45), start.weekday()
        if day == 6 or start.hour < 8 or end > start.replace(hour=17, minute=0):
            continue
        wanted.add((start, 1))
        clock = (start.hour * 60 + start.minute, end.hour * 60 + end.minute)
        spans = {0: [(480, 600), (780, 840)], 4: [(720, 1200)]}.get(day, [])
        if any(opens <= clock[0] and clock[1] <= closes for opens, closes in spans):
            wanted.add((start, 2))
    assert got == wanted


@pytest.mark.parametrize(
    ("prefer", "day"), [("next", "Monday, November 30"), ("previous", "Friday, November 27")]
)
def test_E55_due_on_a_closed_day_the_next_or_the_previous_open_one_is_offered_as_the_shop_says(
    ours: ShopPeople, owner: Actor, monkeypatch: pytest.MonkeyPatch, prefer: str, day: str
) -> None:
    from django.utils import timezone

    monkeypatch.setattr(timezone, "now", lambda: b.NOW)
    actions.change_rules(shop=ours.shop, values={"when_closed": prefer}, actor=owner, now=b.NOW)
    check = b.a_check(due_on=date(2026, 11, 28))
    shown = ours.client(ours.desk).get(f"/s/kiln/checks/{check.pk}/book/").content.decode()
    assert f"Book {day}, 8:00" in shown
    check.refresh_from_db()
    assert (check.due_on, check.window_to) == (date(2026, 11, 28), date(2026, 12, 12))


def test_E63_two_bays_and_one_person_take_one_check_at_a_time_and_more_only_with_a_reason(
    ours: ShopPeople, owner: Actor
) -> None:
    from shopwarranty.inspections.actions import book_beyond

    Bay.objects.create(name="Bay 2", position=2)
    thursday = b.TODAY + timedelta(days=1)
    assert "10:00/2" in starts(ours, thursday)
    actions.change_rules(shop=ours.shop, values={"people_at_once": 1}, actor=owner, now=b.NOW)
    assert {each[-2:] for each in starts(ours, thursday)} == {"/1"}
    b.a_booking(b.a_check(), on=thursday)  # at ten
    assert "10:00/1" not in starts(ours, thursday)
    ten = datetime.combine(thursday, time(10))
    booking = book_beyond(
        check=b.a_check(), starts_local=ten, why="the second one helps", actor=owner, now=b.NOW
    )
    assert (booking.lane, booking.over_capacity_why) == (2, "the second one helps")


# --- pages

SENT = {
    "check_minutes": "60",
    "lead_hours": "24",
    "ahead_days": "30",
    "when_closed": "next",
    "holidays_country": "US",
    "holidays_region": "",
}


@pytest.fixture
def page(ours: ShopPeople, monkeypatch: pytest.MonkeyPatch) -> Any:
    from django.utils import timezone

    monkeypatch.setattr(timezone, "now", lambda: b.NOW)
    return ours.client(ours.owner)


def test_the_next_free_times_are_shown_as_typed_before_anything_is_saved(page: Any, ours: ShopPeople) -> None:
    url = "/s/kiln/settings/offering/"
    assert "Wed Nov 25, 12:00" in page.get(url).content.decode().replace("\u00a0", " ")
    looked = page.post(url, {**SENT, "look": "1"}).content.decode()
    assert "as typed and not saved" in looked
    assert "Wed Nov 25, 12:00" not in looked
    assert "Fri Nov 27, 8:00" in looked, "Thursday is Thanksgiving Day"
    ours.shop.refresh_from_db()
    assert (ours.shop.lead_hours, CheckRules.objects.count()) == (2, 0)
    assert page.post(url, SENT).status_code == 302
    ours.shop.refresh_from_db()
    assert (ours.shop.lead_hours, rules_of(ours.shop).holidays_country) == (24, "US")


def test_a_region_of_another_country_is_dropped_when_the_country_changes(page: Any, ours: ShopPeople) -> None:
    page.post("/s/kiln/settings/offering/", {**SENT, "holidays_region": "BY"})
    assert rules_of(ours.shop).holidays_region == ""
    page.post("/s/kiln/settings/offering/", {**SENT, "holidays_region": "CA"})
    assert rules_of(ours.shop).holidays_region == "CA"


def test_days_ahead_that_differ_are_listed_and_each_can_be_overruled(page: Any, ours: ShopPeople) -> None:
    page.post("/s/kiln/settings/offering/", SENT)
    again = {"on": "2026-12-25"}
    page.post("/s/kiln/settings/offering/day/again/", again)
    assert OwnDay.objects.get().on == CHRISTMAS
    assert "open all the same" in page.get("/s/kiln/settings/offering/").content.decode()
    page.post("/s/kiln/settings/offering/day/again/", again)
    assert not OwnDay.objects.exists()
    page.post(
        "/s/kiln/settings/offering/day/",
        {"on": "2026-12-24", "what": "own", "opens": "8:00", "closes": "12:00"},
    )
    assert starts(ours, date(2026, 12, 24))[-1] == "11:00/1"


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"on": "2026-12-24", "what": "own", "opens": "", "closes": "12:00"}, "from when to when"),
        ({"on": "2026-12-24", "what": "own", "opens": "13:00", "closes": "12:00"}, "closes after it opens"),
        ({"on": "2026-11-24", "what": "closed", "why": "flood"}, "That day is over."),
    ],
)
def test_a_day_typed_wrong_changes_nothing_and_keeps_what_was_typed(
    page: Any, sent: dict[str, str], said: str
) -> None:
    shown = page.post("/s/kiln/settings/offering/day/", sent).content.decode()
    assert said in shown
    assert f'value="{sent["on"]}"' in shown
    assert not OwnDay.objects.exists() and not ClosedDay.objects.exists()


def test_the_week_names_the_holiday_on_which_the_shop_is_closed_or_open(page: Any, owner: Actor) -> None:
    page.post("/s/kiln/settings/offering/", SENT)
    closed = page.get("/s/kiln/week/?from=2026-12-21").content.decode()
    assert "Christmas Day" in closed
    actions.open_on(on=CHRISTMAS, own=None, actor=owner, now=b.NOW)
    opened = page.get("/s/kiln/week/?from=2026-12-21").content.decode()
    assert "Christmas Day" in opened


def test_the_hours_of_a_bay_are_typed_as_those_of_the_shop(page: Any, ours: ShopPeople) -> None:
    bay = Bay.objects.get()
    url = f"/s/kiln/settings/offering/bays/{bay.pk}/"
    wrong = page.post(url, {"takes_checks": "on", "day_0": "8-twelve"})
    assert b'value="8-twelve"' in wrong.content
    page.post(url, {"takes_checks": "on", "day_0": "8:00-12:00"})
    assert BayHours.objects.get().closes == time(12)
    assert not starts(ours, b.TODAY + timedelta(days=1))
