"""The method counts only once a panel is confirmed; what differed is one act and can be taken back."""

from collections.abc import Callable
from datetime import timedelta

import pytest

from shopwarranty.jobs import actions
from shopwarranty.jobs.models import Deviation, FieldValue, Job, PanelWork, Place
from shopwarranty.jobs.record import load_record
from shopwarranty.jobs.technique_rows import Said
from shopwarranty.shops.models import Change
from shopwarranty.trade.technique import ValueRefused
from tests.conftest import NOW

from .conftest import METHOD, Bench

PlaceOf = Callable[[Job, str, str], Place]
PanelOf = Callable[[Job, str], PanelWork]


def confirm(bench: Bench, panel_work: PanelWork, **more: object) -> PanelWork:
    return actions.confirm_panel(panel_work=panel_work, actor=bench.actor, now=NOW, **more)  # type: ignore[arg-type]


def deviate(bench: Bench, place: Place, field: str, actual: object, reason: str = "trim_in_way") -> object:
    return actions.record_deviation(
        place=place,
        field=field,
        actual=actual,  # type: ignore[arg-type]
        reason=reason,
        actor=bench.actor,
        now=NOW,
    )


def test_nothing_is_recorded_of_a_panel_nobody_confirmed(bench: Bench, place_of: PlaceOf) -> None:
    place = place_of(bench.front(), "bonnet", "leading")
    assert (place.post_heated, place.post_heated_basis, place.passes) == (None, "", None)


def test_confirming_fills_in_the_method_by_kind_of_place_and_by_named_place(
    bench: Bench, place_of: PlaceOf, panel_of: PanelOf
) -> None:
    job = bench.front()
    panel = confirm(bench, panel_of(job, "left-front-door"))
    edge, handle = (place_of(job, "left-front-door", key) for key in ("bottom", "handle"))
    surface = place_of(job, "left-front-door", "field")
    assert (edge.post_heated, edge.passes, edge.wrap_in_wanted_mm) == (True, 2, 8.0)
    assert (handle.passes, handle.passes_basis, handle.wrap_in_wanted_mm) == (3, "by_method", None)
    assert surface.post_heated is None
    assert (panel.washed, panel.washed_basis, panel.blown_off) == (True, "by_method", None)
    assert place_of(job, "right-front-door", "bottom").post_heated is None


def test_what_somebody_stated_is_not_overwritten_by_the_method(
    bench: Bench, place_of: PlaceOf, panel_of: PanelOf
) -> None:
    job = bench.front()
    place = place_of(job, "bonnet", "leading")
    deviate(bench, place, "post_heated", False)
    confirm(bench, panel_of(job, "bonnet"))
    place.refresh_from_db()
    assert (place.post_heated, place.post_heated_basis) == (False, "stated")
    assert (place.passes, place.passes_basis) == (2, "by_method")


def test_e36_not_recorded_said_outright_is_neither_no_nor_filled_in(
    bench: Bench, place_of: PlaceOf, panel_of: PanelOf
) -> None:
    job = bench.front()
    place = place_of(job, "bonnet", "leading")
    deviate(bench, place, "post_heated", None, "")
    confirm(bench, panel_of(job, "bonnet"))
    place.refresh_from_db()
    assert (place.post_heated, place.post_heated_basis) == (None, "")
    standing = Deviation.objects.get(place=place)
    assert (standing.usual, standing.actual) == ("yes", "")


def test_a_deviation_keeps_usual_actual_reason_and_member(bench: Bench, place_of: PlaceOf) -> None:
    place = place_of(bench.front(), "left-front-door", "bottom")
    deviate(bench, place, "wrap_in_reached_mm", 2.5, "film_short")
    row = Deviation.objects.get()
    assert (row.field, row.usual, row.actual, row.reason) == ("wrap_in_reached_mm", "8", "2.5", "film_short")
    assert row.member == bench.people.installer


def test_a_second_word_on_the_same_field_replaces_the_first_and_keeps_it_in_the_record(
    bench: Bench, place_of: PlaceOf
) -> None:
    place = place_of(bench.front(), "bonnet", "left")
    deviate(bench, place, "passes", 4)
    deviate(bench, place, "passes", 3, "")
    old, new = Deviation.objects.order_by("pk")
    assert (old.undone_at, old.actual) == (NOW, "4")
    assert (new.undone_at, new.actual, new.reason) == (None, "3", "trim_in_way")


