"""Findings of a file: visits, defects, remedies, and the lives that follow from them."""

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from shopwarranty.defects.lives import differences
from shopwarranty.defects.models import Defect, Life, Remedy, ShopDefectKind, Sighting
from shopwarranty.inspections.models import Check, CheckPlan, Finding, Visit
from shopwarranty.shops.models import Counter, Member
from tests import builders
from tests.conftest import ShopPeople

from .flat_files import a_look, a_row, exported, faults_of, files, rows_of, take_in

JOBS = [a_row(place="all")]


def wrong(**more: object) -> dict[str, object]:
    return a_look(**{"result": "defect", "kind": "edge-lift", "severity": 2, **more})


def test_rows_of_one_day_and_origin_are_one_visit_and_others_are_others(
    ours: ShopPeople, tmp_path: Path
) -> None:
    looks = [
        a_look(),
        a_look(place="left"),
        a_look(origin="walk_in"),
        a_look(by_photo="yes"),
        a_look(visit_number=2),
        a_look(visit_on="2025-03-29"),
    ]
    take_in(files(tmp_path, JOBS, looks), ours.shop)
    assert Visit.objects.count() == 5
    assert {visit.state for visit in Visit.objects.all()} == {"finished"}
    assert {finding.said for finding in Finding.objects.all()} == {"imported"}


def test_a_place_nobody_looked_at_is_not_clean(ours: ShopPeople, tmp_path: Path) -> None:
    looks = [a_look(), a_look(place="left", result="not_looked", why_not="dirty")]
    take_in(files(tmp_path, JOBS, looks), ours.shop)
    seen = dict(Finding.objects.values_list("place__key", "result"))
    assert seen == {"leading": "clean", "left": "not_looked"}
    clean = dict(Life.objects.values_list("place__key", "clean_day"))
    assert (clean["leading"], clean["left"], clean["right"]) == (15, None, None)


def test_all_of_a_visit_means_every_place_that_no_other_row_names(ours: ShopPeople, tmp_path: Path) -> None:
    looks = [wrong(place="left"), a_look(panel="all", place="all")]
    take_in(files(tmp_path, [*JOBS, a_row(panel="roof", place="all")], looks), ours.shop)
    results = list(Finding.objects.values_list("result", flat=True))
    assert (len(results), results.count("defect")) == (12, 1)


def test_a_defect_seen_again_is_one_defect_with_two_sightings(ours: ShopPeople, tmp_path: Path) -> None:
    looks = [
        wrong(extent_in=0.5),
        wrong(visit_on="2025-06-20", extent_in=1, severity=3, cause="tension", cause_sure="likely"),
    ]
    take_in(files(tmp_path, JOBS, looks), ours.shop)
    defect = Defect.objects.get()
    assert (defect.state, defect.found_on, defect.cause) == ("open", date(2025, 3, 28), "tension")
    assert list(Sighting.objects.values_list("severity", "extent_mm")) == [(2, 12.7), (3, 25.4)]


def test_after_a_remedy_it_is_another_defect_that_names_the_first_and_another_life(
    ours: ShopPeople, tmp_path: Path
) -> None:
    looks = [
        wrong(remedy="reheat", remedy_on="2025-04-02", remedy_by="Ben Sample", remedy_cost="12.5"),
        wrong(visit_on="2025-06-20"),
    ]
    take_in(files(tmp_path, JOBS, looks), ours.shop)
    first, second = Defect.objects.order_by("pk")
    assert (first.state, second.state, second.recurrence_of) == ("remedied", "open", first)
    remedy = Remedy.objects.get()
    assert (remedy.defect, remedy.done_on, remedy.cost) == (first, date(2025, 4, 2), Decimal("12.50"))
    assert (remedy.member, remedy.visit) == (Member.objects.get(name="Ben Sample"), None)
    lives = Life.objects.filter(place__key="leading").values_list("number", "starts_on", "failed_day")
    assert list(lives) == [(1, date(2025, 3, 13), 15), (2, date(2025, 4, 2), 79)]


def test_what_only_waits_leaves_the_defect_open(ours: ShopPeople, tmp_path: Path) -> None:
    looks = [
        wrong(kind="moisture-pocket", remedy="wait"),
        wrong(kind="moisture-pocket", visit_on="2025-04-20"),
    ]
    take_in(files(tmp_path, JOBS, looks), ours.shop)
    defect = Defect.objects.get()
    assert (defect.state, defect.sightings.count(), defect.remedies.count()) == ("open", 2, 1)


def test_several_kinds_at_one_place_and_several_remedies_of_one_are_several_rows(
    ours: ShopPeople, tmp_path: Path
) -> None:
    looks = [
        wrong(remedy="reheat"),
        wrong(remedy="refund", remedy_cost=40, remedy_goodwill="yes"),
        wrong(kind="crease"),
    ]
    take_in(files(tmp_path, JOBS, looks), ours.shop)
    assert Finding.objects.count() == 1
    assert sorted(Defect.objects.values_list("kind", "state")) == [
        ("crease", "open"),
        ("edge-lift", "remedied"),
    ]
    assert list(Remedy.objects.order_by("pk").values_list("kind", "is_goodwill")) == [
        ("reheat", False),
        ("refund", True),
    ]


