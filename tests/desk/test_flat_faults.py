"""Every fault says line, column, what stands there, what is wrong, and what to do about it."""

from collections.abc import Iterable, Sequence
from pathlib import Path

import pytest

from shopwarranty.desk.flat.faults import MOST_SHOWN, Fault, FilesRefused
from shopwarranty.shops.scope import shop_scope
from tests import builders
from tests.conftest import ShopPeople, World

from .flat_files import Row, a_look, a_row, faults_of, files, take_in

VIN = "0DEMXWRA1TF000123"
CREASE = {"result": "defect", "kind": "crease", "severity": 2}

JOB_FAULTS: list[tuple[dict[str, object], str, str]] = [
    ({"job_ref": ""}, "job_ref", "Whose row this is must be said."),
    ({"job_ref": "X" * 41}, "job_ref", "longer than 40 characters."),
    ({"body_style": "sedan"}, "body_style", "is none of the words"),
    ({"body_style": ""}, "body_style", "must be said"),
    ({"handed_over_on": "2031-01-01"}, "handed_over_on", "lies in the future."),
    ({"handed_over_at": "2025-03-18T12:00Z"}, "handed_over_at", "is another day than handed_over_on."),
    ({"handed_over_on": "", "panel_finished_at": ""}, "started_at", "When this was must be said."),
    ({"started_at": "2031-01-01"}, "started_at", "lies in the future."),
    ({"job_state": "open"}, "job_state", "and the handover do not fit."),
    ({"handed_over_on": "", "job_state": "closed"}, "job_state", "and the handover do not fit."),
    ({"method": "Wet", "no_method_reason": "none fits"}, "no_method_reason", "but a method is named."),
    ({"method_version": 2}, "method_version", "Of no method."),
    ({"squeegee": "soft", "squeegee_basis": "by_method"}, "job_confirmed_at", "counts only once"),
    ({"squeegee_basis": "stated"}, "squeegee_basis", "says how a value is known that is not there."),
    ({"vin": "ODEMXWRA1TF000123"}, "vin", "Letter O in position 1 is not used in a VIN; perhaps 0."),
    ({"vin": "0DEMXWRA1TF00012"}, "vin", "16 characters; a VIN has 17."),
    ({"vin_kind": "chassis"}, "vin", "There is no number."),
    ({"vin": VIN, "vin_kind": "none"}, "vin_kind", "but there is a number."),
    ({"plate_since": "2025-01-01"}, "plate_since", "There is no plate."),
    ({"holder_email": "ada@example.com"}, "holder_email", "but no holder is named."),
    ({"holder": "Ada", "holder_email": "ada at home"}, "holder_email", "is no e-mail address."),
    ({"vehicle_first_job": "P-0"}, "vehicle_first_job", "There is no such job before this one."),
    ({"panel": "bonet"}, "panel", "There is no such panel on this body style."),
    ({"panel": ""}, "panel", "Which panel this is must be said."),
    ({"panel_finished_at": "2031-01-01"}, "panel_finished_at", "lies in the future."),
    ({"washed": "yes", "washed_basis": "by_method"}, "panel_confirmed_at", "counts only once"),
    ({"post_heated": "yes", "post_heated_basis": "by_method"}, "panel_confirmed_at", "counts only once"),
    ({"measured_at": "2025-03-13"}, "measured_at", "There is no reading in this row."),
    ({"instrument": "logger"}, "instrument", "There is no reading in this row."),
    ({"humidity_percent": 140}, "humidity_percent", "lies outside what this column holds."),
    ({"removed_items": "badge: lost"}, "removed_items", "says no such outcome."),
    ({"panel_laying_events": "sneezed"}, "panel_laying_events", "There is no such event."),
    ({"panel_laying_events": "needle at noon"}, "panel_laying_events", "There is no such event."),
    ({"place_laying_events": "sneezed"}, "place_laying_events", "There is no such event."),
    ({"installer": "Ben", "other_installers": "Ben"}, "other_installers", "is named twice."),
    ({"film_family": ""}, "film_family", "This film is new here: its family must be said."),
    ({"film": ""}, "film", "The film has no name."),
    ({"film": "", "film_maker": "", "film_family": "", "lot": "L1"}, "lot", "Of which film this is"),
    ({"lot": "L1", "lot_unknown_reason": "label lost"}, "lot_unknown_reason", "but a lot is given."),
    ({"cut_across_mm": 900}, "cut_along_mm", "How long the cut is must be said."),
    ({"piece_ended_on": "2025-05-01"}, "piece_ended_why", "Why the piece came off must be said."),
    ({"piece_ended_why": "replaced"}, "piece_ended_on", "When the piece came off must be said."),
    ({"replaces_piece": 1}, "replaces_piece", "is the piece itself."),
    ({"replaces_piece": 7}, "replaces_piece", "There is no such piece on that panel of that job."),
    ({"replaces_job": "P-0"}, "replaces_piece", "Which piece of that job must be said."),
    ({"place": "laeding"}, "place", "There is no such place on this panel."),
    ({"place": "", "post_heated": "yes"}, "place", "Which place this is must be said."),
    ({"place_kind": "recess"}, "place_kind", "but this place is of the kind edge."),
    ({"place": "field", "wrap_in_wanted_mm": 8}, "wrap_in_wanted_mm", "does not apply to the kind field."),
    ({"meets_piece": 3}, "meets_piece", "There is no such other piece on this panel."),
]