def test_saying_the_usual_value_leaves_no_deviation(bench: Bench, place_of: PlaceOf) -> None:
    place = place_of(bench.front(), "bonnet", "left")
    deviate(bench, place, "passes", 4)
    assert deviate(bench, place, "passes", 2) is None
    assert not Deviation.objects.filter(undone_at__isnull=True).exists()


def test_undoing_brings_the_method_back_where_confirmed_and_nothing_where_not(
    bench: Bench, place_of: PlaceOf, panel_of: PanelOf
) -> None:
    job = bench.front()
    confirm(bench, panel_of(job, "bonnet"))
    for panel, expected in (("bonnet", (True, "by_method")), ("left-wing", (None, ""))):
        place = place_of(job, panel, "top" if panel == "left-wing" else "left")
        deviate(bench, place, "post_heated", False)
        row = Deviation.objects.get(place=place, undone_at__isnull=True)
        actions.undo_deviation(deviation=row, actor=bench.actor, now=NOW)
        place.refresh_from_db()
        assert (place.post_heated, place.post_heated_basis) == expected


def test_as_usual_again_undoes_everything_at_a_place(bench: Bench, place_of: PlaceOf) -> None:
    place = place_of(bench.front(), "bonnet", "left")
    deviate(bench, place, "passes", 4)
    deviate(bench, place, "post_heated", False)
    assert actions.as_usual_again(place=place, actor=bench.actor, now=NOW) == 2
    place.refresh_from_db()
    assert (place.passes, place.post_heated) == (None, None)


def test_where_the_method_is_silent_only_something_done_beyond_it_differs(
    bench: Bench, place_of: PlaceOf
) -> None:
    place = place_of(bench.front(), "bonnet", "left")
    values = {"primer": Said(True), "left_short": Said(False), "post_heat_c": Said(93.0, "measured", "199 F")}
    actions.set_place_values(place=place, values=values, actor=bench.actor, now=NOW)
    assert [row.field for row in Deviation.objects.all()] == ["primer"]
    place.refresh_from_db()
    assert (place.post_heat_c_basis, place.post_heat_typed) == ("measured", "199 F")


def test_a_field_that_makes_no_sense_for_the_kind_of_place_is_refused(
    bench: Bench, place_of: PlaceOf
) -> None:
    job = bench.front()
    with pytest.raises(actions.DoesNotApply):
        deviate(bench, place_of(job, "bonnet", "field"), "wrap_in_reached_mm", 3.0)
    with pytest.raises(ValueRefused):
        deviate(bench, place_of(job, "bonnet", "left"), "passes", -1)


def test_no_method_fits_is_a_path_too(bench: Bench, place_of: PlaceOf, panel_of: PanelOf) -> None:
    job = bench.front(("bonnet",), method_version=None, no_method_reason="chrome film")
    with pytest.raises(actions.NoMethod):
        confirm(bench, panel_of(job, "bonnet"))
    place = place_of(job, "bonnet", "left")
    actions.set_place_values(place=place, values={"post_heated": Said(False)}, actor=bench.actor, now=NOW)
    assert not Deviation.objects.exists()
    assert load_record(job).no_method_reason == "chrome film"


def test_taking_a_confirmation_back_leaves_only_what_was_stated(
    bench: Bench, place_of: PlaceOf, panel_of: PanelOf
) -> None:
    job = bench.front(("bonnet",))
    place = place_of(job, "bonnet", "left")
    deviate(bench, place, "passes", 4)
    panel = confirm(bench, panel_of(job, "bonnet"))
    actions.unconfirm_panel(panel_work=panel, actor=bench.actor, now=NOW)
    place.refresh_from_db()
    panel.refresh_from_db()
    assert (place.passes, place.post_heated, panel.washed, panel.confirmed_at) == (4, None, None, None)


def test_another_method_takes_confirmations_back_and_compares_afresh(
    bench: Bench, place_of: PlaceOf, panel_of: PanelOf
) -> None:
    job = bench.front(("bonnet",))
    left, right = (place_of(job, "bonnet", key) for key in ("left", "right"))
    deviate(bench, left, "passes", 4)
    deviate(bench, right, "passes", 5)
    confirm(bench, panel_of(job, "bonnet"))
    other = actions.write_method_version(
        method=bench.method.method, values={"edge": {"passes": 4}}, actor=bench.actor, now=NOW
    )
    actions.change_method(job=job, method_version=other, actor=bench.actor, now=NOW)
    left.refresh_from_db()
    assert (left.passes, left.post_heated) == (4, None)
    assert panel_of(job, "bonnet").confirmed_at is None
    standing = Deviation.objects.filter(undone_at__isnull=True)
    assert [(row.place, row.usual, row.actual) for row in standing] == [(right, "4", "5")]