def test_what_the_handover_look_found_is_rework_and_the_life_starts_after_it(
    ours: ShopPeople, tmp_path: Path
) -> None:
    looks = [
        wrong(visit_on="2025-03-14", handover_look="yes", remedy="relay", remedy_on="2025-03-14"),
        a_look(),
    ]
    take_in(files(tmp_path, JOBS, looks), ours.shop)
    assert Defect.objects.get().at_handover
    life = Life.objects.get(place__key="leading")
    assert (life.starts_on, life.clean_day, life.failed_day) == (date(2025, 3, 14), 14, None)


def test_since_when_is_kept_as_the_holder_says(ours: ShopPeople, tmp_path: Path) -> None:
    looks = [a_look(), wrong(visit_on="2025-06-20", origin="defect", since_when="2025-06-01")]
    take_in(files(tmp_path, JOBS, looks), ours.shop)
    life = Life.objects.get(place__key="leading")
    assert (life.failed_day, life.all_failed_day) == (None, 80)  # no planned check has seen it yet


def test_a_new_kind_is_added_when_the_row_says_its_name_and_whether_it_counts(
    ours: ShopPeople, tmp_path: Path
) -> None:
    looks = [wrong(kind="ghosting", kind_name="ghost lines", kind_is_failure="no")]
    outlook = take_in(files(tmp_path, JOBS, looks), ours.shop)
    kind = ShopDefectKind.objects.get()
    assert (kind.key, kind.name, kind.is_failure, outlook.new["kinds"]) == (
        "ghosting",
        "ghost lines",
        False,
        ["ghost lines"],
    )
    assert Defect.objects.get().kind_words == "ghost lines"


def test_numbers_go_on_where_defects_found_by_hand_left_off(ours: ShopPeople, tmp_path: Path) -> None:
    Counter.objects.create(series="defect", last=41)
    take_in(files(tmp_path, JOBS, [wrong(), wrong(place="left")]), ours.shop)
    assert sorted(Defect.objects.values_list("number", flat=True)) == ["D0042", "D0043"]
    assert Counter.objects.get(series="defect").last == 43


def test_a_walk_in_that_settled_a_check_still_counts_as_planned(ours: ShopPeople, tmp_path: Path) -> None:
    looks = [a_look(origin="walk_in", check_plan="two-week", check_due_on="2025-03-28")]
    take_in(files(tmp_path, JOBS, looks), ours.shop)
    check = Check.objects.get()
    assert (check.state, check.due_on, check.plan.key) == ("done", date(2025, 3, 28), "two-week")
    assert CheckPlan.objects.get().retired_at is not None  # nobody said when such a check is due
    assert Life.objects.get(place__key="leading").clean_day == 15


def test_stored_lives_are_what_the_record_says(ours: ShopPeople, tmp_path: Path) -> None:
    looks = [
        a_look(place="all"),
        wrong(visit_on="2025-06-20", remedy="reheat"),
        a_look(visit_on="2025-07-20"),
    ]
    take_in(files(tmp_path, JOBS, looks), ours.shop)
    assert Life.objects.count() == 8
    assert differences().total == 0


def test_findings_of_a_job_recorded_here_may_come_without_the_job(ours: ShopPeople, tmp_path: Path) -> None:
    job = builders.a_job(ref="J-9", panels=("bonnet",), handed_over_on=builders.days_ago(60))
    looks = [a_look(job_ref="J-9", visit_on=builders.days_ago(40), place="all")]
    take_in(files(tmp_path, JOBS, looks), ours.shop)
    assert job.visits.get().findings.count() == 7


def test_the_same_visit_that_says_something_else_is_refused(ours: ShopPeople, tmp_path: Path) -> None:
    take_in(files(tmp_path, JOBS, [a_look(), wrong(place="left", remedy="reheat")]), ours.shop)
    changed = [
        a_look(since_when_words="weeks ago"),
        wrong(place="left", severity=3, remedy="patch"),
        a_look(place="right"),
    ]
    faults = faults_of(files(tmp_path, JOBS, changed), ours.shop)
    assert [fault.split(": ", 1)[0] for fault in faults] == [
        "findings.csv, line 2, column since_when_words",
        "findings.csv, line 3, column severity",
        "findings.csv, line 3, column remedy",
        "findings.csv, line 4, column place",
    ]
    assert all("An import never changes what is recorded" in fault for fault in faults)


@pytest.mark.parametrize("kind", ["covered-feature"])
def test_a_kind_is_never_less_grave_than_it_always_is(ours: ShopPeople, tmp_path: Path, kind: str) -> None:
    take_in(files(tmp_path, JOBS, [wrong(kind=kind, severity=1)]), ours.shop)
    assert Sighting.objects.get().severity == 4
    assert rows_of(exported(ours.shop)[1])[0]["severity"] == "4"
