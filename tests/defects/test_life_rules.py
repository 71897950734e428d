"""Lives from looks. The rules are the trade's own; worked cases are common practice, no source.

The reading by planned checks follows the interval-censored view of inspection records (Sun 2006, The
Statistical Analysis of Interval-censored Failure Time Data, from memory): an event lies between the last look
without it and the first look with it.
"""

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopwarranty.defects.failure_rule import OwnKind, Rule, Seen, Sight, Where, judge
from shopwarranty.defects.life_rules import (
    AT_HANDOVER,
    BEFORE_RECORD,
    DAMAGE,
    PUT_RIGHT,
    Ended,
    LifeFound,
    Look,
    Watched,
    lives_of,
)

DAY0 = date(2026, 3, 2)
EDGE = Where("edge", "clear-protective")
PLACE = Watched(DAY0)


def day(age: int) -> date:
    return DAY0 + timedelta(days=age)


def check(age: int, seen: Seen = Seen.HELD, **more: object) -> Look:
    return Look(day(age), seen, planned=True, **more)  # type: ignore[arg-type]


def came_back(age: int, seen: Seen = Seen.FAILED, **more: object) -> Look:
    return Look(day(age), seen, **more)  # type: ignore[arg-type]


def only(place: Watched, *looks: Look, remedied: tuple[date, ...] = ()) -> LifeFound:
    (life,) = lives_of(place, looks, remedied)
    return life


def test_a_lift_found_at_a_check_lies_between_the_last_clean_look_and_that_check() -> None:
    life = only(PLACE, check(14), check(91, Seen.FAILED))
    assert (life.entry, life.clean, life.failed) == (0, 14, 91)
    assert (life.all_clean, life.all_failed, life.ended, life.ended_day) == (14, 91, Ended.FAILED, 91)


def test_never_seen_clean_it_failed_between_its_laying_and_the_check() -> None:
    life = only(PLACE, check(14, Seen.FAILED))
    assert (life.clean, life.failed) == (None, 14)


def test_a_place_nobody_looked_at_is_neither_clean_nor_failed() -> None:
    life = only(PLACE, check(14, Seen.NOTHING), check(91, Seen.NOTHING))
    assert (life.clean, life.failed, life.ended) == (None, None, Ended.OPEN)


def test_a_panel_that_is_not_finished_has_no_life_yet() -> None:
    assert lives_of(Watched(None), [check(0)], ()) == ()


def test_what_is_only_watched_was_looked_at_and_has_not_failed() -> None:
    seen, defect = judge([Sight(1, "edge-lift", 1)], EDGE, Rule(line=2))
    assert (seen, defect) == (Seen.HELD, None)
    assert judge([Sight(1, "edge-lift", 2)], EDGE, Rule(line=2)) == (Seen.FAILED, 1)


def test_a_place_left_short_on_purpose_has_not_failed_by_being_short() -> None:
    short = Where("edge", "clear-protective", left_short=True)
    assert judge([Sight(1, "misalignment", 3)], short, Rule())[0] is Seen.HELD
    assert judge([Sight(1, "edge-lift", 3)], short, Rule())[0] is Seen.FAILED


def test_a_kind_that_counts_in_one_film_family_only_does_not_count_for_a_film_nobody_recorded() -> None:
    assert judge([Sight(1, "adhesive-line", 3)], Where("field", "clear-protective"), Rule())[0] is Seen.FAILED
    assert judge([Sight(1, "adhesive-line", 3)], Where("field"), Rule())[0] is Seen.HELD
    assert judge([Sight(1, "edge-lift", 3)], Where("edge"), Rule())[0] is Seen.FAILED


def test_a_kind_the_shop_added_counts_where_the_shop_says() -> None:
    rule = Rule(own={"flag": OwnKind("flag", places=frozenset({"edge"}))})
    assert judge([Sight(1, "flag", 2)], EDGE, rule) == (Seen.FAILED, 1)
    assert judge([Sight(1, "flag", 2)], Where("field", "clear-protective"), rule)[0] is Seen.HELD
    noted = Rule(own={"flag": OwnKind("flag", is_failure=False)})
    assert judge([Sight(1, "flag", 4)], EDGE, noted)[0] is Seen.HELD


def test_a_failure_outweighs_damage_seen_at_the_same_look_and_the_worst_one_is_named() -> None:
    sights = [Sight(1, "scratch", 4), Sight(2, "edge-lift", 2), Sight(3, "corner-lift", 3)]
    assert judge(sights, EDGE, Rule()) == (Seen.FAILED, 3)
    assert judge(sights[:1], EDGE, Rule()) == (Seen.DAMAGED, 1)