def test_values_of_the_job_as_a_whole_are_confirmed_by_themselves(bench: Bench) -> None:
    job = bench.front(("bonnet",))
    actions.set_job_values(
        job=job, values={"dwell_h": Said(24.0)}, reason="holder_wish", actor=bench.actor, now=NOW
    )
    actions.confirm_job(job=job, actor=bench.actor, now=NOW)
    record = load_record(job)
    assert (record.values["dwell_h"].value, record.values["dwell_h"].basis) == (24.0, "stated")
    assert record.values["decontaminated"].basis == "by_method"
    assert [row.field for row in record.deviations] == ["dwell_h"]


def test_confirming_and_finishing_is_one_act_and_twice_is_once(bench: Bench, panel_of: PanelOf) -> None:
    job = bench.front(("bonnet",))
    first = confirm(bench, panel_of(job, "bonnet"), finished=True)
    again = confirm(bench, first, finished=True, finished_at=NOW - timedelta(hours=1))
    assert (first.finished_at, again.finished_at) == (NOW, NOW)
    assert [member.member for member in again.members.all()] == [bench.people.installer]


def test_a_field_of_the_shop_is_filled_in_by_the_method_and_goes_with_it(
    bench: Bench, panel_of: PanelOf
) -> None:
    field = actions.add_shop_field(name="Cut tape", level="panel", kind="yes_no", actor=bench.actor, now=NOW)
    values = {**METHOD, "panel": {**METHOD["panel"], field.key: True}}  # type: ignore[dict-item]
    method = actions.write_method_version(
        method=bench.method.method, values=values, actor=bench.actor, now=NOW
    )
    job = bench.front(("bonnet",), method_version=method)
    panel = confirm(bench, panel_of(job, "bonnet"))
    assert [(own.name, own.value, own.basis) for own in load_record(job).panels[0].own] == [
        ("Cut tape", "yes", "by_method")
    ]
    actions.unconfirm_panel(panel_work=panel, actor=bench.actor, now=NOW)
    assert not FieldValue.objects.exists()


def test_e92_who_saves_second_is_shown_both_values(bench: Bench, place_of: PlaceOf) -> None:
    place = place_of(bench.front(("bonnet",)), "bonnet", "left")
    seen = place.version
    actions.set_place_values(
        place=place, values={"passes": Said(4)}, version=seen, actor=bench.actor, now=NOW
    )
    with pytest.raises(actions.StaleSave) as refused:
        actions.set_place_values(
            place=place, values={"passes": Said(3)}, version=seen, actor=bench.actor, now=NOW
        )
    assert (refused.value.theirs, refused.value.yours) == ({"passes": "4"}, {"passes": "3"})
    place.refresh_from_db()
    assert place.passes == 4


def test_e92_the_same_word_from_both_is_no_conflict(bench: Bench, place_of: PlaceOf) -> None:
    place = place_of(bench.front(("bonnet",)), "bonnet", "left")
    for _member in range(2):
        actions.set_place_values(
            place=place, values={"passes": Said(4)}, version=1, actor=bench.actor, now=NOW
        )
    assert Change.objects.filter(act="values").count() == 1


def test_history_says_what_stood_there_before(bench: Bench, place_of: PlaceOf) -> None:
    place = place_of(bench.front(("bonnet",)), "bonnet", "left")
    deviate(bench, place, "passes", 4)
    deviate(bench, place, "passes", 3, "no_time")
    change = Change.objects.filter(act="values").first()
    assert change is not None
    assert (change.before, change.after, change.why) == ({"passes": "4"}, {"passes": "3"}, "no_time")


def test_e36_each_edge_has_its_own_post_heat_and_one_press_for_the_panel_does_not_level_them(
    bench: Bench, place_of: PlaceOf, panel_of: PanelOf
) -> None:
    job = bench.front(("bonnet",))
    deviate(bench, place_of(job, "bonnet", "left"), "post_heated", False, "film_short")
    confirm(bench, panel_of(job, "bonnet"))
    heated = dict(Place.objects.filter(kind="edge").values_list("key", "post_heated"))
    assert heated.pop("left") is False
    assert set(heated.values()) == {True}
