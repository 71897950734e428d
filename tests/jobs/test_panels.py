"""Panels of a job from start to finish, corrections after handover, film, pieces and layers."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest

from shopwarranty.films.actions import quarantine
from shopwarranty.films.models import Cut, FilmProduct, Lot, Roll
from shopwarranty.jobs import actions
from shopwarranty.jobs.models import FilmPiece, Job, PanelWork, Place, ShopPanel, ShopPlace
from shopwarranty.jobs.record import load_record
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.jobs.technique_rows import Said
from shopwarranty.shops.models import Change
from tests.conftest import NOW

from .conftest import Bench

PlaceOf = Callable[[Job, str, str], Place]
PanelOf = Callable[[Job, str], PanelWork]


def handed_over(job: Job) -> Job:
    Job.objects.filter(pk=job.pk).update(
        state=Job.State.HANDED_OVER, handed_over_at=NOW, handed_over_on=NOW.date()
    )
    job.refresh_from_db()
    return job


def piece_of(job: Job) -> FilmPiece:
    return FilmPiece.objects.get(panel_work__job=job)


def test_a_panel_is_part_of_a_job_once(bench: Bench) -> None:
    job = bench.front(("bonnet",))
    with pytest.raises(actions.PanelThere):
        actions.start_panels(
            job=job, panels=["roof", "bonnet"], catalogue=bench.catalogue, actor=bench.actor, now=NOW
        )
    assert job.panels.count() == 1


def test_the_day_of_a_panel_is_the_shops_day(bench: Bench, panel_of: PanelOf) -> None:
    job = bench.front(("bonnet",), started_at=datetime(2026, 11, 24, 20, tzinfo=UTC))
    late = datetime(2026, 11, 25, 3, 30, tzinfo=UTC)  # 22:30 the day before in New York
    actions.finish_panel(panel_work=panel_of(job, "bonnet"), finished_at=late, actor=bench.actor, now=NOW)
    assert load_record(job).panels[0].finished_on == date(2026, 11, 24)


def test_nothing_is_finished_in_the_future(bench: Bench, panel_of: PanelOf) -> None:
    job = bench.front(("bonnet",))
    with pytest.raises(actions.InTheFuture):
        actions.finish_panel(
            panel_work=panel_of(job, "bonnet"),
            finished_at=NOW + timedelta(minutes=1),
            actor=bench.actor,
            now=NOW,
        )


def test_a_panel_is_opened_again_only_with_a_reason(bench: Bench, panel_of: PanelOf) -> None:
    job = bench.front(("bonnet",))
    panel = actions.finish_panel(panel_work=panel_of(job, "bonnet"), actor=bench.actor, now=NOW)
    with pytest.raises(actions.ReasonForCorrection):
        actions.reopen_panel(panel_work=panel, reason="", actor=bench.actor, now=NOW)
    actions.reopen_panel(panel_work=panel, reason="edge re-cut", actor=bench.actor, now=NOW)
    assert panel_of(job, "bonnet").finished_at is None
    assert Change.objects.get(act="panel opened again").why == "edge re-cut"


def test_a_panel_opened_again_after_handover_keeps_the_day_its_checks_count_from(
    bench: Bench, panel_of: PanelOf
) -> None:
    job, before = bench.front(("bonnet",)), NOW - timedelta(days=30)
    panel = panel_of(job, "bonnet")
    actions.finish_panel(panel_work=panel, finished_at=before, actor=bench.actor, now=NOW)
    handed_over_at = NOW - timedelta(days=29)
    Job.objects.filter(pk=job.pk).update(
        state="handed_over", handed_over_at=handed_over_at, handed_over_on=handed_over_at.date()
    )
    for _ in range(2):
        actions.reopen_panel(panel_work=panel, reason="a value was wrong", actor=bench.actor, now=NOW)
        actions.finish_panel(panel_work=panel, actor=bench.actor, now=NOW)
        assert panel_of(job, "bonnet").finished_at == before
    actions.reopen_panel(panel_work=panel, reason="the day was wrong", actor=bench.actor, now=NOW)
    typed = before + timedelta(hours=2)
    actions.finish_panel(panel_work=panel, finished_at=typed, actor=bench.actor, now=NOW)
    assert panel_of(job, "bonnet").finished_at == typed


def test_a_panel_started_by_mistake_goes_out_but_not_once_something_is_recorded(
    bench: Bench, panel_of: PanelOf, place_of: PlaceOf
) -> None:
    job = bench.front(("bonnet", "roof"))
    actions.drop_panel(panel_work=panel_of(job, "roof"), actor=bench.actor, now=NOW)
    actions.record_deviation(
        place=place_of(job, "bonnet", "left"),
        field="passes",
        actual=4,
        reason="",
        actor=bench.actor,
        now=NOW,
    )
    with pytest.raises(actions.PanelNotEmpty):
        actions.drop_panel(panel_work=panel_of(job, "bonnet"), actor=bench.actor, now=NOW)
    assert [row.panel for row in job.panels.all()] == ["bonnet"]


def test_e42_after_handover_a_finished_panel_changes_only_with_a_reason(
    bench: Bench, panel_of: PanelOf, place_of: PlaceOf
) -> None:
    job = bench.front(("bonnet",))
    actions.confirm_panel(panel_work=panel_of(job, "bonnet"), finished=True, actor=bench.actor, now=NOW)
    handed_over(job)
    place = place_of(job, "bonnet", "left")
    with pytest.raises(actions.ReasonForCorrection):
        actions.set_place_values(place=place, values={"passes": Said(1)}, actor=bench.actor, now=NOW)
    actions.set_place_values(
        place=place, values={"passes": Said(1)}, reason="typed wrong", actor=bench.actor, now=NOW
    )
    assert Change.objects.filter(act="values", why="typed wrong").count() == 1


def test_e40_a_panel_unfinished_at_handover_is_finished_later_without_a_reason(
    bench: Bench, panel_of: PanelOf
) -> None:
    job = bench.front(("bonnet", "roof"))
    actions.confirm_panel(panel_work=panel_of(job, "bonnet"), finished=True, actor=bench.actor, now=NOW)
    handed_over(job)
    week_later = NOW + timedelta(days=7)
    actions.confirm_panel(panel_work=panel_of(job, "roof"), finished=True, actor=bench.actor, now=week_later)
    days = {panel.key: panel.finished_on for panel in load_record(job).panels}
    assert days == {"bonnet": date(2026, 11, 25), "roof": date(2026, 12, 2)}


def test_e39_sessions_have_a_start_and_a_stop_and_each_panel_its_own_day(
    bench: Bench, panel_of: PanelOf
) -> None:
    friday = NOW - timedelta(days=5)
    job = bench.front(("bonnet", "roof"), started_at=friday)
    first = actions.start_session(
        job=job, member=bench.people.installer, started_at=friday, actor=bench.actor, now=NOW
    )
    actions.stop_session(session=first, stopped_at=friday + timedelta(hours=4), actor=bench.actor, now=NOW)
    actions.start_session(job=job, member=bench.people.installer, actor=bench.actor, now=NOW)
    actions.finish_panel(
        panel_work=panel_of(job, "bonnet"),
        finished_at=friday + timedelta(hours=3),
        actor=bench.actor,
        now=NOW,
    )
    actions.finish_panel(panel_work=panel_of(job, "roof"), actor=bench.actor, now=NOW)
    record = load_record(job)
    assert [bool(session.stopped_at) for session in record.sessions] == [True, False]
    assert [panel.finished_on for panel in record.panels] == [date(2026, 11, 20), date(2026, 11, 25)]


def test_e41_a_job_typed_in_days_later_keeps_both_moments(bench: Bench) -> None:
    record = load_record(bench.job(started_at=NOW - timedelta(days=3)))
    assert (record.started_on, record.late_days) == (date(2026, 11, 22), 3)
    with pytest.raises(actions.InTheFuture):
        bench.job(started_at=NOW + timedelta(days=1))


def test_the_same_client_made_id_sent_twice_is_the_same_job_and_reading(bench: Bench) -> None:
    from uuid import uuid4

    uid, second = uuid4(), uuid4()
    jobs = {bench.job(uid=uid).pk for _ in range(2)}
    readings = {
        actions.record_reading(
            job=Job.objects.get(uid=uid),
            conditions=actions.Conditions(air_c=20.0),
            uid=second,
            actor=bench.actor,
            now=NOW,
        ).pk
        for _ in range(2)
    }
    assert (len(jobs), len(readings)) == (1, 1)


def test_e18_a_second_piece_meets_the_first_at_a_seam_and_has_its_own_lot_and_places(bench: Bench) -> None:
    job = bench.front(("bonnet",))
    other = Lot.objects.create(product=bench.roll.product, number="61-0935")
    piece = actions.add_piece(
        panel_work=job.panels.get(),
        film=actions.FilmChoice(lot=other),
        name="inlay",
        catalogue=bench.catalogue,
        actor=bench.actor,
        now=NOW,
    )
    seam = piece.places.get(kind="seam")
    assert (seam.other_piece and seam.other_piece.number, piece.number, piece.product) == (
        1,
        2,
        bench.roll.product,
    )
    panel = load_record(job).panels[0]
    assert [one.lot for one in panel.pieces] == ["61-0934", "61-0935"]
    assert [place.name for place in panel.pieces[1].places if place.kind == "seam"] == ["seam"]


def test_e19_a_second_layer_lies_over_the_first_without_a_seam(bench: Bench) -> None:
    job = bench.front(("bonnet",))
    clear = FilmProduct.objects.create(maker="Alder", name="Top", family="clear-protective")
    piece = actions.add_piece(
        panel_work=job.panels.get(),
        film=actions.FilmChoice(product=clear),
        layer=2,
        catalogue=bench.catalogue,
        actor=bench.actor,
        now=NOW,
    )
    assert not piece.places.filter(kind="seam").exists()
    assert [(one.layer, one.film and one.film.name) for one in load_record(job).panels[0].pieces] == [
        (1, "Clear 8"),
        (2, "Top"),
    ]


def test_e21_a_new_piece_names_the_one_it_replaces_which_ends(bench: Bench) -> None:
    job = bench.front(("bonnet",))
    old = piece_of(job)
    new = actions.add_piece(
        panel_work=job.panels.get(),
        film=actions.FilmChoice(roll=bench.roll),
        replaces=old,
        catalogue=bench.catalogue,
        actor=bench.actor,
        now=NOW,
    )
    old.refresh_from_db()
    assert (old.ended_on, old.ended_why, new.replaces) == (date(2026, 11, 25), "replaced", old)
    assert len(load_record(job).panels[0].places) == 7


def test_e22_a_panel_replaced_after_a_collision_ends_its_film_on_that_day(bench: Bench) -> None:
    job = bench.front(("bonnet",))
    actions.remove_panel(
        panel_work=job.panels.get(), why="collision", on=date(2026, 11, 20), actor=bench.actor, now=NOW
    )
    panel = load_record(job).panels[0]
    assert (panel.removed_why, panel.pieces[0].ended_on, panel.pieces[0].ended_why) == (
        "collision",
        date(2026, 11, 20),
        "panel_replaced",
    )


def test_e26_an_unknown_lot_is_said_with_its_reason_and_is_not_an_unrecorded_one(bench: Bench) -> None:
    job = bench.front(("bonnet",))
    product = bench.roll.product
    film = actions.FilmChoice(product=product, lot_unknown_reason="label_lost")
    actions.set_film(piece=piece_of(job), film=film, actor=bench.actor, now=NOW)
    piece = load_record(job).panels[0].pieces[0]
    assert (piece.lot, piece.lot_unknown_reason, piece.roll) == ("", "label_lost", "")


def test_e27_one_roll_serves_several_jobs_and_names_its_lot_in_each(bench: Bench) -> None:
    for _job in range(2):
        bench.front(("bonnet",))
    assert set(FilmPiece.objects.values_list("roll__label", "lot__number")) == {("R3", "61-0934")}


def test_e27_a_piece_names_the_cut_it_was_made_from(bench: Bench) -> None:
    job = bench.front(("bonnet",))
    cut = Cut.objects.create(roll=bench.roll, kind="piece", along_mm=1320, across_mm=1400, cut_at=NOW)
    actions.set_cut(piece=piece_of(job), cut=cut, actor=bench.actor, now=NOW)
    stored = load_record(job).panels[0].pieces[0].cut
    assert stored is not None
    assert (stored.along_mm, stored.across_mm) == (1320, 1400)


def test_e28_one_panel_from_two_lots_traces_to_both(bench: Bench) -> None:
    job = bench.front(("bonnet",))
    second = Lot.objects.create(product=bench.roll.product, number="61-0999")
    other = Roll.objects.create(product=bench.roll.product, lot=second, label="R4")
    actions.add_piece(
        panel_work=job.panels.get(),
        film=actions.FilmChoice(roll=other),
        catalogue=bench.catalogue,
        actor=bench.actor,
        now=NOW,
    )
    for lot in (bench.roll.lot, second):
        assert Job.objects.filter(panels__pieces__lot=lot).get() == job


def test_e25_film_brought_by_the_owner_is_marked(bench: Bench) -> None:
    job = bench.front(("bonnet",))
    film = actions.FilmChoice(
        product=bench.roll.product, supplied_by_owner=True, lot_unknown_reason="owner_supplied"
    )
    actions.set_film(piece=piece_of(job), film=film, actor=bench.actor, now=NOW)
    assert load_record(job).panels[0].pieces[0].supplied_by_owner


def test_a_quarantined_lot_asks_for_a_reason(bench: Bench) -> None:
    assert bench.roll.lot
    quarantine(lot=bench.roll.lot, reason="maker's letter", actor=bench.actor, now=NOW)
    roll = Roll.objects.select_related("lot", "product").get(pk=bench.roll.pk)
    job, film = bench.job(), actions.FilmChoice(roll=roll)
    start = {"job": job, "panels": ["roof"], "catalogue": bench.catalogue, "film": film, "now": NOW}
    with pytest.raises(actions.ReasonForFilm):
        actions.start_panels(**start, actor=bench.actor)  # type: ignore[arg-type]
    actions.start_panels(**start, actor=bench.actor, reason="holder knows")  # type: ignore[arg-type]
    assert load_record(job).panels[0].pieces[0].lot_quarantined


def test_e23_and_e24_the_intake_says_what_lies_below_and_when_it_was_painted(bench: Bench) -> None:
    panel = bench.front(("bonnet",)).panels.get()
    actions.record_intake(panel_work=panel, substrate="film", marks="chip, 3 mm", actor=bench.actor, now=NOW)
    actions.record_intake(
        panel_work=panel,
        substrate="repaint",
        painted_on=date(2026, 11, 1),
        marks="chip, 3 mm",
        acknowledged_by="A. Example",
        actor=bench.actor,
        now=NOW,
    )
    intake = load_record(panel.job).panels[0].intake
    assert intake is not None
    assert (intake.substrate, intake.painted_on, intake.acknowledged_at) == (
        "repaint",
        date(2026, 11, 1),
        NOW,
    )
    assert Change.objects.get(act="intake corrected").before == {"substrate": "film", "painted_on": None}


def test_e37_two_installers_on_one_panel_have_one_lead(bench: Bench) -> None:
    panel = bench.front(("bonnet",)).panels.get()
    actions.set_members(
        panel_work=panel,
        lead=bench.people.installer,
        others=[bench.people.owner, bench.people.installer],
        actor=bench.actor,
        now=NOW,
    )
    members = load_record(panel.job).panels[0].members
    assert [(one.name, one.is_lead) for one in members] == [
        ("Installer of kiln", True),
        ("Owner of kiln", False),
    ]


def test_what_came_off_stays_open_until_it_is_settled(bench: Bench) -> None:
    panel = bench.front(("bonnet",)).panels.get()
    item = actions.add_removed_item(panel_work=panel, name="badge", actor=bench.actor, now=NOW)
    assert [one.name for one in load_record(panel.job).open_items] == ["badge"]
    actions.settle_removed_item(item=item, outcome="refitted", actor=bench.actor, now=NOW)
    record = load_record(panel.job)
    assert (record.open_items, record.removed_items[0].outcome) == ((), "refitted")


def test_laying_events_name_their_place(bench: Bench, place_of: PlaceOf) -> None:
    job = bench.front(("bonnet",))
    place = place_of(job, "bonnet", "left")
    event = actions.note_laying_event(
        panel_work=job.panels.get(), kind="laid_again", place=place, actor=bench.actor, now=NOW
    )
    stored = load_record(job).panels[0].laying_events[0]
    assert (stored.kind, stored.place_name) == ("laid_again", "left edge")
    actions.take_back_laying_event(event=event, actor=bench.actor, now=NOW)
    assert load_record(job).panels[0].laying_events == ()


def test_panels_and_places_of_the_shops_own_get_film_and_names(bench: Bench) -> None:
    ShopPanel.objects.create(key="own-step", name="loading step", edges=["front lip", "rear lip"])
    ShopPlace.objects.create(panel="bonnet", key="own-scoop", name="scoop", kind="recess", spot=5)
    bench = Bench(
        bench.people, bench.actor, bench.vehicle, bench.method, bench.roll, ShopCatalogue(bench.people.shop)
    )
    job = bench.front(("own-step", "bonnet"))
    panels = load_record(job).panels
    assert [panel.name for panel in panels] == ["hood", "loading step"]
    assert [place.name for place in panels[1].places] == ["front lip", "rear lip", "surface"]
    assert "scoop" in [place.name for place in panels[0].places]


def test_a_place_found_later_came_under_record_that_day(bench: Bench) -> None:
    job = bench.front(("bonnet",))
    actions.add_place(
        piece=piece_of(job),
        key="own-vent",
        kind="edge",
        name="vent",
        added_on=date(2026, 12, 9),
        actor=bench.actor,
        now=NOW,
    )
    last = load_record(job).panels[0].places[-1]
    assert (last.name, last.added_on) == ("vent", date(2026, 12, 9))


def test_a_reading_typed_wrong_is_corrected_with_its_history(bench: Bench) -> None:
    job = bench.job()
    reading = actions.record_reading(
        job=job, conditions=actions.Conditions(air_c=95.0), actor=bench.actor, now=NOW
    )
    actions.correct_reading(
        reading=reading,
        conditions=actions.Conditions(air_c=20.0),
        at=NOW,
        version=1,
        actor=bench.actor,
        now=NOW,
    )
    with pytest.raises(actions.StaleSave):
        actions.correct_reading(
            reading=reading,
            conditions=actions.Conditions(air_c=21.0),
            at=NOW,
            version=1,
            actor=bench.actor,
            now=NOW,
        )
    assert load_record(job).readings[0].air.value == 20.0
    assert Change.objects.get(act="reading corrected").before["air_c"] == 95.0


def test_a_reading_with_nothing_measured_gives_no_margin(bench: Bench) -> None:
    job = bench.job()
    actions.record_reading(job=job, conditions=actions.Conditions(air_c=20.0), actor=bench.actor, now=NOW)
    assert load_record(job).readings[0].margin is None