LOOK_FAULTS: list[tuple[dict[str, object], str, str]] = [
    ({"job_ref": "P-9"}, "job_ref", "There is no such job, neither in the jobs file nor here."),
    ({"visit_on": ""}, "visit_on", "This must be said of every visit."),
    ({"origin": ""}, "origin", "This must be said of every visit."),
    ({"origin": "warranty"}, "origin", "is none of the words of this column."),
    ({"visit_on": "2031-01-01"}, "visit_on", "lies in the future."),
    ({"visit_on": "2025-03-01"}, "panel", "The panel was finished only on 2025-03-13."),
    ({"visited_at": "2025-04-28"}, "visited_at", "is another day than visit_on."),
    ({"check_plan": "two-week"}, "check_due_on", "A check has a plan and a day."),
    ({"panel": "roof"}, "panel", "The job has no such film piece on that panel."),
    ({"piece": 2}, "panel", "The job has no such film piece on that panel."),
    ({"place": "left"}, "place", "The job has no such place on that film piece."),
    ({"result": ""}, "result", "This must be said in every row."),
    ({"why_not": "dirty"}, "why_not", "but the place was looked at."),
    ({"kind": "edge-lift"}, "kind", "but the result is no defect."),
    ({"result": "defect", "kind": "", "severity": 2}, "kind", "What kind of defect it is must be said."),
    ({"result": "defect", "kind": "edgelift", "severity": 2}, "kind", "There is no such defect kind."),
    ({"result": "defect", "kind": "edge-lift"}, "severity", "How grave the defect is must be said."),
    ({"result": "defect", "kind": "edge-lift", "severity": 5}, "severity", "lies outside"),
    (
        {"result": "defect", "kind": "edge-lift", "severity": 2, "place": "all"},
        "place",
        "A defect is at one place.",
    ),
    (
        {**CREASE, "cause_sure": "likely"},
        "cause_sure",
        "Of no cause.",
    ),
    (
        {**CREASE, "remedy_by": "Ben"},
        "remedy_by",
        "but no remedy is",
    ),
    (
        {**CREASE, "remedy": "patch", "remedy_on": "2031-01-01"},
        "remedy_on",
        "lies in the future.",
    ),
    (
        {**CREASE, "remedy": "patch", "remedy_piece": 4},
        "remedy_piece",
        "There is no such piece on this panel.",
    ),
    (
        {**CREASE, "defect_state": "remedied"},
        "defect_state",
        "but no remedy is named.",
    ),
    (
        {**CREASE, "defect_number": 2},
        "defect_number",
        "but number 1 was not seen before.",
    ),
]


def found(
    people: ShopPeople, folder: Path, rows: Sequence[Row], looks: Iterable[Row] | None = None
) -> list[Fault]:
    with pytest.raises(FilesRefused) as refused:
        take_in(files(folder, rows, looks), people.shop)
    return refused.value.faults.shown


@pytest.mark.parametrize(("cells", "column", "problem"), JOB_FAULTS)
def test_a_wrong_row_of_jobs_is_named(
    ours: ShopPeople, tmp_path: Path, cells: dict[str, object], column: str, problem: str
) -> None:
    named = [fault for fault in found(ours, tmp_path, [a_row(**cells)]) if fault.column == column]
    assert [fault.line for fault in named] == [2]
    assert problem in named[0].problem
    assert named[0].remedy
    assert str(named[0]).startswith(f"jobs.csv, line 2, column {column}")


@pytest.mark.parametrize(("cells", "column", "problem"), LOOK_FAULTS)
def test_a_wrong_row_of_findings_is_named(
    ours: ShopPeople, tmp_path: Path, cells: dict[str, object], column: str, problem: str
) -> None:
    faults = found(ours, tmp_path, [a_row()], [a_look(**cells)])
    named = [fault for fault in faults if fault.column == column]
    assert [(fault.file, fault.line) for fault in named] == [("findings.csv", 2)]
    assert problem in named[0].problem
    assert named[0].remedy


