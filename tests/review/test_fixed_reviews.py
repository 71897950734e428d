"""One review a month makes the claims, and what it finds is told once."""

import json
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.db import DatabaseError, transaction

from shopwarranty.analysis.verdicts import Phrase
from shopwarranty.defects.models import Life
from shopwarranty.films.models import Lot
from shopwarranty.inspections.writing.sending import when_to_send
from shopwarranty.outbox import tick
from shopwarranty.outbox.models import Message
from shopwarranty.review.fixing import _again, fix_due, fix_review
from shopwarranty.review.lives import version_of
from shopwarranty.review.models import FixedReview
from shopwarranty.review.news import News
from shopwarranty.review.reviewing import ShopReview, life_table, review_of
from shopwarranty.review.selection import Selection
from shopwarranty.review.telling import _may_be_told
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import every_shop
from tests.conftest import NOW, ShopPeople, World

from . import reading
from .bulk import many_jobs

FAMILY = "clear-protective"
NEXT_MONTH = NOW + timedelta(days=32)


@pytest.fixture
def shop(ours: ShopPeople) -> ShopPeople:
    many_jobs(20, [ours.installer], per_year=0.1)
    return ours


def found_now(shop: Shop) -> ShopReview:
    cache.clear()
    version = version_of(shop)
    return review_of(shop, Selection(FAMILY), life_table(shop, version), version)


def claimed(found: ShopReview) -> set[str]:
    return {e.contrast.factor for e in found.review.effects if e.verdict.claimed}


def newest_ends() -> FixedReview:
    return FixedReview.objects.filter(part="ends").latest("made_at")


def test_the_tick_makes_one_a_month_for_each_family_and_part(shop: ShopPeople) -> None:
    assert fix_due(NOW) == 2
    assert fix_due(NOW + timedelta(hours=1)) == 0
    assert fix_due(NEXT_MONTH) == 2
    kept = newest_ends()
    assert (kept.family, kept.on, kept.asked_for) == (FAMILY, NEXT_MONTH.date(), False)
    assert kept.figures == json.loads(json.dumps(kept.figures))
    assert kept.figures["rows"] == kept.lives
    assert {e["factor"] for e in kept.figures["effects"]} >= {"post_heated", "hardware", "passes"}
    assert kept.version == version_of(shop.shop)


def test_months_are_those_of_the_shop(shop: ShopPeople) -> None:
    """Half an hour before midnight UTC on the last of a month it is next month east of Greenwich."""
    Shop.objects.filter(pk=shop.shop.pk).update(time_zone="Pacific/Auckland")
    before = datetime.fromisoformat("2026-03-31T10:30:00+00:00")
    assert fix_due(before) == 2
    assert fix_due(datetime.fromisoformat("2026-03-31T11:30:00+00:00")) == 2


def test_shops_without_lives_are_left_alone_and_asked_about_together(
    world: World, shop: ShopPeople, django_assert_num_queries: Any
) -> None:
    fix_due(NOW)
    with django_assert_num_queries(3):
        assert fix_due(NOW) == 0
    with every_shop():
        assert not FixedReview.objects.filter(shop=world.theirs.shop).exists()


def test_after_an_import_nobody_waits_for_the_next_month(ours: ShopPeople) -> None:
    """Twice as much on record is due at once; a little more waits for the first of the month."""
    tomorrow = NOW + timedelta(hours=9)
    assert _again(ours.shop, NOW, 1000, 2000, tomorrow)
    assert not _again(ours.shop, NOW, 1000, 1999, tomorrow)
    assert _again(ours.shop, NOW, 1000, 1000, NEXT_MONTH)
    assert _again(ours.shop, NOW, 0, 1, tomorrow), "the first lives of a new shop"


def test_a_fixed_review_is_never_changed(shop: ShopPeople) -> None:
    fix_review(shop=shop.shop, now=NOW)
    with pytest.raises(DatabaseError), transaction.atomic():
        FixedReview.objects.update(claims=[])
    with pytest.raises(DatabaseError), transaction.atomic():
        FixedReview.objects.all().delete()


def test_before_the_first_and_right_after_one_the_page_says_what_the_record_says(shop: ShopPeople) -> None:
    before = reading.as_json(shop)
    assert found_now(shop.shop).fixed_on is None
    fix_review(shop=shop.shop, now=NOW)
    cache.clear()
    assert reading.as_json(shop) == before
    assert found_now(shop.shop).fixed_on == NOW.date()
    assert claimed(found_now(shop.shop)) == {"post_heated"}


