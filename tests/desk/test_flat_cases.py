"""Awkward cases of the trade, taken in from a file. The case numbers are those of the list of edge cases."""

from datetime import UTC, date, datetime
from pathlib import Path

from shopwarranty.desk.trace import use_of_lot
from shopwarranty.films.models import Lot
from shopwarranty.jobs.models import FilmPiece, Holding, Job, PanelMember, PanelWork, Place, Reading, Vehicle
from tests.conftest import NOW, ShopPeople

from .flat_files import a_row, exported, faults_of, files, rows_of, take_in


def test_e17_a_loose_test_panel_is_a_job_without_a_vin_and_without_a_holder(
    ours: ShopPeople, tmp_path: Path
) -> None:
    rows = [
        a_row(job_kind="test_panel", vehicle_first_job="P-1"),
        a_row(job_ref="P-2", vehicle_first_job="P-1"),
    ]
    take_in(files(tmp_path, rows), ours.shop)
    vehicle = Vehicle.objects.get()
    assert (vehicle.owned, vehicle.vin, vehicle.vin_kind) == ("panel", "", "none")
    assert {job.kind for job in Job.objects.all()} == {"test_panel"}
    assert not Holding.objects.exists()


def test_e18_a_panel_in_two_pieces_has_two_lots_and_the_seam_names_the_piece_it_meets(
    ours: ShopPeople, tmp_path: Path
) -> None:
    rows = [
        a_row(piece=1, lot="L1", place="leading"),
        a_row(piece=2, lot="L2", piece_name="inlay", place="trailing"),
        a_row(piece=2, lot="L2", piece_name="inlay", place="seam", meets_piece=1),
    ]
    take_in(files(tmp_path, rows), ours.shop)
    one, two = FilmPiece.objects.order_by("number")
    seam = Place.objects.get(kind="seam")
    assert [Lot.objects.get(pieces=piece).number for piece in (one, two)] == ["L1", "L2"]
    assert (one.name, two.name) == ("", "inlay")
    assert (seam.piece, seam.other_piece) == (two, one)
    assert PanelWork.objects.count() == 1


def test_e19_two_films_on_one_panel_are_layers_each_with_its_own_product_and_lot(
    ours: ShopPeople, tmp_path: Path
) -> None:
    wrap = {"film": "Chalk Satin", "film_family": "colour-change", "lot": "CS-1"}
    rows = [a_row(piece=1, layer=1, **wrap), a_row(piece=2, layer=2, lot="HL-1")]
    take_in(files(tmp_path, rows), ours.shop)
    layers = FilmPiece.objects.order_by("layer").values_list("layer", "product__family", "lot__number")
    assert list(layers) == [(1, "colour-change", "CS-1"), (2, "clear-protective", "HL-1")]
    assert Place.objects.filter(key="leading").count() == 2


def test_e26_an_unknown_lot_says_why_and_counts_as_possibly_affected(
    ours: ShopPeople, tmp_path: Path
) -> None:
    rows = [
        a_row(lot="L1"),
        a_row(job_ref="P-2", lot="Unknown", lot_unknown_reason="label lost"),
        a_row(job_ref="P-3", lot="", lot_unknown_reason="off-cut without a label"),
        a_row(job_ref="P-4", lot=""),
    ]
    take_in(files(tmp_path, rows), ours.shop)
    said = FilmPiece.objects.order_by("panel_work__job__ref").values_list("lot__number", "lot_unknown_reason")
    assert list(said) == [("L1", ""), (None, "label lost"), (None, "off-cut without a label"), (None, "")]
    use = use_of_lot(Lot.objects.get())
    assert (use.pieces, use.unknown_pieces) == (1, 3)
    written = [(row["lot"], row["lot_unknown_reason"]) for row in rows_of(exported(ours.shop)[0])]
    assert written[1:] == [("unknown", "label lost"), ("unknown", "off-cut without a label"), ("", "")]


def test_e26_an_unknown_lot_without_a_reason_is_refused(ours: ShopPeople, tmp_path: Path) -> None:
    assert faults_of(files(tmp_path, [a_row(lot="unknown", lot_unknown_reason="")]), ours.shop) == [
        "jobs.csv, line 2, column lot_unknown_reason: Why the lot is unknown must be said. "
        "Say it in a few words."
    ]


def test_e28_one_panel_from_two_rolls_traces_to_both_lots(ours: ShopPeople, tmp_path: Path) -> None:
    rows = [a_row(piece=1, lot="L1", roll="R1"), a_row(piece=2, lot="L2", roll="R2", place="left")]
    take_in(files(tmp_path, rows), ours.shop)
    for lot in Lot.objects.all():
        assert use_of_lot(lot).vehicles == 1
        assert lot.rolls.get().label == lot.number.replace("L", "R")


def test_e31_conditions_nobody_measured_stay_unmeasured_and_are_not_copied_from_the_next_panel(
    ours: ShopPeople, tmp_path: Path
) -> None:
    rows = [a_row(air_c=20), a_row(panel="roof", air_c=""), a_row(job_ref="P-2", air_c="")]
    take_in(files(tmp_path, rows), ours.shop)
    assert Reading.objects.get(panel_work__panel="bonnet") == Reading.objects.get()
    written = [row["air_c"] for row in rows_of(exported(ours.shop)[0])]
    assert written == ["20", "", ""]


def test_e37_two_installers_on_one_panel_have_one_lead_so_that_it_counts_once(
    ours: ShopPeople, tmp_path: Path
) -> None:
    rows = [a_row(installer="Ben Sample", other_installers="Cleo Sample: trailing edge | Dan Sample")]
    take_in(files(tmp_path, rows), ours.shop)
    people = PanelMember.objects.values_list("member__name", "is_lead", "part")
    assert list(people) == [
        ("Ben Sample", True, ""),
        ("Cleo Sample", False, "trailing edge"),
        ("Dan Sample", False, ""),
    ]


def test_e41_a_record_typed_days_later_keeps_both_moments(ours: ShopPeople, tmp_path: Path) -> None:
    rows = [a_row(started_at="2025-03-13T08:00-04:00", entered_at="2025-03-17T18:30-04:00")]
    take_in(files(tmp_path, rows), ours.shop)
    job = Job.objects.get()
    assert job.started_at == datetime(2025, 3, 13, 12, tzinfo=UTC)
    assert job.entered_at == datetime(2025, 3, 17, 22, 30, tzinfo=UTC)
    assert (job.imported_at, job.handed_over_on) == (NOW, date(2025, 3, 14))
