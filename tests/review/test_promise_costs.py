"""What the promises cost: every figure counted by hand, what is behind it, and what is not known said."""

import io
import zipfile
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from shopwarranty.claims.models import Claim, ClaimedDefect
from shopwarranty.jobs.models import FilmPiece, Job
from shopwarranty.review.actions import set_claims_since
from shopwarranty.review.promises.asked import Asked
from shopwarranty.review.promises.behind import Filters, ids_behind
from shopwarranty.review.promises.counting import counting, spent
from shopwarranty.review.promises.lines import about, money
from shopwarranty.review.promises.page import work
from shopwarranty.review.promises.record import load_promises
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Change
from tests import builders
from tests.builders import TODAY, days_ago, noon
from tests.conftest import NOW, ShopPeople

ROOT = "/s/{}/review/promises/"


def handed(days: int, **more: Any) -> Job:
    return builders.a_job(handed_over_on=days_ago(days), **more)


def put_right(
    job: Job, days: int, *, cost: str | None, cause: str = "", handover: bool = False, **more: Any
) -> Any:
    """An edge that lifted and was pressed down on one day."""
    visit = builders.a_visit(job, days_ago(days))
    place = builders.places_of(job)[0]
    sure = "likely" if cause else ""
    defect = builders.a_defect(visit, place, "edge-lift", cause=cause, cause_sure=sure, at_handover=handover)
    amount = None if cost is None else Decimal(cost)
    return builders.a_remedy(defect, days_ago(days), cost=amount, **more)


def claimed(job: Job, days: int, *, placed: bool = True, received: int | None = None) -> Claim:
    at = noon(days_ago(days))
    number = f"C{Claim.objects.count() + 1:04d}"
    claim: Claim = Claim.objects.create(
        number=number,
        vehicle=job.vehicle,
        first_reported_at=at,
        received_at=noon(days_ago(days if received is None else received)),
        words="An edge lifts.",
    )
    place = builders.places_of(job)[0] if placed else None
    ClaimedDefect.objects.create(claim=claim, place=place, words="An edge lifts.")
    return claim


def worked(asked: Asked | None = None, shop: Any = None) -> Any:
    return work(counting(load_promises(shop), asked or Asked(), TODAY))


def test_claims_and_remedies_by_month_of_age_are_those_counted_by_hand(ours: ShopPeople) -> None:
    """Two jobs, 60 and 20 days in service: in the first month 30.4 and 20 days, then 29.6 of one."""
    old, young = handed(60), handed(20)
    claimed(old, 55)
    claimed(old, 5)
    put_right(young, 10, cost="40.00")
    found = worked(shop=ours.shop)
    month = 365.25 / 12
    first, second = found.claims.lines
    assert (first.events, second.events) == (1, 1)
    assert first.exposure == pytest.approx(1 + 20 / month)
    assert second.exposure == pytest.approx(60 / month - 1)
    assert [one.events for one in found.remedies.lines] == [1, 0]


def test_money_adds_up_by_panel_and_cause_and_unknown_is_a_row_of_its_own(ours: ShopPeople) -> None:
    job = handed(100)
    for cost, cause in (("10.10", "tension"), ("20.20", "tension"), (None, "tension"), ("5.55", "")):
        put_right(job, 50, cost=cost, cause=cause)
    put_right(job, 40, cost=None, cause="unknown")
    found = worked(shop=ours.shop)
    tension, unknown = found.causes
    assert (tension.key, tension.remedies, tension.without, tension.total) == (
        "tension",
        3,
        1,
        Decimal("30.30"),
    )
    assert (unknown.key, unknown.remedies, unknown.without, unknown.total) == (
        "unknown",
        2,
        1,
        Decimal("5.55"),
    )
    assert [one.key for one in found.panels] == ["left-front-door"]
    assert found.total.total == Decimal("35.85") and found.total.without == 2


def test_a_cost_nobody_recorded_is_never_nothing(ours: ShopPeople) -> None:
    put_right(handed(100), 50, cost=None)
    (one,) = worked(shop=ours.shop).causes
    assert one.total is None and one.mean is None
    assert money(one.total, ours.shop) == "not recorded"
    put_right(handed(100), 50, cost="0.00")
    (two,) = worked(shop=ours.shop).causes
    assert two.total == Decimal("0.00") and two.mean == Decimal("0.00")


def test_rework_before_handover_is_no_cost_of_a_promise(ours: ShopPeople) -> None:
    put_right(handed(100), 100, cost="30.00", handover=True)
    assert worked(shop=ours.shop).total.remedies == 0


def test_goodwill_outside_the_promise_is_no_cost_of_it(ours: ShopPeople) -> None:
    """E80"""
    put_right(handed(100), 50, cost="30.00", is_goodwill=True)
    assert worked(shop=ours.shop).total.remedies == 0


