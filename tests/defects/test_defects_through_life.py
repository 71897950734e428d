"""Defects from the first sighting to the remedy and back again. Common practice, no source."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from shopwarranty.defects import actions
from shopwarranty.defects.actions import How, PlaceSaid, SightSaid, refusals
from shopwarranty.defects.models import Defect, Life, Remedy, ShopDefectKind, Sighting
from shopwarranty.inspections.actions import start_visit
from shopwarranty.inspections.models import Finding, Visit
from shopwarranty.jobs.actions import FilmChoice
from shopwarranty.jobs.actions.refusals import ReasonForFilm
from shopwarranty.jobs.models import FilmPiece, Place
from shopwarranty.shops.history import Actor
from tests import builders as b

LIFT = SightSaid("edge-lift", 2, extent_mm=14)


@pytest.fixture
def hand(ours: Any) -> Actor:
    return Actor.of(ours.installer)


@pytest.fixture
def job(ours: Any) -> Any:
    return b.a_job(handed_over_on=b.days_ago(100))


def open_visit(job: Any, hand: Actor, on: date = b.TODAY, **more: Any) -> Visit:
    values = {"origin": Visit.Origin.PLANNED, **more}
    return start_visit(job=job, actor=hand, now=b.noon(on), today=on, **values)


def say(visit: Visit, hand: Actor, key: str, *sights: SightSaid, result: str = "") -> Finding | None:
    said = PlaceSaid(b.a_place(visit.job, key), result or ("defect" if sights else "clean"), sights=sights)
    return actions.say_place(visit=visit, said=said, actor=hand, now=b.noon(visit.happened_on))


def found(
    job: Any, hand: Actor, *sights: SightSaid, on: date = b.TODAY, key: str = "window", **more: Any
) -> Defect:
    """The last defect seen at one place in a visit that looked at everything."""
    visit = open_visit(job, hand, on, **more)
    say(visit, hand, key, *(sights or (LIFT,)))
    work = b.a_place(job, key).piece.panel_work
    actions.save_panel(visit=visit, panel_work=work, said=(), sweep=True, actor=hand, now=b.noon(on))
    actions.finish_look(visit=visit, actor=hand, now=b.noon(on))
    return Defect.objects.latest("pk")


def remedy(defect: Defect, hand: Actor, kind: str = "reheat", on: date = b.TODAY, **how: Any) -> Remedy:
    return actions.record_remedy(defect=defect, kind=kind, done_on=on, actor=hand, now=b.NOW, how=How(**how))


def test_a_defect_gets_a_number_the_words_of_its_kind_and_the_day_it_was_found(job: Any, hand: Actor) -> None:
    first = found(job, hand, on=b.days_ago(30))
    second = found(job, hand, LIFT, key="bottom")
    assert [first.number, second.number] == ["D0001", "D0002"]
    assert (first.kind_words, first.found_on, first.state, first.cause) == (
        "edge lift",
        b.days_ago(30),
        "open",
        "",
    )


def test_E69_seen_again_while_open_it_is_one_more_sighting_not_a_new_failure(job: Any, hand: Actor) -> None:
    found(job, hand, on=b.days_ago(30))
    found(job, hand, origin=Visit.Origin.CLAIM)
    assert (Defect.objects.count(), Sighting.objects.count()) == (1, 2)
    assert Life.objects.filter(ended="failed").count() == 1


def test_E69_the_database_refuses_two_open_defects_of_one_place_and_kind(job: Any, hand: Actor) -> None:
    one = found(job, hand)
    with pytest.raises(IntegrityError), transaction.atomic():
        Defect.objects.create(number="D9", place=one.place, kind=one.kind, kind_words="x", found_on=b.TODAY)


def test_E74_severity_and_size_of_each_visit_stay_so_that_the_trend_can_be_seen(
    job: Any, hand: Actor
) -> None:
    found(job, hand, SightSaid("edge-lift", 1, extent_mm=4), on=b.days_ago(60))
    defect = found(job, hand, SightSaid("edge-lift", 3, extent_mm=19))
    trend = list(defect.sightings.order_by("pk").values_list("severity", "extent_mm"))
    assert trend == [(1, 4), (3, 19)]


def test_E73_several_kinds_at_one_edge_are_several_defects_each_with_its_size(job: Any, hand: Actor) -> None:
    found(job, hand, LIFT, SightSaid("crease", 1, extent_mm=30))
    sizes = dict(Sighting.objects.values_list("defect__kind", "extent_mm"))
    assert sizes == {"edge-lift": 14, "crease": 30}
    assert Finding.objects.filter(result="defect").count() == 1


def test_E68_what_cannot_be_found_again_leaves_the_rate_and_a_second_report_brings_it_back(
    job: Any, hand: Actor
) -> None:
    defect = found(job, hand, on=b.days_ago(30))
    actions.verify(defect=defect, found_again=False, actor=hand, now=b.NOW, why="flat at 20 C")
    assert (defect.state, defect.verified) == ("not_reproduced", False)
    life = Life.objects.get(place=defect.place)
    assert (life.failed_day, life.ended) == (None, "open")
    again = found(job, hand)
    assert (again.pk, again.state, again.verified) == (defect.pk, "open", None)
    life.refresh_from_db()
    assert life.failed_day == 70


def test_somebody_who_finds_it_again_verifies_it(ours: Any, job: Any, hand: Actor) -> None:
    defect = found(job, hand)
    actions.verify(defect=defect, found_again=True, actor=hand, now=b.NOW)
    assert (defect.state, defect.verified, defect.verified_by) == ("open", True, ours.installer)


def test_E70_back_after_the_remedy_it_is_a_new_defect_that_names_the_old_one(job: Any, hand: Actor) -> None:
    first = found(job, hand, on=b.days_ago(60))
    remedy(first, hand, on=b.days_ago(58))
    second = found(job, hand)
    first.refresh_from_db()
    assert (first.state, second.recurrence_of, second.pk == first.pk) == ("remedied", first, False)
    lives = Life.objects.filter(place=first.place).values_list("number", "failed_day", "starts_on")
    assert list(lives) == [(1, 40, b.days_ago(100)), (2, 58, b.days_ago(58))]


def test_E70_on_the_new_film_too_it_names_the_defect_of_the_old_one(job: Any, hand: Actor) -> None:
    first = found(job, hand, on=b.days_ago(60))
    remedy(first, hand, "replace_piece", on=b.days_ago(58), film=FilmChoice(lot=b.a_lot()))
    new_window = Place.objects.get(key="window", piece__ended_on=None)
    visit = open_visit(job, hand)
    said = PlaceSaid(new_window, "defect", sights=(LIFT,))
    actions.say_place(visit=visit, said=said, actor=hand, now=b.NOW)
    actions.finish_look(visit=visit, actor=hand, now=b.NOW)
    assert Defect.objects.get(place=new_window).recurrence_of == first


def test_E21_new_film_on_the_panel_ends_the_old_pieces_and_what_else_was_wrong_there(
    job: Any, hand: Actor
) -> None:
    lift = found(job, hand, on=b.days_ago(60))
    other = found(job, hand, LIFT, key="bottom", on=b.days_ago(60))
    lot = b.a_lot()
    made = remedy(lift, hand, "replace_panel", on=b.days_ago(50), film=FilmChoice(lot=lot))
    old, new = FilmPiece.objects.order_by("pk")
    other.refresh_from_db()
    assert (old.ended_on, old.ended_why, new.replaces, new.lot) == (b.days_ago(50), "replaced", old, lot)
    assert (made.new_piece, other.state) == (new, "ended")
    assert {place.key for place in old.places.all()} == {place.key for place in new.places.all()}
    assert set(Life.objects.filter(place__piece=new).values_list("starts_on", flat=True)) == {b.days_ago(50)}


def test_new_film_from_a_quarantined_lot_asks_for_a_reason(job: Any, hand: Actor) -> None:
    defect = found(job, hand)
    film = FilmChoice(lot=b.a_lot(quarantined_at=b.NOW, quarantine_reason="silver streaks"))
    with pytest.raises(ReasonForFilm):
        remedy(defect, hand, "replace_piece", film=film)
    assert FilmPiece.objects.count() == 1
    assert remedy(defect, hand, "replace_piece", film=film, note="only roll left").new_piece


@pytest.mark.parametrize(
    ("kind", "state", "lives"),
    [("reheat", "remedied", 2), ("clean", "remedied", 1), ("wait", "open", 1), ("refund", "open", 1)],
)
def test_a_remedy_closes_the_defect_and_starts_a_life_only_if_it_does_something_to_the_film(
    job: Any, hand: Actor, kind: str, state: str, lives: int
) -> None:
    defect = found(job, hand, on=b.days_ago(30))
    remedy(defect, hand, kind, on=b.days_ago(29))
    assert (defect.state, Life.objects.filter(place=defect.place).count()) == (state, lives)


def test_what_is_said_about_a_remedy_carries_its_basis_and_the_rest_is_not_recorded(
    job: Any, hand: Actor
) -> None:
    made = remedy(found(job, hand), hand, post_heat_c=95.0)
    assert (made.post_heat_c, made.post_heat_c_basis) == (95.0, "stated")
    assert (made.passes, made.passes_basis, made.minutes) == (None, "", None)


@pytest.mark.parametrize("on", [b.days_ago(31), b.TODAY + timedelta(days=1)])
def test_a_remedy_lies_between_the_find_and_today(job: Any, hand: Actor, on: date) -> None:
    defect = found(job, hand, on=b.days_ago(30))
    with pytest.raises(refusals.OutOfOrder):
        remedy(defect, hand, on=on)


def test_a_defect_already_put_right_is_not_put_right_again(job: Any, hand: Actor) -> None:
    defect = found(job, hand)
    remedy(defect, hand)
    with pytest.raises(refusals.NotOpen):
        remedy(defect, hand)
    with pytest.raises(refusals.UnknownKind):
        remedy(defect, hand, "magic")


def test_E75_the_cause_is_judged_apart_may_stay_unknown_and_changes_no_figure(job: Any, hand: Actor) -> None:
    defect = found(job, hand)
    actions.judge_cause(defect=defect, cause="washing", sure="likely", actor=hand, now=b.NOW)
    assert Life.objects.get(place=defect.place).failed_day == 100
    actions.judge_cause(defect=defect, cause="unknown", sure="certain", actor=hand, now=b.NOW)
    actions.judge_cause(defect=defect, cause="", sure="likely", actor=hand, now=b.NOW)
    defect.refresh_from_db()
    assert (defect.cause, defect.cause_sure, defect.cause_judged_by) == ("", "", None)
    with pytest.raises(refusals.UnknownKind):
        actions.judge_cause(defect=defect, cause="gremlins", sure="likely", actor=hand, now=b.NOW)


def test_what_the_handover_look_finds_is_rework_and_no_failure(job: Any, hand: Actor) -> None:
    fresh = b.a_job(finished_on=b.days_ago(3))
    defect = found(fresh, hand, on=b.days_ago(2), is_handover_look=True)
    remedy(defect, hand, on=b.days_ago(2))
    life = Life.objects.get(place=defect.place)
    assert defect.at_handover
    assert (life.number, life.starts_on, life.failed_day, life.ended) == (1, b.days_ago(2), None, "open")


def test_E71_a_place_found_that_was_not_on_record_is_added_on_that_day(job: Any, hand: Actor) -> None:
    visit = open_visit(job, hand)
    piece = FilmPiece.objects.get()
    with pytest.raises(refusals.NameMissing):
        actions.found_unrecorded(visit=visit, piece=piece, kind="edge", name=" ", actor=hand, now=b.NOW)
    place = actions.found_unrecorded(
        visit=visit, piece=piece, kind="edge", name="Antenna base", actor=hand, now=b.NOW
    )
    assert (place.added_on, place.key) == (b.TODAY, "antenna-base")
    said = PlaceSaid(place, "defect", sights=(LIFT,))
    actions.say_place(visit=visit, said=said, actor=hand, now=b.NOW)
    actions.finish_look(visit=visit, actor=hand, now=b.NOW)
    life = Life.objects.get(place=place)
    assert (life.entry_day, life.failed_day, life.ended_why) == (100, None, "before_record")


def test_E72_a_panel_that_is_not_our_film_is_noted_and_counts_nowhere(job: Any, hand: Actor) -> None:
    visit = open_visit(job, hand)
    for words in ("lifting at the front", "stone chips"):
        actions.note_not_ours(visit=visit, panel="roof", words=words, actor=hand, now=b.NOW)
    actions.finish_look(visit=visit, actor=hand, now=b.NOW)
    visit.refresh_from_db()
    assert visit.note.splitlines() == ["roof: lifting at the front", "roof: stone chips"]
    assert not Defect.objects.exists()


def test_a_slip_of_the_finger_leaves_no_defect_behind(job: Any, hand: Actor) -> None:
    visit = open_visit(job, hand)
    say(visit, hand, "window", LIFT)
    say(visit, hand, "window", SightSaid("corner-lift", 2, extent_mm=8))
    assert list(Defect.objects.values_list("kind", flat=True)) == ["corner-lift"]
    say(visit, hand, "window", result="clean")
    assert not Defect.objects.exists()
    finding = say(visit, hand, "window", LIFT)
    assert finding is not None
    said = PlaceSaid(finding.place, "")
    actions.say_place(visit=visit, said=said, actor=hand, now=b.NOW)
    assert not Finding.objects.filter(visit=visit).exists()


def test_taking_back_a_further_sighting_leaves_the_older_defect(job: Any, hand: Actor) -> None:
    defect = found(job, hand, on=b.days_ago(30))
    visit = open_visit(job, hand)
    say(visit, hand, "window", LIFT)
    say(visit, hand, "window", result="clean")
    assert list(Defect.objects.all()) == [defect]
    assert defect.sightings.count() == 1


def test_once_the_visit_is_finished_its_defects_and_sightings_stand(job: Any, hand: Actor) -> None:
    found(job, hand)
    for rows in (Defect.objects.all(), Sighting.objects.all()):
        with pytest.raises(IntegrityError), transaction.atomic():
            rows.delete()
    with pytest.raises(IntegrityError), transaction.atomic():
        Sighting.objects.update(severity=1)
    with pytest.raises(IntegrityError), transaction.atomic():
        Defect.objects.update(kind="crease")


def test_a_place_marked_wrong_without_saying_how_keeps_the_visit_open(job: Any, hand: Actor) -> None:
    visit = open_visit(job, hand)
    say(visit, hand, "window", result="defect")
    with pytest.raises(refusals.NotDescribed) as refusal:
        actions.finish_look(visit=visit, actor=hand, now=b.NOW)
    assert [place.key for place in refusal.value.places] == ["window"]
    visit.refresh_from_db()
    assert visit.state == "open"


@pytest.mark.parametrize(("kind", "severity"), [("gremlins", 2), ("edge-lift", 0), ("edge-lift", 5)])
def test_an_unknown_kind_or_a_severity_that_is_none_is_refused(
    job: Any, hand: Actor, kind: str, severity: int
) -> None:
    visit = open_visit(job, hand)
    with pytest.raises((refusals.UnknownKind, refusals.NoSeverity)):
        say(visit, hand, "window", SightSaid(kind, severity))
    assert not Defect.objects.exists()


def test_film_over_a_sensor_is_never_less_than_the_gravest(job: Any, hand: Actor) -> None:
    found(job, hand, SightSaid("covered-feature", 1))
    assert Sighting.objects.get().severity == 4


def test_a_finding_corrected_to_clean_takes_its_defect_out_of_the_rate(job: Any, hand: Actor) -> None:
    defect = found(job, hand)
    finding = Finding.objects.get(result="defect")
    said = PlaceSaid(finding.place, "clean")
    actions.correct_place(finding=finding, said=said, why="wrong door", actor=hand, now=b.NOW)
    defect.refresh_from_db()
    life = Life.objects.get(place=defect.place)
    assert (defect.state, life.clean_day, life.failed_day) == ("not_reproduced", 100, None)


def test_a_finding_corrected_to_wrong_says_what_is_wrong(job: Any, hand: Actor) -> None:
    found(job, hand, LIFT, key="bottom")
    finding = Finding.objects.get(place__key="window")
    said = PlaceSaid(finding.place, "defect", sights=(LIFT,))
    actions.correct_place(finding=finding, said=said, why="overlooked", actor=hand, now=b.NOW)
    assert Life.objects.get(place=finding.place).failed_day == 100


def test_a_kind_the_shop_added_is_offered_counted_and_can_stop_counting(job: Any, hand: Actor) -> None:
    kind = actions.add_defect_kind(
        name="Flag",
        graded_by="length",
        is_failure=True,
        place_kinds=["edge"],
        families=[],
        actor=hand,
        now=b.NOW,
    )
    with pytest.raises(refusals.NameTaken):
        actions.add_defect_kind(
            name="edge lift",
            graded_by="length",
            is_failure=True,
            place_kinds=[],
            families=[],
            actor=hand,
            now=b.NOW,
        )
    defect = found(job, hand, SightSaid("flag", 2, extent_mm=5))
    assert defect.kind_words == "Flag"
    assert Life.objects.get(place=defect.place).failed_day == 100
    actions.count_as_failure(kind=kind, is_failure=False, actor=hand, now=b.NOW)
    assert Life.objects.get(place=defect.place).failed_day is None
    actions.retire_defect_kind(kind=ShopDefectKind.objects.get(), actor=hand, now=b.NOW)
    with pytest.raises(refusals.UnknownKind):
        found(job, hand, SightSaid("flag", 2), key="bottom")


def test_a_panel_is_saved_as_a_whole_or_not_at_all(job: Any, hand: Actor) -> None:
    visit = open_visit(job, hand)
    window, bottom = b.a_place(job, "window"), b.a_place(job, "bottom")
    said = [
        PlaceSaid(window, "defect", sights=(LIFT,)),
        PlaceSaid(bottom, "defect", sights=(SightSaid("gremlins", 2),)),
    ]
    with pytest.raises(refusals.UnknownKind):
        actions.save_panel(visit=visit, panel_work=window.piece.panel_work, said=said, actor=hand, now=b.NOW)
    assert not Finding.objects.filter(visit=visit).exists()


def test_going_over_a_swept_panel_again_leaves_swept_what_nobody_changed(job: Any, hand: Actor) -> None:
    visit = open_visit(job, hand)
    work = b.a_place(job, "window").piece.panel_work
    actions.save_panel(visit=visit, panel_work=work, said=(), sweep=True, actor=hand, now=b.NOW)
    said = [PlaceSaid(place, "clean") for place in b.places_of(job)]
    actions.save_panel(visit=visit, panel_work=work, said=said, actor=hand, now=b.NOW)
    assert set(Finding.objects.values_list("said", flat=True)) == {"swept"}


def test_what_was_put_right_while_the_look_is_open_stays_one_defect_when_the_panel_is_saved_again(
    ours: Any, hand: Actor
) -> None:
    visit = open_visit(b.a_job(), hand, is_handover_look=True)
    loose = SightSaid("edge-lift", 4, extent_mm=14)
    say(visit, hand, "window", loose)
    remedy(Defect.objects.get(), hand)
    say(visit, hand, "window", loose)
    assert [(defect.state, defect.recurrence_of) for defect in Defect.objects.all()] == [("remedied", None)]
    with pytest.raises(refusals.RemedyThere):
        say(visit, hand, "window")
    assert Sighting.objects.count() == 1
    assert Finding.objects.get().result == "defect"


def over_days(ours: Any, hand: Actor) -> tuple[Any, Visit]:
    """A handover look begun two days ago, with an edge seen wrong then."""
    job = b.a_job(finished_on=b.days_ago(3))
    began = b.days_ago(2)
    look = start_visit(
        job=job, origin="planned", is_handover_look=True, actor=hand, now=b.noon(began), today=began
    )
    said = PlaceSaid(b.a_place(job, "window"), "defect", sights=(LIFT,))
    actions.say_place(visit=look, said=said, actor=hand, now=b.noon(began))
    return job, look


def test_a_handover_look_over_several_days_is_of_the_day_it_ends_and_each_place_of_its_own(
    ours: Any, hand: Actor
) -> None:
    """Rework found and put right on the first day, the rest looked at on the third: each from its day."""
    job, look = over_days(ours, hand)
    began = b.days_ago(2)
    defect = Defect.objects.get()
    actions.record_remedy(defect=defect, kind="reheat", done_on=began, actor=hand, now=b.noon(began))
    work = b.a_place(job, "window").piece.panel_work
    actions.save_panel(visit=look, panel_work=work, said=(), sweep=True, actor=hand, now=b.NOW)
    late = PlaceSaid(b.a_place(job, "bottom"), "defect", sights=(LIFT,))
    actions.say_place(visit=look, said=late, actor=hand, now=b.NOW)
    actions.finish_look(visit=look, actor=hand, now=b.NOW)
    look.refresh_from_db()
    assert look.happened_on == b.TODAY
    assert Defect.objects.latest("pk").found_on == b.TODAY
    life = Life.objects.get(place__key="window")
    assert (life.starts_on, life.ended) == (began, "open")


def test_a_handover_look_typed_in_late_keeps_its_day(ours: Any, hand: Actor) -> None:
    job, on = b.a_job(finished_on=b.days_ago(3)), b.days_ago(2)
    look = start_visit(
        job=job,
        origin="planned",
        is_handover_look=True,
        happened_on=on,
        actor=hand,
        now=b.NOW,
        today=b.TODAY,
    )
    actions.finish_look(visit=look, actor=hand, now=b.NOW)
    look.refresh_from_db()
    assert look.happened_on == on


def test_what_fails_again_within_the_same_look_is_a_new_defect_and_its_first_remedy_starts_no_life(
    ours: Any, hand: Actor
) -> None:
    job, look = over_days(ours, hand)
    began, first = b.days_ago(2), Defect.objects.get()
    actions.record_remedy(defect=first, kind="reheat", done_on=began, actor=hand, now=b.noon(began))
    second = actions.fails_again(defect=first, severity=3, actor=hand, now=b.noon(b.days_ago(1)))
    assert (second.recurrence_of, second.state, second.at_handover) == (first, "open", True)
    again = PlaceSaid(b.a_place(job, "window"), "defect", sights=(LIFT,))
    actions.say_place(visit=look, said=again, actor=hand, now=b.NOW)
    assert Defect.objects.count() == 2
    actions.record_remedy(defect=second, kind="reheat", done_on=b.TODAY, actor=hand, now=b.NOW)
    actions.finish_look(visit=look, actor=hand, now=b.NOW)
    life = Life.objects.get(place__key="window")
    assert (life.starts_on, life.number) == (b.TODAY, 1)


def test_after_the_look_a_remedied_defect_fails_again_only_at_the_next_visit(job: Any, hand: Actor) -> None:
    defect = found(job, hand)
    remedy(defect, hand)
    with pytest.raises(refusals.NotOpen):
        actions.fails_again(defect=defect, severity=2, actor=hand, now=b.NOW)


def test_a_finding_that_was_wrong_is_corrected_after_a_remedy_and_the_remedy_stays(
    job: Any, hand: Actor
) -> None:
    """The place never failed; that somebody heated it that day starts a life as any remedy does."""
    defect = found(job, hand, on=b.days_ago(30))
    remedy(defect, hand, on=b.days_ago(29))
    finding = Finding.objects.get(result="defect")
    clean = PlaceSaid(finding.place, "clean")
    actions.correct_place(finding=finding, said=clean, why="wrong place", actor=hand, now=b.NOW)
    defect.refresh_from_db()
    assert (defect.state, defect.verified) == ("remedied", False)
    assert Remedy.objects.get().defect == defect
    lives = Life.objects.filter(place=finding.place).order_by("number")
    assert [(life.ended, life.ended_why) for life in lives] == [("other", "put_right"), ("open", "")]


def test_a_corrected_severity_stays_with_the_defect_that_was_put_right(job: Any, hand: Actor) -> None:
    defect = found(job, hand, on=b.days_ago(30))
    remedy(defect, hand, on=b.days_ago(29))
    finding = Finding.objects.get(result="defect")
    worse = PlaceSaid(finding.place, "defect", sights=(SightSaid("edge-lift", 4, extent_mm=40),))
    actions.correct_place(finding=finding, said=worse, why="it was 40 mm", actor=hand, now=b.NOW)
    assert Defect.objects.get() == defect
    assert defect.sightings.order_by("-pk")[0].severity == 4


def test_the_line_about_film_that_is_not_ours_survives_a_note_typed_before_it(job: Any, hand: Actor) -> None:
    visit = open_visit(job, hand)
    actions.note_not_ours(visit=visit, panel="roof", words="someone else's film", actor=hand, now=b.NOW)
    stale = Visit.objects.get(pk=visit.pk)
    actions.finish_look(visit=stale, actor=hand, now=b.NOW, note="Washed two days before.")
    visit.refresh_from_db()
    assert visit.note == "Washed two days before.\nroof: someone else's film"
