"""What an import makes of its rows, and what it never does."""

from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from django.apps import apps

from shopwarranty.defects.models import Defect, Life
from shopwarranty.desk.flat.checking import Files
from shopwarranty.desk.flat.faults import FilesRefused
from shopwarranty.films.models import FilmProduct, Lot, Roll
from shopwarranty.inspections.models import Check
from shopwarranty.jobs.models import (
    FieldValue,
    FilmPiece,
    Holding,
    Job,
    Method,
    PanelWork,
    Party,
    Place,
    Plate,
    Reading,
    ShopField,
    ShopPanel,
)
from shopwarranty.outbox.models import Message
from shopwarranty.shops.models import Change, Member, Shop
from shopwarranty.shops.rows import ShopOwned
from shopwarranty.shops.scope import every_shop, shop_scope
from shopwarranty.warranty.models import Certificate
from tests import builders
from tests.conftest import NOW, ShopPeople, World

from .flat_files import a_look, a_row, exported, faults_of, files, rows_of, take_in

EXAMPLES = Path(__file__).parents[2] / "fixtures" / "import"


def test_history_writes_to_nobody_issues_nothing_and_makes_nothing_due(world: World, tmp_path: Path) -> None:
    rows = [a_row(handed_over_on="2026-11-20", holder="Ada Example", holder_email="ada@example.com")]
    take_in(files(tmp_path, rows, [a_look(visit_on="2026-11-21")]), world.ours.shop)
    with every_shop():
        assert Message.objects.count() == Certificate.objects.count() == Check.objects.count() == 0


def test_checks_whose_window_is_open_are_planned_when_asked_for_and_none_is_overdue(
    world: World, tmp_path: Path
) -> None:
    rows = [
        a_row(job_ref="new", handed_over_on="2026-11-20", panel_finished_at="2026-11-20"),
        a_row(job_ref="old", handed_over_on="2020-01-10", panel_finished_at="2020-01-10"),
    ]
    outlook = take_in(files(tmp_path, rows), world.ours.shop, with_checks=True)
    with shop_scope(world.ours.shop):
        due = Check.objects.filter(state="due")
        assert {check.job.ref for check in due.select_related("job")} == {"new"}
        assert outlook.checks_planned == due.count() > 0
        assert not due.filter(window_to__lt=NOW.date()).exists()


def test_a_job_says_who_brought_it_from_which_file_and_when(world: World, tmp_path: Path) -> None:
    take_in(files(tmp_path, [a_row()]), world.ours.shop)
    with shop_scope(world.ours.shop):
        job = Job.objects.get()
        change = Change.objects.get(table="jobs_job", row=job.pk)
        assert (job.imported_at, job.state) == (NOW, "handed_over")
        assert (change.act, change.who) == ("job imported", "a test")
        assert (change.after["file"], change.after["line"]) == ("jobs.csv", 2)


def test_the_same_files_twice_change_nothing(world: World) -> None:
    found = example_files()
    first = take_in(found, world.ours.shop)
    before, text = counted(), exported(world.ours.shop)
    again = take_in(found, world.ours.shop)
    assert first.jobs_new == again.jobs_here == 2
    assert again.changes_nothing
    assert (counted(), exported(world.ours.shop)) == (before, text)


def example_files() -> Files:
    return Files(EXAMPLES / "jobs.csv", EXAMPLES / "findings.csv")


def counted() -> dict[str, int]:
    """Rows of every table that belongs to a shop."""
    with every_shop():
        models = [model for model in apps.get_models() if issubclass(model, ShopOwned)]
        return {model.__name__: model.objects.count() for model in models}


