"""Film in stock: what is left is worked out, unusual acts ask for a reason."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.urls import reverse

from shopwarranty.films import actions
from shopwarranty.films.models import Cut, FilmProduct, Roll
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Change
from tests.conftest import NOW, ShopPeople

INCH, FOOT = 25.4, 304.8


@pytest.fixture
def actor(ours: ShopPeople) -> Actor:
    return Actor.of(ours.installer)


@pytest.fixture
def film(actor: Actor) -> FilmProduct:
    values = {"maker": "Alder", "name": "Clear 8", "family": "clear-protective"}
    return actions.add_product(values=values, actor=actor, now=NOW)


def roll_of(film: FilmProduct, actor: Actor, label: str = "R-1", **more: Any) -> Roll:
    values: dict[str, Any] = {
        "lot_number": "61-0934",
        "lot_unknown_reason": "",
        "width_mm": 60 * INCH,
        "length_mm": 60 * FOOT,
    }
    return actions.add_roll(product=film, label=label, actor=actor, now=NOW, **(values | more))


def cut(roll: Roll | None, actor: Actor, off: float, **more: Any) -> Cut:
    size = actions.CutSize(off, 1320.8, off, True)
    return actions.take_cut(roll=roll, kind="piece", size=size, actor=actor, now=more.pop("at", NOW), **more)


def test_what_is_left_is_length_less_cuts(film: FilmProduct, actor: Actor) -> None:
    roll = roll_of(film, actor)
    cut(roll, actor, 43 * INCH)
    cut(roll, actor, 43 * INCH)
    assert actions.left_on(roll) == pytest.approx(60 * FOOT - 2 * 43 * INCH)


def test_e27_a_measurement_counts_from_then_on_and_the_difference_stays_visible(
    film: FilmProduct, actor: Actor
) -> None:
    roll = roll_of(film, actor)
    cut(roll, actor, 1000)
    later = NOW + timedelta(hours=1)
    actions.measure_roll(roll=roll, left_mm=9000, why="measured at stock-taking", actor=actor, now=later)
    cut(roll, actor, 500, at=later + timedelta(hours=1))
    assert actions.left_on(roll) == 8500
    change = Change.objects.get(act="roll measured")
    assert (change.before["left_mm"], change.after["left_mm"]) == (60 * FOOT - 1000, 9000)


def test_e27_a_roll_falling_below_zero_asks_for_a_reason_and_then_goes_on(
    film: FilmProduct, actor: Actor
) -> None:
    roll = roll_of(film, actor, length_mm=1000.0)
    with pytest.raises(actions.ReasonNeeded, match="roll_below_zero"):
        cut(roll, actor, 1200)
    assert Cut.objects.count() == 0
    cut(roll, actor, 1200, reason="the maker's length was short")
    assert actions.left_on(roll) == -200
    assert Change.objects.get(act="roll_below_zero").why == "the maker's length was short"


def test_a_roll_of_unknown_length_has_no_remainder_instead_of_zero(film: FilmProduct, actor: Actor) -> None:
    roll = roll_of(film, actor, length_mm=None)
    cut(roll, actor, 500)
    assert actions.left_on(roll) is None


def test_e29_a_quarantined_lot_asks_whoever_picks_it(film: FilmProduct, actor: Actor) -> None:
    roll = roll_of(film, actor)
    assert roll.lot is not None
    actions.quarantine(lot=roll.lot, reason="maker's notice", actor=actor, now=NOW)
    roll.lot.refresh_from_db()
    with pytest.raises(actions.ReasonNeeded, match="quarantined_lot"):
        cut(roll, actor, 100)
    actions.lift_quarantine(lot=roll.lot, reason="tested, sound", actor=actor, now=NOW)
    roll.lot.refresh_from_db()
    assert cut(roll, actor, 100).pk


def test_e26_a_roll_whose_lot_nobody_can_read_says_why(film: FilmProduct, actor: Actor) -> None:
    roll = roll_of(film, actor, lot_number="", lot_unknown_reason="label torn off")
    assert roll.lot is None and roll.lot_unknown_reason == "label torn off"


def test_labels_and_films_are_not_given_twice(film: FilmProduct, actor: Actor) -> None:
    roll_of(film, actor)
    with pytest.raises(actions.AlreadyThere):
        roll_of(film, actor, label="r-1")
    values = {"maker": "alder", "name": "clear 8", "family": "clear-protective"}
    with pytest.raises(actions.AlreadyThere):
        actions.add_product(values=values, actor=actor, now=NOW)


def test_an_off_cut_is_stock_until_a_piece_comes_out_of_it(film: FilmProduct, actor: Actor) -> None:
    roll = roll_of(film, actor)
    size = actions.CutSize(1320, 200, 0, None)
    kept = actions.take_cut(roll=roll, kind="offcut", size=size, actor=actor, now=NOW)
    actions.take_cut(roll=roll, kind="piece", size=size, actor=actor, now=NOW, from_offcut=kept)
    kept.refresh_from_db()
    assert kept.used_up_at == NOW and actions.left_on(roll) == 60 * FOOT


def url(name: str, ours: ShopPeople, *args: Any) -> str:
    return reverse(name, args=[ours.shop.slug, *args])


def test_a_roll_comes_in_through_the_page_in_inches_and_feet(ours: ShopPeople, film: FilmProduct) -> None:
    client = ours.client(ours.installer)
    form = {
        "product": film.pk,
        "label": "R-7",
        "lot_number": "61-0934",
        "width_mm": "60",
        "length_mm": "60 ft",
    }
    assert client.post(url("new-roll", ours), form).status_code == 302
    roll = Roll.objects.get(label="R-7")
    assert [roll.width_mm, roll.length_mm] == pytest.approx([1524.0, 18288.0])


def test_a_roll_without_a_lot_is_refused_with_what_to_do_and_keeps_what_was_typed(
    ours: ShopPeople, film: FilmProduct
) -> None:
    answer = ours.client(ours.installer).post(url("new-roll", ours), {"product": film.pk, "label": "R-8"})
    assert "say below why it is unknown" in answer.content.decode() and "R-8" in answer.content.decode()
    assert not Roll.objects.exists()


def test_the_planner_shows_both_ways_round_and_takes_the_one_that_was_pressed(
    ours: ShopPeople, film: FilmProduct, actor: Actor
) -> None:
    """Common practice, no source: a door of 50 x 38 in, 1 and 2.5 in more a side, roll 60 in x 60 ft."""
    roll = roll_of(film, actor)
    sizes = {"along_mm": "50", "across_mm": "38", "allowance_along_mm": "1", "allowance_across_mm": "2.5"}
    client = ours.client(ours.installer)
    page = client.get(url("cut-planner", ours, roll.pk), sizes)
    assert {cut.long_side_across: cut.pieces for cut in page.context["plan"].cuts} == {True: 16, False: 13}
    client.post(url("cut-planner", ours, roll.pk), sizes | {"long_side_across": "on", "kind": "piece"})
    taken = Cut.objects.get()
    assert taken.off_roll_mm == pytest.approx(43 * INCH) and taken.across_mm == pytest.approx(52 * INCH)


def test_the_stock_page_asks_the_same_questions_however_much_there_is(
    ours: ShopPeople, film: FilmProduct, actor: Actor, django_assert_max_num_queries: Any
) -> None:
    client = ours.client(ours.desk)
    roll_of(film, actor)
    client.get(url("films", ours))
    with django_assert_max_num_queries(12):
        client.get(url("films", ours))
    for number in range(40):
        roll_of(film, actor, label=f"S-{number}", lot_number=f"L-{number}")
    with django_assert_max_num_queries(12):
        client.get(url("films", ours))


def test_every_page_of_the_room_opens(ours: ShopPeople, film: FilmProduct, actor: Actor) -> None:
    roll = roll_of(film, actor)
    cut(roll, actor, 100)
    client = ours.client(ours.installer)
    pages = [("films", ()), ("new-film", ()), ("film", (film.pk,)), ("new-roll", ()), ("roll", (roll.pk,))]
    for name, args in [
        *pages,
        ("roll-label", (roll.pk,)),
        ("cut-planner", (roll.pk,)),
        ("lot", (roll.lot_id,)),
    ]:
        assert client.get(url(name, ours, *args)).status_code == 200, name


def test_the_planner_says_not_recorded_of_a_roll_whose_length_nobody_knows(
    ours: ShopPeople, film: FilmProduct, actor: Actor
) -> None:
    roll = roll_of(film, actor, length_mm=None)
    sizes = {"along_mm": "50", "across_mm": "38", "allowance_along_mm": "1", "allowance_across_mm": "2.5"}
    text = ours.client(ours.installer).get(url("cut-planner", ours, roll.pk), sizes).content.decode()
    left = text.split("Left on the roll")[1].split("Off-cut")[0]
    assert left.count("not-recorded") == 2


def test_a_roll_opened_and_finished_in_the_evening_carries_the_day_of_the_shop(
    film: FilmProduct, actor: Actor
) -> None:
    roll, evening = roll_of(film, actor), datetime(2026, 11, 26, 1, 0, tzinfo=UTC)  # 20:00 on the 25th
    size = actions.CutSize(1000.0, 900.0, 1000.0)
    actions.take_cut(roll=roll, kind=Cut.Kind.PIECE, size=size, actor=actor, now=evening)
    actions.finish_roll(roll=roll, actor=actor, now=evening)
    roll.refresh_from_db()
    assert (roll.opened_on, roll.finished_on) == (date(2026, 11, 25), date(2026, 11, 25))