def test_E68_a_defect_that_could_not_be_found_again_says_nothing() -> None:
    assert judge([Sight(1, "edge-lift", 3, void=True)], EDGE, Rule()) == (Seen.NOTHING, None)
    both = [Sight(1, "edge-lift", 3, void=True), Sight(2, "crease", 1)]
    assert judge(both, EDGE, Rule()) == (Seen.HELD, None)


def test_a_lift_reported_in_between_counts_as_found_at_the_next_planned_check() -> None:
    life = only(PLACE, check(14), came_back(60, since=day(50)), check(91, Seen.FAILED))
    assert (life.clean, life.failed) == (14, 91)
    assert (life.all_clean, life.all_failed, life.ended_day) == (14, 50, 60)


def test_put_right_at_the_report_it_still_counts_at_the_next_planned_check() -> None:
    first, second = lives_of(PLACE, [check(14), came_back(60), check(91)], [day(60)])
    assert (first.clean, first.failed, first.all_failed) == (14, 91, 60)
    assert (second.number, second.starts, second.clean, second.ended) == (2, day(60), 31, Ended.OPEN)


def test_without_a_planned_check_yet_it_ends_at_its_last_planned_clean_look() -> None:
    life = only(PLACE, check(14), came_back(40, Seen.HELD), came_back(60))
    assert (life.clean, life.failed) == (14, None)
    assert (life.all_clean, life.all_failed, life.ended) == (40, 60, Ended.FAILED)


def test_a_planned_check_that_left_the_place_out_does_not_find_the_reported_lift() -> None:
    life = only(PLACE, check(14), came_back(60), check(91, Seen.NOTHING), check(365, Seen.FAILED))
    assert life.failed == 365


def test_a_replaced_piece_counts_at_the_next_planned_check_of_its_job() -> None:
    place = Watched(DAY0, gone=day(62), gone_why="replaced", planned=(day(14), day(91)))
    life = only(place, check(14), came_back(60))
    assert (life.clean, life.failed, life.ended, life.ended_why) == (14, 91, Ended.FAILED, "")


def test_an_early_check_uses_its_real_age() -> None:
    assert only(PLACE, check(3), check(60, Seen.FAILED)).clean == 3


def test_what_other_visits_saw_on_places_that_held_stays_out_of_the_main_reading() -> None:
    life = only(PLACE, check(14), came_back(60, Seen.HELD))
    assert (life.clean, life.all_clean) == (14, 60)


def test_since_when_is_set_aside_where_a_look_or_the_laying_speaks_against_it() -> None:
    assert only(PLACE, check(14), came_back(60, since=day(14))).all_failed == 60
    assert only(PLACE, came_back(60, since=day(-3))).all_failed == 60
    assert only(PLACE, came_back(60, since=day(70))).all_failed == 60
    assert only(PLACE, came_back(60, since=day(0))).all_failed == 1


@pytest.mark.parametrize("planned", [True, False])
def test_damage_ends_a_life_without_a_failure(planned: bool) -> None:
    hurt = Look(day(60), Seen.DAMAGED, planned=planned, defect=9)
    life = only(PLACE, check(14), hurt, check(91, Seen.FAILED))
    assert (life.clean, life.failed, life.all_failed) == (14, None, None)
    assert (life.ended, life.ended_day, life.ended_why, life.defect) == (Ended.OTHER, 60, DAMAGE, 9)


def test_a_panel_taken_off_ends_its_lives_without_a_failure() -> None:
    place = Watched(DAY0, gone=day(100), gone_why="panel replaced")
    life = only(place, check(14), check(91), check(110, Seen.FAILED))
    assert (life.clean, life.failed) == (91, None)
    assert (life.ended, life.ended_day, life.ended_why) == (Ended.OTHER, 100, "panel replaced")


def test_E70_after_a_remedy_a_new_life_begins_and_may_fail_again() -> None:
    looks = [check(14), check(91, Seen.FAILED), check(365, Seen.FAILED)]
    first, second = lives_of(PLACE, looks, [day(95)])
    assert (first.failed, first.ended) == (91, Ended.FAILED)
    assert (second.starts, second.clean, second.failed) == (day(95), None, 270)


def test_a_place_changed_before_it_failed_ends_without_a_failure() -> None:
    first, second = lives_of(PLACE, [check(14)], [day(20)])
    assert (first.clean, first.ended, first.ended_day, first.ended_why) == (14, Ended.OTHER, 20, PUT_RIGHT)
    assert (second.starts, second.ended) == (day(20), Ended.OPEN)