@pytest.mark.postgres
def test_findings_may_follow_later_and_later_visits_are_added(world: World, tmp_path: Path) -> None:
    jobs = [a_row(place="all")]
    first = [a_look(visit_on="2025-03-28"), wrong(visit_on="2025-03-28", place="left")]
    second = [wrong(visit_on="2025-06-20", place="left", severity=3, remedy="reheat")]
    take_in(files(tmp_path, jobs), world.ours.shop)
    assert take_in(files(tmp_path, jobs, first), world.ours.shop).visits_new == 1
    outlook = take_in(files(tmp_path, jobs, [*first, *second]), world.ours.shop)
    assert (outlook.visits_new, outlook.visits_here, outlook.defects_new) == (1, 1, 0)
    with shop_scope(world.ours.shop):
        defect = Defect.objects.get()
        assert (defect.state, defect.sightings.count(), defect.remedies.count()) == ("remedied", 2, 1)


def wrong(**more: object) -> dict[str, object]:
    return a_look(**{"result": "defect", "kind": "edge-lift", "severity": 2, **more})


def test_a_visit_before_one_that_is_here_is_refused(world: World, tmp_path: Path) -> None:
    jobs = [a_row()]
    take_in(files(tmp_path, jobs, [a_look(visit_on="2025-06-20")]), world.ours.shop)
    (fault,) = faults_of(files(tmp_path, jobs, [a_look(visit_on="2025-04-01")]), world.ours.shop)
    assert "The job that is here was looked at later, on 2025-06-20." in fault


def test_one_fault_anywhere_and_nothing_is_written(world: World, tmp_path: Path) -> None:
    before = counted()
    rows = [a_row(job_ref=f"P-{n}") for n in range(300)] + [a_row(job_ref="P-last", handed_over_on="soon")]
    with pytest.raises(FilesRefused) as refused:
        take_in(files(tmp_path, rows), world.ours.shop)
    assert refused.value.faults.lines() == [
        "jobs.csv, line 302, column handed_over_on: “soon”: is no day. Write it as 2026-11-25."
    ]
    assert counted() == before