def test_a_job_counts_until_its_last_film_is_gone_or_its_certificate_withdrawn(ours: ShopPeople) -> None:
    job = handed(300)
    FilmPiece.objects.filter(panel_work__job=job).update(ended_on=days_ago(200), ended_why="panel_replaced")
    found = worked(shop=ours.shop)
    assert found.claims.watched.left.tolist() == [True]
    assert found.claims.watched.until[0] == pytest.approx(100 / (365.25 / 12))


def test_claims_of_an_imported_job_count_from_its_import_until_the_owner_says_since_when(
    ours: ShopPeople,
) -> None:
    job = handed(400, imported_at=noon(days_ago(10)))
    claimed(job, 90)
    put_right(job, 300, cost="10.00")
    found = worked(shop=ours.shop)
    assert found.claims.watched.entry[0] == pytest.approx(390 / (365.25 / 12))
    assert sum(one.events for one in found.claims.lines) == 0
    assert sum(one.events for one in found.remedies.lines) == 1
    actor = Actor.of(ours.owner)
    set_claims_since(since=days_ago(500), actor=actor, now=NOW)
    set_claims_since(since=days_ago(500), actor=actor, now=NOW)
    found = worked(shop=ours.shop)
    assert found.claims.watched.entry[0] == 0
    assert sum(one.events for one in found.claims.lines) == 1
    assert Change.objects.filter(act="claims on record").count() == 1


def test_a_period_counts_what_happened_and_was_watched_in_it(ours: ShopPeople) -> None:
    job = handed(100)
    claimed(job, 90)
    claimed(job, 45)
    found = worked(Asked(since=days_ago(60), until=days_ago(31)), ours.shop)
    assert sum(one.events for one in found.claims.lines) == 1
    assert sum(one.exposure for one in found.claims.lines) == pytest.approx(29 / (365.25 / 12))


def test_a_film_family_takes_its_own_jobs_and_events(ours: ShopPeople) -> None:
    clear = handed(100, lot=builders.a_lot(builders.a_product("clear-protective")))
    vinyl = handed(100, lot=builders.a_lot(builders.a_product("colour-change")))
    for job in (clear, vinyl):
        claimed(job, 50)
        put_right(job, 40, cost="10.00")
    found = worked(Asked(family="colour-change"), ours.shop)
    assert [job.pk for job in found.counting.jobs] == [vinyl.pk]
    assert len(found.counting.claims) == len(found.counting.remedies) == 1


def test_a_claim_that_nobody_matched_is_said_and_in_no_rate(ours: ShopPeople) -> None:
    job = handed(100)
    builders.a_job(vehicle=job.vehicle, handed_over_on=days_ago(90))
    claimed(job, 20, placed=False)
    found = worked(shop=ours.shop)
    assert len(found.counting.unplaced) == 1
    assert sum(one.events for one in found.claims.lines) == 0


def test_a_claim_about_no_place_belongs_to_the_only_job_there_is(ours: ShopPeople) -> None:
    claimed(handed(100), 20, placed=False)
    assert sum(one.events for one in worked(shop=ours.shop).claims.lines) == 1