def test_looks_on_the_day_of_a_remedy_belong_to_the_life_before() -> None:
    first, second = lives_of(PLACE, [check(60, Seen.FAILED)], [day(60)])
    assert (first.failed, second.failed, second.ended) == (60, None, Ended.OPEN)


def test_what_the_handover_look_finds_is_rework_and_the_life_starts_when_put_right() -> None:
    handover = check(2, Seen.FAILED, handover=True)
    life = only(PLACE, handover, check(16), remedied=(day(3),))
    assert (life.number, life.starts, life.clean, life.failed) == (1, day(3), 13, None)


def test_rework_on_the_very_day_the_panel_was_finished_is_no_failure() -> None:
    life = only(PLACE, check(0, Seen.FAILED, handover=True), check(14), remedied=(day(0),))
    assert (life.starts, life.clean, life.failed, life.ended) == (DAY0, 14, None, Ended.OPEN)


def test_a_defect_left_at_handover_says_nothing_about_how_long_the_place_held() -> None:
    life = only(PLACE, check(2, Seen.FAILED, handover=True, defect=4), check(14, Seen.FAILED))
    assert (life.clean, life.failed, life.all_failed) == (None, None, None)
    assert (life.ended, life.ended_why, life.defect) == (Ended.OTHER, AT_HANDOVER, 4)


def test_a_place_added_later_enters_at_that_age() -> None:
    life = only(Watched(DAY0, added=day(14)), check(14), check(91, Seen.FAILED))
    assert (life.entry, life.clean, life.failed) == (14, 14, 91)


def test_E71_a_lift_found_on_a_place_that_was_not_on_record_is_no_failure_of_a_watched_place() -> None:
    place = Watched(DAY0, added=day(14))
    first, second = lives_of(place, [check(14, Seen.FAILED, defect=5), check(91)], [day(15)])
    assert (first.failed, first.all_failed, first.ended) == (None, None, Ended.OTHER)
    assert (first.ended_why, first.defect) == (BEFORE_RECORD, 5)
    assert (second.entry, second.clean) == (0, 76)


def test_a_life_that_was_over_before_the_place_came_under_record_is_left_out() -> None:
    life = only(Watched(DAY0, added=day(200)), check(250), remedied=(day(100),))
    assert (life.number, life.starts, life.entry, life.clean) == (1, day(100), 100, 150)


def test_a_failure_on_the_first_day_counts_as_found_on_day_one() -> None:
    assert only(PLACE, came_back(0)).all_failed == 1


# --- properties

AGES = st.integers(0, 30)
LOOKS = st.lists(
    st.builds(
        Look,
        AGES.map(day),
        st.sampled_from(Seen),
        planned=st.booleans(),
        since=st.none() | AGES.map(day),
        defect=st.integers(1, 5),
    ),
    max_size=7,
)
PLACES = st.builds(
    Watched,
    st.just(DAY0),
    added=st.none() | AGES.map(day),
    gone=st.none() | AGES.map(day),
    gone_why=st.just("replaced"),
    planned=st.just(()),
)
REMEDIES = st.lists(AGES.map(day), max_size=3)


@given(place=PLACES, looks=LOOKS, remedied=REMEDIES, shuffle=st.randoms())
def test_the_order_in_which_visits_were_entered_does_not_matter(
    place: Watched, looks: list[Look], remedied: list[date], shuffle: object
) -> None:
    before = lives_of(place, looks, remedied)
    shuffle.shuffle(looks)  # type: ignore[attr-defined]
    shuffle.shuffle(remedied)  # type: ignore[attr-defined]
    assert lives_of(place, looks, remedied) == before


@given(place=PLACES, looks=LOOKS, remedied=REMEDIES)
def test_every_life_can_be_computed_with(place: Watched, looks: list[Look], remedied: list[date]) -> None:
    lives = lives_of(place, looks, remedied)
    assert [life.number for life in lives] == list(range(1, len(lives) + 1))
    for life in lives:
        for clean, failed in ((life.clean, life.failed), (life.all_clean, life.all_failed)):
            assert clean is None or clean >= life.entry
            assert failed is None or failed > (life.entry if clean is None else clean)
        assert (life.all_failed is not None) is (life.ended is Ended.FAILED)
        assert life.failed is None or life.all_failed is not None
    for earlier, later in pairwise(lives):
        assert earlier.ended is not Ended.OPEN
        assert earlier.ended_day is not None
        assert earlier.starts + timedelta(days=earlier.ended_day) <= later.starts