@pytest.mark.postgres
def test_a_fault_found_only_while_writing_takes_everything_back(
    world: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = counted()

    def fails(job_ids: object) -> None:
        raise RuntimeError("out of luck")

    monkeypatch.setattr("shopwarranty.desk.flat.importing.rebuild_lives", fails)
    with pytest.raises(RuntimeError, match="out of luck"):
        take_in(files(tmp_path, [a_row()], [a_look()]), world.ours.shop)
    assert counted() == before


def test_what_a_cell_leaves_open_stays_not_recorded(world: World, tmp_path: Path) -> None:
    take_in(files(tmp_path, [a_row()]), world.ours.shop)
    with shop_scope(world.ours.shop):
        place, panel = Place.objects.get(), PanelWork.objects.get()
        assert (place.post_heated, place.post_heated_basis, place.passes, place.covered_by) == (
            None,
            "",
            None,
            "",
        )
        assert (panel.washed, panel.laid, panel.confirmed_at) == (None, "", None)
        assert (Reading.objects.count(), Holding.objects.count(), Plate.objects.count()) == (0, 0, 0)


def test_values_are_imported_unless_the_file_says_how_they_are_known(world: World, tmp_path: Path) -> None:
    heat = {"post_heated": "yes", "post_heat_temperature_f": 203, "post_heat_temperature_basis": "measured"}
    take_in(files(tmp_path, [a_row(**heat)]), world.ours.shop)
    with shop_scope(world.ours.shop):
        place = Place.objects.get()
        assert (place.post_heated, place.post_heated_basis) == (True, "imported")
        assert (place.post_heat_c, place.post_heat_c_basis, place.post_heat_typed) == (
            95.0,
            "measured",
            "203 F",
        )


def test_people_methods_films_lots_and_rolls_are_added_once_by_name(world: World, tmp_path: Path) -> None:
    more = {"installer": "Ben Sample", "method": "Wet", "method_version": 3, "lot": "L1", "roll": "R1"}
    rows = [a_row(job_ref=f"P-{n}", **more) for n in range(3)]
    outlook = take_in(files(tmp_path, rows), world.ours.shop)
    with shop_scope(world.ours.shop):
        person = Member.objects.get(name="Ben Sample")
        assert (person.user, person.is_installer, person.is_owner) == (None, True, False)
        version = Method.objects.get(name="Wet").versions.get()
        assert (version.number, version.values) == (3, {})
        assert (FilmProduct.objects.count(), Lot.objects.count()) == (1, 1)
        assert Roll.objects.get(lot__number="L1").label == "R1"
    assert outlook.new == {
        "people": ["Ben Sample"],
        "methods": ["Wet"],
        "films": ["Clear 8"],
        "lots": ["L1"],
        "rolls": ["R1"],
    }


def test_members_films_and_methods_that_are_here_are_used(ours: ShopPeople, tmp_path: Path) -> None:
    roll = builders.a_roll()
    rows = [
        {
            "job_ref": "P-1",
            "body_style": "suv",
            "handed_over_on": "2025-03-14",
            "panel": "bonnet",
            "installer": ours.installer.name,
            "roll": roll.label,
            "place": "leading",
        }
    ]
    outlook = take_in(files(tmp_path, rows), ours.shop)
    piece = FilmPiece.objects.get()
    assert outlook.new == {}
    assert (piece.roll, piece.lot, piece.product) == (roll, roll.lot, roll.product)
    assert PanelWork.objects.get().members.get().member == ours.installer


def test_an_own_field_is_made_from_its_long_header_and_known_by_its_short_one(
    ours: ShopPeople, tmp_path: Path
) -> None:
    long = {"field:blade-maker:panel:choice::Blade maker": "Keen Edge", "field:blade-maker:basis": "stated"}
    take_in(files(tmp_path, [a_row(**long)]), ours.shop)
    field = ShopField.objects.get()
    assert (field.name, field.level, field.kind, field.choices) == (
        "Blade maker",
        "panel",
        "choice",
        ["Keen Edge"],
    )
    take_in(files(tmp_path, [a_row(job_ref="P-2", **{"field:blade-maker": "Keen Edge"})]), ours.shop)
    assert list(FieldValue.objects.order_by("pk").values_list("value", "basis")) == [
        ("Keen Edge", "stated"),
        ("Keen Edge", "imported"),
    ]
    (fault,) = faults_of(files(tmp_path, [a_row(job_ref="P-3", **{"field:blade-maker": "Blunt"})]), ours.shop)
    assert fault.endswith("“Blunt”: is none of this field's choices. Write one of: Keen Edge.")


def test_a_panel_of_the_shops_own_is_added_with_its_edges(ours: ShopPeople, tmp_path: Path) -> None:
    own = {"panel": "side-box", "panel_name": "side box", "place_kind": "edge"}
    rows = [
        a_row(**own, place="edge-1", place_name="upper"),
        a_row(**own, place="edge-2", place_name="lower"),
    ]
    take_in(files(tmp_path, rows), ours.shop)
    panel = ShopPanel.objects.get()
    assert (panel.key, panel.name, panel.edges) == ("side-box", "side box", ["upper", "lower"])


def test_all_means_every_place_of_the_panel_that_no_other_row_names(ours: ShopPeople, tmp_path: Path) -> None:
    common = {"post_heated": "yes", "wrap_in_wanted_mm": 8}
    rows = [a_row(place="all", **common), a_row(place="left", post_heated="no", wrap_in_wanted_mm="")]
    take_in(files(tmp_path, rows), ours.shop)
    places = {place.key: place for place in Place.objects.all()}
    assert len(places) == 7  # as the catalogue has them on the bonnet of an SUV
    assert (places["left"].post_heated, places["leading"].post_heated) == (False, True)
    assert places["leading"].wrap_in_wanted_mm == 8
    assert places["field"].wrap_in_wanted_mm is None  # a surface is not wrapped in


def test_vehicles_are_one_by_vin_and_learn_what_they_did_not_know(ours: ShopPeople, tmp_path: Path) -> None:
    vin = "0DEMXWRA1TF000123"  # synthetic: no maker's identifier starts with 0
    here = builders.a_vehicle(vin=vin, vin_kind="vin", colour="", plate="7FN 900")
    rows = [a_row(vin="0demxwra-1tf 000123", colour="grey"), a_row(job_ref="P-2", vin=vin)]
    take_in(files(tmp_path, rows), ours.shop)
    assert {job.vehicle for job in Job.objects.all()} == {here}
    here.refresh_from_db()
    assert here.colour == "grey"
    assert Change.objects.filter(row=here.pk, act="learnt by import").exists()


def test_vehicles_without_a_vin_are_one_by_plate_unless_something_contradicts(
    ours: ShopPeople, tmp_path: Path
) -> None:
    rows = [
        a_row(job_ref="P-1", plate="7fn 512", make="Osk"),
        a_row(job_ref="P-2", plate="7FN512", make=""),
        a_row(job_ref="P-3", plate="7FN 512", make="Vell"),
        a_row(job_ref="P-4", plate="", make="Osk"),
        a_row(job_ref="P-5", plate="", make="", vehicle_first_job="P-4"),
    ]
    take_in(files(tmp_path, rows), ours.shop)
    vehicle = {job.ref: job.vehicle_id for job in Job.objects.all()}
    assert vehicle["P-1"] == vehicle["P-2"]
    assert vehicle["P-4"] == vehicle["P-5"]
    assert len(set(vehicle.values())) == 3
    assert set(Plate.objects.values_list("text", flat=True)) == {"7FN 512"}


def test_plates_and_holders_follow_one_another_whatever_the_order_of_the_jobs(
    ours: ShopPeople, tmp_path: Path
) -> None:
    vin = {"vin": "0DEMXWRA1TF000123"}
    rows = [
        a_row(job_ref="B", started_at="2025-06-02", plate="NEW 2", holder="Ben Sample", **vin),
        a_row(job_ref="A", started_at="2024-01-05", plate="OLD 1", holder="Ada Example", **vin),
        a_row(job_ref="C", started_at="2025-09-01", plate="NEW 2", holder="Ben Sample", **vin),
    ]
    take_in(files(tmp_path, rows), ours.shop)
    plates = Plate.objects.order_by("since").values_list("text", "since", "until")
    assert list(plates) == [
        ("OLD 1", date(2024, 1, 5), date(2025, 6, 2)),
        ("NEW 2", date(2025, 6, 2), None),
    ]
    held = Holding.objects.order_by("since").values_list("party__name", "role", "until")
    assert list(held) == [("Ada Example", "holder", date(2025, 6, 2)), ("Ben Sample", "holder", None)]


def test_a_holder_is_one_person_where_mail_or_telephone_tell_and_else_within_a_vehicle(
    ours: ShopPeople, tmp_path: Path
) -> None:
    mail = {"holder": "Fleet Sample Ltd", "holder_email": "fleet@example.com"}
    rows = [
        a_row(job_ref="P-1", **mail),
        a_row(job_ref="P-2", **mail),
        a_row(job_ref="P-3", holder="Ada Example", plate="7FN 1"),
        a_row(job_ref="P-4", holder="Ada Example", plate="7FN 2"),
        a_row(job_ref="P-5", holder="Ada Example", plate="7FN 1"),
    ]
    take_in(files(tmp_path, rows), ours.shop)
    names = sorted(Party.objects.values_list("name", flat=True))
    assert names == ["Ada Example", "Ada Example", "Fleet Sample Ltd"]
    assert Holding.objects.count() == 4


def test_readings_are_tied_to_their_panel_and_said_as_they_were_typed(
    ours: ShopPeople, tmp_path: Path
) -> None:
    rows = [a_row(air_f=68, surface_f=70, humidity_percent=46, measured_at="2025-03-13T09:00-04:00")]
    take_in(files(tmp_path, rows), ours.shop)
    reading = Reading.objects.get()
    assert reading.panel_work == PanelWork.objects.get()
    assert (reading.air_c, reading.air_typed, reading.humidity) == (20.0, "68 F", 46.0)
    assert reading.at == datetime(2025, 3, 13, 13, 0, tzinfo=UTC)


def test_a_piece_may_take_the_place_of_one_of_a_job_that_comes_later_in_the_file(
    ours: ShopPeople, tmp_path: Path
) -> None:
    gone = {"piece_ended_on": "2025-03-13", "piece_ended_why": "replaced"}
    rows = [
        a_row(job_ref="A-again", vehicle_first_job="A-again", replaces_piece=1, replaces_job="Z-first"),
        a_row(job_ref="Z-first", vehicle_first_job="A-again", **gone),
    ]
    take_in(files(tmp_path, rows), ours.shop)
    again = FilmPiece.objects.get(panel_work__job__ref="A-again")
    assert again.replaces is not None
    assert again.replaces.panel_work.job.ref == "Z-first"


def test_another_shop_sees_and_lends_nothing(world: World, tmp_path: Path) -> None:
    with shop_scope(world.theirs.shop):
        builders.a_vehicle(vin="0DEMXWRA1TF000123", vin_kind="vin")
        builders.a_product(maker="Hollow Lake Films", name="Clear 8")
        builders.a_job(ref="P-1")
    before = exported(world.theirs.shop)
    outlook = take_in(files(tmp_path, [a_row(vin="0DEMXWRA1TF000123")]), world.ours.shop)
    assert (outlook.jobs_new, outlook.new["films"]) == (1, ["Clear 8"])
    assert exported(world.theirs.shop) == before


def test_a_doubtful_vin_and_a_likely_other_unit_are_told_and_taken_in(
    ours: ShopPeople, tmp_path: Path
) -> None:
    # check digit computed 3, found 9: the table of must-warn numbers in the facts about VINs
    rows = [a_row(vin="0DEMXWRA9TF000124", post_heat_temperature_c=203)]
    outlook = take_in(files(tmp_path, rows), ours.shop)
    assert outlook.notes == [
        "Line 2: The check digit of this VIN does not agree.",
        "Line 2: post_heat_temperature_c: is 203 C what was read? Look again: C or F?",
    ]


def test_places_that_came_under_record_later_enter_later(ours: ShopPeople, tmp_path: Path) -> None:
    rows = [a_row(place_added_on="2025-05-01")]
    take_in(files(tmp_path, rows, [a_look(visit_on="2025-06-01")]), ours.shop)
    life = Life.objects.get()
    assert (life.starts_on, life.entry_day, life.clean_day) == (date(2025, 3, 13), 49, 80)


def test_an_own_moment_of_entry_is_kept_and_else_it_is_the_import(ours: ShopPeople, tmp_path: Path) -> None:
    rows = [a_row(), a_row(job_ref="P-2", entered_at="2025-03-20T10:00+00:00")]
    take_in(files(tmp_path, rows), ours.shop)
    assert Job.objects.get(ref="P-1").entered_at == NOW
    assert Job.objects.get(ref="P-2").entered_at == datetime(2025, 3, 20, 10, tzinfo=UTC)


def test_the_examples_hold_what_their_readers_expect(world: World) -> None:
    take_in(example_files(), world.ours.shop)
    jobs, findings = (rows_of(text) for text in exported(world.ours.shop))
    assert (len(jobs), len(findings)) == (13, 22)
    bonnet = jobs[0]
    assert (bonnet["air_c"], bonnet["cut_along_mm"], bonnet["wrap_in_reached_mm"]) == ("20", "1320.8", "7.62")
    assert bonnet["panel_finished_at"] == "2024-05-07T19:20:00+00:00"
    came_back = findings[16]
    assert (came_back["defect_number"], came_back["defect_state"]) == ("2", "open")


def test_a_shop_of_another_zone_counts_bare_days_as_its_own(world: World, tmp_path: Path) -> None:
    shops: list[Shop] = [world.ours.shop, world.theirs.shop]
    noons: list[datetime | None] = []
    for shop in shops:
        take_in(files(tmp_path / shop.slug, [a_row()]), shop)
        with shop_scope(shop):
            noons.append(PanelWork.objects.get().finished_at)
    # noon in New York on a day of summer time, noon in Berlin before its own begins
    assert noons == [datetime(2025, 3, 13, 16, tzinfo=UTC), datetime(2025, 3, 13, 11, tzinfo=UTC)]
