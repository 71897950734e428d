"""Lives kept packed are the lives of the record, and are read only while they still are."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.core.management import CommandError, call_command

from shopwarranty.analysis.packing import BadBlock
from shopwarranty.defects.lives import Rebuilt
from shopwarranty.defects.models import Life
from shopwarranty.jobs.models import FieldValue, Place, ShopField
from shopwarranty.review.kept_lives import keep_all, keep_lives, kept_table
from shopwarranty.review.lives import load, version_of, versions
from shopwarranty.review.models import KeptBlock, KeptLives
from shopwarranty.review.packed_table import packed, same, unpacked
from shopwarranty.review.reviewing import life_table
from shopwarranty.shops.models import Change, Shop
from shopwarranty.shops.scope import every_shop, shop_scope
from tests.conftest import NOW, ShopPeople, World

from . import reading
from .bulk import many_jobs

COMMAND = "shopwarranty.review.management.commands.rebuild_lives"


@pytest.fixture
def shop(ours: ShopPeople) -> ShopPeople:
    many_jobs(12, [ours.installer], per_year=0.05)
    field = ShopField.objects.create(key="lamp", name="Lamp", level="place", kind="number", unit="lx")
    for n, place in enumerate(Place.objects.order_by("pk")[:60]):
        FieldValue.objects.create(field=field, place=place, value=str(400 + n), basis="measured")
    return ours


def test_a_table_comes_back_whole_whatever_the_size_of_its_blocks(shop: ShopPeople) -> None:
    table = load(shop.shop)
    for size in (7, 100, 50_000):
        kept = packed(table, size)
        assert len(kept.blocks) == -(-len(table) // size)
        assert same(table, unpacked(kept.head, kept.blocks))
    assert len(table.columns) > 30
    assert "own:lamp" in table.own_fields


def test_an_empty_shop_keeps_its_columns(ours: ShopPeople) -> None:
    table = load(ours.shop)
    kept = packed(table)
    assert same(table, unpacked(kept.head, kept.blocks))
    assert list(unpacked(kept.head, kept.blocks).columns) == list(table.columns)


def test_one_other_value_anywhere_is_a_difference(shop: ShopPeople) -> None:
    before = load(shop.shop)
    place = Place.objects.filter(post_heated=True).first()
    assert place is not None
    Place.objects.filter(pk=place.pk).update(post_heated=False)
    assert not same(before, load(shop.shop))
    Place.objects.filter(pk=place.pk).update(post_heated=True)
    assert same(before, load(shop.shop))
    Life.objects.filter(pk=before.life[3]).update(entry_day=1)
    assert not same(before, load(shop.shop))


def test_pages_read_kept_lives_without_asking_the_record_for_them(
    shop: ShopPeople, django_assert_max_num_queries: Any
) -> None:
    keep_lives(shop.shop, NOW)
    version = version_of(shop.shop)
    with django_assert_max_num_queries(2):
        table = life_table(shop.shop, version)
    assert same(table, load(shop.shop))


def test_the_page_says_the_same_from_kept_lives_and_from_the_record(shop: ShopPeople) -> None:
    fresh = reading.as_json(shop)
    keep_lives(shop.shop, NOW)
    cache.clear()
    assert reading.as_json(shop) == fresh


def test_once_the_record_has_changed_kept_lives_are_not_read(shop: ShopPeople) -> None:
    keep_lives(shop.shop, NOW)
    life = Life.objects.filter(failed_day=None, clean_day__isnull=False).first()
    assert life is not None
    Life.objects.filter(pk=life.pk).update(clean_day=(life.clean_day or 0) + 1)
    assert kept_table(version_of(shop.shop)) is None
    assert same(life_table(shop.shop, version_of(shop.shop)), load(shop.shop))


def test_the_tick_packs_what_changed_and_nothing_else(shop: ShopPeople) -> None:
    lives = Life.objects.count()
    assert keep_all(NOW) == lives
    assert keep_all(NOW + timedelta(minutes=1)) == 0
    change_a_life(2, noted_at=NOW + timedelta(minutes=4))
    KeptLives.objects.update(took_s=30.0)
    assert keep_all(NOW + timedelta(minutes=5)) == 0, "half a minute of work is worth doing every ten"
    assert keep_all(NOW + timedelta(minutes=11)) == lives
    assert KeptBlock.objects.count() == 1


def test_what_no_history_tells_of_is_packed_within_the_hour(
    shop: ShopPeople, django_assert_num_queries: Any
) -> None:
    lives, quiet = Life.objects.count(), NOW + timedelta(minutes=5)
    assert keep_all(NOW) == lives
    assert keep_all(quiet) == 0
    change_a_life(3)
    with django_assert_num_queries(2):  # what is kept, and whose history goes on: no life is summed up
        assert keep_all(quiet + timedelta(minutes=5)) == 0
    assert keep_all(quiet + timedelta(minutes=61)) == lives


def change_a_life(entry_day: int, noted_at: datetime | None = None) -> None:
    life = Life.objects.order_by("pk")[0]
    Life.objects.filter(pk=life.pk).update(entry_day=entry_day)
    if noted_at is not None:
        Change.objects.create(at=noted_at, who="x", act="changed", table="jobs_place", row=life.place_id)


def test_shops_are_asked_for_all_at_once(
    world: World, shop: ShopPeople, django_assert_num_queries: Any
) -> None:
    with every_shop(), django_assert_num_queries(6):
        found = versions(list(Shop.objects.all()))
    for people in (world.ours, world.theirs):
        with shop_scope(people.shop):
            assert found[people.shop] == version_of(people.shop)


def test_the_command_finds_packed_lives_that_are_not_the_record(shop: ShopPeople, monkeypatch: Any) -> None:
    keep_lives(shop.shop, NOW)
    monkeypatch.setattr(f"{COMMAND}.differences", Rebuilt)
    monkeypatch.setattr(f"{COMMAND}.rebuild_lives", Rebuilt)
    call_command("rebuild_lives", "--check")
    block = KeptBlock.objects.get()
    packed_now = bytearray(bytes(block.packed))
    packed_now[-1] ^= 1
    KeptBlock.objects.filter(pk=block.pk).update(packed=bytes(packed_now))
    with pytest.raises(CommandError, match="differ"):
        call_command("rebuild_lives", "--check")
    call_command("rebuild_lives")
    call_command("rebuild_lives", "--check")


def test_bytes_that_are_no_lives_are_refused(shop: ShopPeople) -> None:
    kept = packed(load(shop.shop))
    with pytest.raises(BadBlock):
        unpacked(kept.head, [kept.blocks[0][:-1]])
    short = {**kept.head, "columns": kept.head["columns"][:-1]}
    with pytest.raises(ValueError, match="more columns"):
        unpacked(short, kept.blocks)