def test_repeated_cells_must_agree_or_be_empty(ours: ShopPeople, tmp_path: Path) -> None:
    rows = [
        a_row(colour="grey", lot="L1"),
        a_row(colour="", lot="", panel_finished_at="", place="left"),
        a_row(colour="blue", lot="L2", panel_finished_at="2025-03-12", place="right"),
    ]
    assert [str(fault) for fault in found(ours, tmp_path, rows)] == [
        "jobs.csv, line 4, column colour: “blue”: but line 2 says “grey”. Repeated cells must agree.",
        "jobs.csv, line 4, column panel_finished_at: “2025-03-12”: but line 2 says “2025-03-13”. "
        "Repeated cells must agree.",
        "jobs.csv, line 4, column lot: “L2”: but line 2 says “L1”. Repeated cells must agree.",
    ]


def test_rows_of_one_job_stand_together(ours: ShopPeople, tmp_path: Path) -> None:
    rows = [a_row(), a_row(job_ref="P-2"), a_row(place="left"), a_row(place="right")]
    (fault,) = found(ours, tmp_path, rows)
    assert (fault.line, fault.value) == (4, "P-1")
    assert fault.remedy == "Rows of one job stand together: sort by this column."


def test_a_place_is_there_once_on_a_piece(ours: ShopPeople, tmp_path: Path) -> None:
    (fault,) = found(ours, tmp_path, [a_row(), a_row()])
    assert (fault.line, fault.column, fault.problem) == (
        3,
        "place",
        "is there twice on this piece, first on line 2.",
    )


def test_what_names_the_same_thing_says_the_same_of_it(ours: ShopPeople, tmp_path: Path) -> None:
    rows = [
        a_row(vin=VIN, colour="grey", lot="L1", roll="R1"),
        a_row(job_ref="P-2", vin=VIN, colour="blue", film_family="colour-change"),
        a_row(job_ref="P-3", lot="L2", roll="R1"),
        a_row(job_ref="P-4", film="Other", roll="R1"),
    ]
    said = [(fault.line, fault.column, fault.problem) for fault in found(ours, tmp_path, rows)]
    assert said == [
        (3, "colour", "but the same vehicle is said to be grey on line 2."),
        (3, "film_family", "but this film is clear-protective."),
        (4, "roll", "but this roll is of lot L1."),
        (5, "roll", "but this roll is of Clear 8."),
    ]


def test_a_job_that_is_here_and_differs_is_named_with_what_is_here(ours: ShopPeople, tmp_path: Path) -> None:
    take_in(files(tmp_path, [a_row(colour="grey", post_heated="yes")]), ours.shop)
    rows = [a_row(colour="blue", post_heated="", job_note="late"), a_row(place="left", colour="")]
    faults = [(fault.line, fault.column, fault.value, fault.problem) for fault in found(ours, tmp_path, rows)]
    assert faults == [
        (2, "colour", "blue", "but the job that is here says “grey”."),
        (2, "job_note", "late", "but the job that is here says “not recorded”."),
        (2, "post_heated", "", "but the job that is here says “yes”."),
        (3, "place", "left", "is not in the job that is here."),
    ]


def test_columns_the_file_does_not_have_are_not_compared(ours: ShopPeople, tmp_path: Path) -> None:
    take_in(files(tmp_path, [a_row(colour="grey", post_heated="yes", lot="L1")]), ours.shop)
    assert faults_of(files(tmp_path, [a_row()]), ours.shop) == []


def test_the_first_two_hundred_faults_are_shown_and_the_rest_counted(
    ours: ShopPeople, tmp_path: Path
) -> None:
    rows = [a_row(job_ref=f"P-{n}", year="soon") for n in range(MOST_SHOWN + 23)]
    lines = faults_of(files(tmp_path, rows), ours.shop)
    assert len(lines) == MOST_SHOWN + 1
    assert lines[-1] == "and 23 more faults."


def test_a_vehicle_that_is_here_contradicts_a_file(world: World, tmp_path: Path) -> None:
    with shop_scope(world.ours.shop):
        builders.a_vehicle(vin=VIN, vin_kind="vin", make="Osk")
    (fault,) = faults_of(files(tmp_path, [a_row(vin=VIN, make="Vell")]), world.ours.shop)
    assert "“Vell”: but the same vehicle is said to be Osk here." in fault