@given(place=PLACES, looks=LOOKS, remedied=REMEDIES, extra=AGES)
def test_a_look_that_saw_nothing_changes_nothing(
    place: Watched, looks: list[Look], remedied: list[date], extra: int
) -> None:
    more = [*looks, Look(day(extra), Seen.NOTHING, planned=True)]
    assert lives_of(place, more, remedied) == lives_of(place, looks, remedied)


@given(place=PLACES, looks=LOOKS, remedied=REMEDIES)
def test_seeing_the_same_twice_on_one_day_changes_nothing(
    place: Watched, looks: list[Look], remedied: list[date]
) -> None:
    assert lives_of(place, looks + looks, remedied) == lives_of(place, looks, remedied)


@given(place=PLACES, looks=LOOKS, remedied=REMEDIES, shift=st.integers(-400, 400))
def test_lives_do_not_depend_on_the_calendar(
    place: Watched, looks: list[Look], remedied: list[date], shift: int
) -> None:
    def moved(when: date | None) -> date | None:
        return None if when is None else when + timedelta(days=shift)

    later = replace(place, finished=moved(place.finished), added=moved(place.added), gone=moved(place.gone))
    seen = [replace(look, on=moved(look.on), since=moved(look.since)) for look in looks]  # type: ignore[arg-type]
    put_right = [when + timedelta(days=shift) for when in remedied]
    expected = [replace(life, starts=moved(life.starts)) for life in lives_of(place, looks, remedied)]  # type: ignore[arg-type]
    assert list(lives_of(later, seen, put_right)) == expected


# --- brute force: walk day by day over every tiny history of one place that was never put right


def by_walking(looks: dict[int, tuple[Seen, bool]], last: int) -> tuple[object, ...]:
    """(clean, failed, all clean, all failed or None, ended) by living through each day in turn."""
    clean = failed = all_clean = all_failed = None
    state = "watching"
    for age in range(last + 1):
        seen, planned = looks.get(age, (Seen.NOTHING, False))
        if seen is Seen.NOTHING:
            continue
        if state == "watching":
            if seen is Seen.HELD:
                all_clean = age
                clean = age if planned else clean
            elif seen is Seen.DAMAGED:
                state = "damaged"
            else:
                state, all_failed = "failed", max(age, 1)
        if state == "failed" and failed is None and planned:
            failed = max(age, 1)
    return clean, failed, all_clean, all_failed, state


def histories(days: tuple[int, ...]) -> list[dict[int, tuple[Seen, bool]]]:
    each = [(seen, planned) for seen in Seen for planned in (True, False)]
    return [dict(zip(days, looks, strict=True)) for looks in product(each, repeat=len(days))]


@pytest.mark.parametrize("days", [(0, 3, 5), (0, 1, 2), (2, 4, 7, 9)])
def test_every_tiny_history_agrees_with_living_through_it_day_by_day(days: tuple[int, ...]) -> None:
    words = {"watching": Ended.OPEN, "damaged": Ended.OTHER, "failed": Ended.FAILED}
    for history in histories(days):
        looks = [Look(day(age), seen, planned=planned) for age, (seen, planned) in history.items()]
        life = only(PLACE, *looks)
        clean, failed, all_clean, all_failed, state = by_walking(history, 12)
        assert (life.clean, life.failed, life.all_clean, life.all_failed) == (
            clean,
            failed,
            all_clean,
            all_failed,
        ), history
        assert life.ended is words[str(state)]


@pytest.mark.parametrize("remedy", [3, 4, 6, 11])
def test_a_history_split_by_a_remedy_is_the_two_histories_each_by_itself(remedy: int) -> None:
    """What was seen up to the remedy makes the first life, what was seen after it the second."""
    for history in histories((2, 4, 7, 9)):
        looks = [Look(day(age), seen, planned=planned) for age, (seen, planned) in history.items()]
        lives = lives_of(PLACE, looks, [day(remedy)])
        clean, failed, all_clean, all_failed, _ = by_walking(
            {age - remedy: said for age, said in history.items() if age > remedy}, 12
        )
        second = lives[1]
        assert (second.clean, second.failed, second.all_clean, second.all_failed) == (
            clean,
            failed,
            all_clean,
            all_failed,
        )
        before = {age: said for age, said in history.items() if age <= remedy}
        clean, _, all_clean, all_failed, _ = by_walking(before, 12)
        assert (lives[0].clean, lives[0].all_clean, lives[0].all_failed) == (clean, all_clean, all_failed)