def test_every_figure_opens_as_many_rows_as_it_says(ours: ShopPeople) -> None:
    for days in (400, 200, 60, 20):
        job = handed(days)
        claimed(job, days // 2)
        put_right(job, days // 3, cost="12.00" if days > 100 else None, cause="tension" if days > 50 else "")
    found = worked(shop=ours.shop)
    counted = found.counting
    for claim, remedy in zip(found.claims.lines, found.remedies.lines, strict=True):
        band = {"first": claim.band.first, "last": claim.band.last}
        assert len(ids_behind(counted, Filters("claims", **band))) == claim.events
        assert len(ids_behind(counted, Filters("remedies", **band))) == remedy.events
        jobs = ids_behind(counted, Filters("claims-jobs", **band))
        assert len(jobs) >= claim.exposure and bool(jobs) == bool(claim.exposure)
    for one in found.causes:
        assert len(ids_behind(counted, Filters("remedies", cause=one.key))) == one.remedies
        assert len(ids_behind(counted, Filters("remedies", cause=one.key, cost="none"))) == one.without
    for one in found.panels:
        assert len(ids_behind(counted, Filters("remedies", panel=one.key))) == one.remedies


def test_sums_are_exact_to_the_cent(ours: ShopPeople) -> None:
    job = handed(100)
    for _ in range(10):
        put_right(job, 50, cost="0.10")
    assert worked(shop=ours.shop).total.total == Decimal("1.00")
    assert spent((), lambda row: row.panel) == ()
    assert about(1234.4, ours.shop).startswith("1,230") and about(7.6, ours.shop).startswith("8")


def a_year_of_claims(ours: ShopPeople) -> None:
    for number in range(30):
        job = handed(1000 - 33 * number)
        if number % 2:
            claimed(job, max(1, 960 - 33 * number - 17 * (number % 5)))
        put_right(job, max(1, 940 - 33 * number), cost=None if number % 4 == 0 else "80.00")


def test_the_page_says_what_hundred_jobs_bring_and_forecasts_a_year(ours: ShopPeople) -> None:
    a_year_of_claims(ours)
    body = ours.client(ours.owner).get(ROOT.format(ours.shop.slug)).content.decode()
    assert "100 jobs bring about" in body
    assert "The next twelve months" in body and "nine times in ten" in body
    assert "have no cost recorded" in body or "has no cost recorded" in body


def test_a_thin_record_cannot_tell_yet_and_says_what_is_missing(ours: ShopPeople) -> None:
    claimed(handed(100), 50)
    body = ours.client(ours.desk).get(ROOT.format(ours.shop.slug)).content.decode()
    assert "annot tell yet" in body
    assert "It takes 10 of them on record." in body and "It takes 20 jobs in service." in body


def test_an_empty_shop_says_so(ours: ShopPeople) -> None:
    body = ours.client(ours.owner).get(ROOT.format(ours.shop.slug)).content.decode()
    assert "No job was handed over yet" in body


def test_an_installer_sees_no_costs(ours: ShopPeople) -> None:
    assert ours.client(ours.installer).get(ROOT.format(ours.shop.slug)).status_code == 403


def test_a_figure_that_is_none_is_not_found_and_a_period_backwards_is_said(ours: ShopPeople) -> None:
    client, root = ours.client(ours.owner), ROOT.format(ours.shop.slug)
    for wrong in ("?of=secrets", "?of=claims&first=x", "?of=claims&first=99999999999", ""):
        assert client.get(f"{root}behind/{wrong}").status_code == 404
    handed(10)
    body = client.get(f"{root}?since=2026-02-02&until=2026-01-01").content.decode()
    assert "This day lies before the first one." in body and 'value="2026-02-02"' in body


def test_the_owner_says_since_when_claims_are_kept(ours: ShopPeople) -> None:
    client, address = ours.client(ours.owner), f"{ROOT.format(ours.shop.slug)}claims-since/"
    late = client.post(address, {"since": (TODAY + timedelta(days=40)).isoformat()})
    assert "This day is still to come." in late.content.decode()
    assert client.post(address, {"since": "2025-01-01"}).status_code == 302
    assert ours.client(ours.desk).get(address).status_code == 403


def test_the_files_hold_the_figures_of_the_page(ours: ShopPeople) -> None:
    a_year_of_claims(ours)
    client, root = ours.client(ours.owner), ROOT.format(ours.shop.slug)
    ages = client.get(f"{root}by-age.csv").content.decode().splitlines()
    found = worked(shop=ours.shop)
    assert len(ages) == 1 + len(found.claims.lines)
    first = ages[1].split(",")
    assert float(first[4]) == 100 * (found.claims.lines[0].rate or 0)
    sums = client.get(f"{root}costs.csv").content.decode().splitlines()
    assert sums[-1].split(",")[3:6] == ["30", str(found.total.without), str(found.total.total)]
    book = client.get(f"{root}costs.xlsx").content
    with zipfile.ZipFile(io.BytesIO(book)) as opened:
        assert opened.testzip() is None
        assert "twelve" in opened.read("xl/sharedStrings.xml").decode() or len(opened.namelist()) > 8


@pytest.mark.parametrize("path", ["", "behind/?of=claims", "behind/?of=remedies", "behind/?of=jobs"])
def test_a_larger_record_asks_no_more_often(
    ours: ShopPeople, django_assert_max_num_queries: Any, path: str
) -> None:
    client, address = ours.client(ours.owner), ROOT.format(ours.shop.slug) + path
    a_year_of_claims(ours)
    client.get(address)
    with django_assert_max_num_queries(30) as few:
        assert client.get(address).status_code == 200
    a_year_of_claims(ours)
    with django_assert_max_num_queries(len(few)):
        assert client.get(address).status_code == 200


def test_a_promise_that_ended_brings_nothing_more(ours: ShopPeople) -> None:
    record = load_promises(ours.shop)
    assert record.jobs == () and record.families == ()
    assert counting(record, Asked(), date(2026, 11, 25)).claims == ()


def test_e16_own_vehicles_and_test_panels_are_in_no_rate_of_claims(ours: ShopPeople) -> None:
    """Common practice, no source: what was promised to nobody can cost no promise."""
    claimed(handed(60), 5)
    for kind, owned in (("own", "shop"), ("test_panel", "panel")):
        claimed(handed(60, kind=kind, vehicle=builders.a_vehicle(owned=owned)), 5)
    found = worked(shop=ours.shop)
    assert sum(line.events for line in found.claims.lines) == 1
    assert len(load_promises(ours.shop).jobs) == 1
