"""What the bay is told to look at first comes from the shop's own figures, once a day."""

import html
from datetime import timedelta
from typing import Any

from django.core.cache import cache

from shopwarranty.defects.likeliest import in_order
from shopwarranty.defects.models import LiftLikelihood
from shopwarranty.inspections.actions import start_visit
from shopwarranty.jobs.models import Place
from shopwarranty.review.apps import likelihoods
from shopwarranty.review.likelihoods import keep_likelihoods
from shopwarranty.shops.history import Actor
from tests.conftest import NOW, ShopPeople, World

from .bulk import many_jobs


def test_what_the_review_found_marks_the_places_on_the_page_of_a_check(ours: ShopPeople) -> None:
    """From the worker's step to the phone: no row made up in between, and the likeliest place comes first."""
    many_jobs(80, [ours.installer], per_year=0.05)
    assert likelihoods(NOW) > 1000
    likeliest = LiftLikelihood.objects.select_related("place__piece__panel_work").order_by("rank")[0]
    place, work = likeliest.place, likeliest.place.piece.panel_work
    visit = start_visit(
        job=work.job, origin="walk_in", actor=Actor.of(ours.installer), now=NOW, today=NOW.date()
    )
    answer = ours.client(ours.installer).get(f"/s/{ours.shop.slug}/visits/{visit.pk}/panels/{work.pk}/")
    shown = answer.context["page"].places
    assert shown[0].pk == place.pk
    assert shown[0].reason == likeliest.reason
    assert "Places left without post-heat fail about" in likeliest.reason
    assert likeliest.reason in html.unescape(answer.content.decode())


def test_places_that_go_with_failures_come_first_with_the_reason(ours: ShopPeople) -> None:
    many_jobs(80, [ours.installer], per_year=0.05)
    assert keep_likelihoods(NOW) > 1000
    kept = LiftLikelihood.objects.select_related("place").order_by("rank")
    heated = [row.place.post_heated for row in kept if row.place.kind != "field"]
    first, last = heated[:200], heated[-200:]
    assert first.count(False) > 5 * max(1, last.count(False))
    assert all(0 < (row.likelihood or 0.0) < 1 for row in kept)
    assert "without post-heat" in kept[0].reason
    piece = kept[0].place.piece_id
    ordered = in_order(list(Place.objects.filter(piece=piece)))
    assert ordered[0][1].startswith("Places left without post-heat fail about")


def test_they_are_worked_out_once_a_day_and_not_at_all_from_few_failures(ours: ShopPeople) -> None:
    many_jobs(4, [ours.installer], per_year=0.001)
    assert keep_likelihoods(NOW) == 0
    many = LiftLikelihood.objects.count()
    assert many == 0
    place = Place.objects.first()
    assert place is not None
    LiftLikelihood.objects.create(place=place, likelihood=0.4, worked_out_at=NOW)
    assert keep_likelihoods(NOW + timedelta(hours=1)) == 0
    assert LiftLikelihood.objects.exists()
    keep_likelihoods(NOW + timedelta(days=1))
    assert not LiftLikelihood.objects.exists()


def test_shops_are_asked_for_all_at_once_and_one_without_lives_is_left_alone(
    world: World, ours: ShopPeople, django_assert_num_queries: Any
) -> None:
    many_jobs(4, [ours.installer], per_year=0.001)
    keep_likelihoods(NOW)
    with django_assert_num_queries(3):
        assert keep_likelihoods(NOW + timedelta(hours=1)) == 0
    assert cache.get(f"review:likelihoods:{world.theirs.shop.pk}") is None
