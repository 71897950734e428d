"""What the benches of growth call a fault is one, and copies made by the database hang together."""

import pytest

from shopwarranty.defects.models import Defect
from shopwarranty.jobs.models import Job, Place
from tests import builders as b
from tests.bench.many_shops import Node, Plans
from tests.bench.page_speed import FLAT_MS, MORE_MS, TIMES, Measured, Page, Took, p95
from tests.conftest import ShopPeople
from tests.many_copies import COPIED
from tests.set_copies import Own, Pattern, highest

SCAN: Node = {
    "Node Type": "Index Scan",
    "Relation Name": "jobs_place",
    "Index Cond": "((shop_id = 7) AND (piece_id = 3))",
    "Actual Rows": 8,
    "Actual Loops": 1,
}


def looked_at(**other: object) -> Plans:
    plans = Plans({"jobs_place": 5000}, {"place_by_key": "jobs_place"})
    plans.look_at({**SCAN, **other}, "SELECT ...")
    return plans


def test_a_step_by_the_shop_is_no_fault() -> None:
    plans = looked_at()
    assert (plans.faults, plans.by_shop, plans.by_key) == ([], 1, 0)


@pytest.mark.parametrize(
    "other",
    [
        {"Node Type": "Seq Scan", "Index Cond": ""},
        {"Actual Rows": 5001},
        {"Rows Removed by Filter": 5000},
        {
            "Node Type": "Bitmap Index Scan",
            "Relation Name": "",
            "Index Name": "place_by_key",
            "Actual Rows": 9000,
        },
    ],
    ids=("from end to end", "more than a shop has", "read and thrown away", "in a bitmap"),
)
def test_a_step_that_reaches_beyond_one_shop_is_a_fault(other: dict[str, object]) -> None:
    assert len(looked_at(**other).faults) == 1


def test_a_page_is_held_to_its_goal() -> None:
    times, flat = Page("home", lambda draw: ""), Page("job", lambda draw: "", flat=True)
    assert (times.allowed(5), flat.allowed(5)) == (5 * TIMES + MORE_MS, 5 + FLAT_MS)
    at_most = Took(0, times.allowed(5))
    assert Measured(times, 10, Took(0, 5), at_most, 12).reached
    assert not Measured(times, 10, Took(0, 5), at_most, 13).reached
    assert not Measured(times, 10, Took(0, 5), Took(0, at_most.own + 0.1), 12).reached


def test_the_95th_of_a_hundred_is_taken() -> None:
    assert p95([Took(n, -n) for n in range(1, 101)]) == Took(95, -6)


def test_copies_made_by_the_database_hang_together(transactional_db: None, ours: ShopPeople) -> None:
    """`tests.rules` looks at them afterwards: links, lives, quarters of bookings."""
    before = highest(COPIED)
    job = b.a_job(handed_over_on=b.days_ago(14), installer=ours.installer)
    b.looked_at(job, b.TODAY, {"window": 2})
    until, places = highest(COPIED), Place.objects.count()
    own: Own = {(Job, "ref"): "p.ref || '-' || n.k", (Defect, "number"): "p.number || '-' || n.k"}
    Pattern(until, until, own, before).grow_to(3)
    assert (Job.objects.count(), Place.objects.count()) == (4, 4 * places)
    refs = [f"{job.ref}{more}" for more in ("", "-1", "-2", "-3")]
    assert list(Job.objects.order_by("pk").values_list("ref", flat=True)) == refs
    assert b.a_job().pk > Job.objects.get(ref=refs[-1]).pk
