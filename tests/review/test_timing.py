"""When to look: the shop's own plan and costs on the page, and who may say what a lift costs."""

from decimal import Decimal
from typing import Any

import pytest

from shopwarranty.analysis.check_timing import CheckPlan as Ages
from shopwarranty.analysis.check_timing import timings
from shopwarranty.inspections.models import Check, CheckPlan
from shopwarranty.jobs.models import Job
from shopwarranty.review import said
from shopwarranty.review.check_plan_now import planned_checks
from shopwarranty.review.models import CheckCosts
from shopwarranty.review.timing_lines import other_plans
from shopwarranty.shops.models import Change
from tests import builders as b
from tests.conftest import ShopPeople

from . import files, reading
from .bulk import many_jobs

COSTS = {"caught_early": "40", "caught_late": "260", "minute": "0.9", "grows_after": "45"}


@pytest.fixture
def shop(ours: ShopPeople) -> ShopPeople:
    """Thirty jobs; 24 of 30 came to the look after two weeks, 4 of 8 to the one after three months."""
    many_jobs(30, [ours.installer])
    CheckPlan.objects.update(retired_at=b.NOW)
    two = CheckPlan.objects.create(key="own-two", name="Two weeks", offset_days=14, minutes=30)
    three = CheckPlan.objects.create(key="own-three", name="Three months", offset_months=3, minutes=60)
    jobs = list(Job.objects.order_by("pk"))
    settled(two, jobs, done=24)
    settled(three, jobs[:8], done=4)
    return ours


def settled(plan: CheckPlan, jobs: list[Job], *, done: int) -> None:
    day = {"due_on": b.TODAY, "window_from": b.TODAY, "window_to": b.TODAY}
    Check.objects.bulk_create(
        Check(job=job, plan=plan, state="done" if n < done else "missed", settled_at=b.NOW, **day)
        for n, job in enumerate(jobs)
    )


def test_the_plan_is_the_shops_own_and_who_came_is_counted(shop: ShopPeople) -> None:
    plan = planned_checks(400)
    assert plan is not None
    assert plan.ages.days == (14, 91)
    assert plan.ages.attended[0] == pytest.approx(24 / 30)
    assert plan.ages.attended[1] == pytest.approx(28 / 38), "eight are too few: the share of all"
    assert (plan.minutes, plan.settled) == (45, 38)


def test_other_days_keep_the_order_of_the_checks() -> None:
    now = Ages((14, 91), (0.8, 0.6))
    others = list(other_plans(now))
    moved = [one for one in others if len(one.days) == 2]
    assert all(one.days[0] < one.days[1] for one in moved)
    assert {one.days[-1] for one in others if len(one.days) == 3}.isdisjoint(now.days)
    assert all(one.attended[-1] == pytest.approx(0.7) for one in others if len(one.days) == 3)


def test_page_and_paper_say_what_the_plan_catches_as_worked_out_from_the_lives(shop: ShopPeople) -> None:
    answer = reading.page(shop)
    timing = answer.context["timing"]
    plan = planned_checks(400)
    assert plan is not None
    lives = answer.context["found"].asked.question.lives
    (now,) = timings(lives, [plan.ages], grows_after=30)
    share = said.percent(now.early, 0)
    assert timing.heading == f"The planned checks catch {share} of first-year failures before they grow"
    assert "a lift stays small for 30 days (until the owner says otherwise)" in timing.explained
    row = ["As planned: day 14, 91", f"{share} {timing.lines[0].between}", said.percent(now.found, 0)]
    assert row in files.html_rows(answer.content.decode(), "shares")
    assert files.squeezed("".join(row)) in files.pdf_text(files.fetched(shop, "review.pdf"))
    assert not timing.priced


def test_an_owner_says_the_costs_and_the_page_goes_by_them(shop: ShopPeople) -> None:
    url = f"/s/{shop.shop.slug}/review/costs/"
    assert shop.client(shop.owner).post(url, COSTS).status_code == 302
    row = CheckCosts.objects.get()
    assert (row.caught_early, row.caught_late, row.minute, row.grows_after) == (
        Decimal("40"),
        Decimal("260"),
        Decimal("0.9"),
        45,
    )
    assert Change.objects.filter(act="check costs", row=row.pk).count() == 1
    timing = reading.page(shop).context["timing"]
    assert timing.priced
    assert "for 45 days (as the owner says)" in timing.explained
    assert timing.lines[0].cost.endswith(shop.shop.currency)
    again = {**COSTS, "minute": "1.10"}
    assert shop.client(shop.owner).post(url, again).status_code == 302
    assert CheckCosts.objects.get().minute == Decimal("1.10")


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"caught_late": "39"}, "A lift that has grown cannot cost less than a small one."),
        ({"minute": "-1"}, "greater than or equal to 0"),
        ({"grows_after": "0"}, "greater than or equal to 1"),
        ({"caught_early": "much"}, "Enter a number."),
    ],
)
def test_impossible_costs_are_refused_and_kept_as_typed(
    ours: ShopPeople, wrong: dict[str, str], words: str
) -> None:
    answer: Any = ours.client(ours.owner).post(f"/s/{ours.shop.slug}/review/costs/", {**COSTS, **wrong})
    page = reading.text(answer)
    assert words in page
    assert all(f'value="{typed}"' in page for typed in wrong.values())
    assert not CheckCosts.objects.exists()


def test_only_owners_say_what_things_cost(ours: ShopPeople) -> None:
    url = f"/s/{ours.shop.slug}/review/costs/"
    for member in (ours.installer, ours.desk):
        assert ours.client(member).post(url, COSTS).status_code == 403
    assert not CheckCosts.objects.exists()


def test_a_page_that_explores_or_a_shop_without_checks_says_nothing_of_days(shop: ShopPeople) -> None:
    assert reading.page(shop, body="suv").context["timing"] is None
    Check.objects.all().delete()
    assert reading.page(shop).context["timing"] is None