def test_between_two_reviews_a_claim_may_fall_but_none_is_added(shop: ShopPeople) -> None:
    failed = Life.objects.filter(failed_day__isnull=False, place__post_heated=False)
    kept = list(failed.values_list("pk", "failed_day", "clean_day"))
    failed.update(failed_day=None, clean_day=90, ended="open", ended_day=None)
    fix_review(shop=shop.shop, now=NOW)
    assert "post_heated" not in {c["factor"] for c in newest_ends().claims if c["more"]}
    for pk, day, clean in kept:
        Life.objects.filter(pk=pk).update(failed_day=day, clean_day=clean, ended="failed", ended_day=day)
    found = found_now(shop.shop)
    assert "post_heated" not in claimed(found)
    assert ("post_heated", "no", "yes") in found.waiting
    effect = next(e for e in found.review.effects if e.contrast.factor == "post_heated")
    assert effect.verdict.phrase is Phrase.NOT_YET
    assert effect.contrast.ratio > 1.5
    fix_review(shop=shop.shop, now=NOW + timedelta(days=1), asked_for=True)
    assert "post_heated" in claimed(found_now(shop.shop))


def test_a_page_narrowed_down_knows_nothing_of_claims(shop: ShopPeople) -> None:
    fix_review(shop=shop.shop, now=NOW)
    version = version_of(shop.shop)
    narrowed = Selection(FAMILY, body="suv")
    found = review_of(shop.shop, narrowed, life_table(shop.shop, version), version)
    assert found.fixed_on is None


def test_what_is_found_is_told_to_every_owner_once_and_in_the_shops_hours(shop: ShopPeople) -> None:
    night = NOW.replace(hour=2)
    fix_review(shop=shop.shop, now=night)
    told = Message.objects.filter(about="review")
    claim = told.get(subject__startswith="Places left without post-heat fail about")
    assert claim.to == shop.owner.user.email
    assert claim.not_before == when_to_send(shop.shop, night)
    assert "only a trial can show" in claim.text
    assert f"/s/{shop.shop.slug}/review/places/?" in claim.text
    count = told.count()
    fix_review(shop=shop.shop, now=NOW + timedelta(days=1), asked_for=True)
    fix_due(NEXT_MONTH)
    assert told.count() == count


def test_a_bad_lot_is_told_with_its_counts(shop: ShopPeople) -> None:
    lot = Lot.objects.get(number="61-901")
    of_lot = Life.objects.filter(place__piece__lot=lot, clean_day__isnull=False)
    of_lot.update(failed_day=400, clean_day=90, ended="failed", ended_day=400)
    fix_review(shop=shop.shop, now=NOW)
    message = Message.objects.get(subject="Lot 61-901 fails more often than others")
    assert "places of lot 61-901 were found failing on" in message.text
    assert Message.objects.filter(subject="The surface of lot 61-901 fails more often than others").exists()
    assert "lot" in {a["kind"] for a in newest_ends().alerts}


def test_whose_work_slips_is_told_only_where_the_shop_shows_figures_by_installer(shop: ShopPeople) -> None:
    whole, one = (News("drift", FAMILY, "ends", (who,), "", "2026-03-04") for who in ("", "Second Installer"))
    assert _may_be_told(whole, shop.shop) and not _may_be_told(one, shop.shop)
    shop.shop.installer_figures = True
    assert _may_be_told(one, shop.shop)


def test_the_same_slipping_moved_by_a_vehicle_is_no_new_fact() -> None:
    facts = {News("drift", FAMILY, "ends", ("",), "", day).fact for day in ("2026-03-04", "2026-03-09")}
    assert len(facts) == 1
    assert News("drift", FAMILY, "ends", ("",), "", "2027-03-04").fact not in facts
    assert News("lot", FAMILY, "ends", ("",)).fact not in facts


def test_the_tick_does_all_of_it(shop: ShopPeople) -> None:
    results = {step.name: step for step in tick.run(NOW)}
    assert results["kept lives"].ok and results["fixed reviews"].ok and results["likelihoods"].ok
    assert results["fixed reviews"].said == "2"
