"""Export, into an empty shop of the same time zone, export again: the same bytes, whatever the units.

In another zone the day of a job may be another one, and with it who held the vehicle on that day.
"""

from collections import Counter
from io import StringIO
from pathlib import Path
from random import Random

import pytest
from django.core.management import call_command
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from shopwarranty.defects.lives import VALUES, rebuild_lives
from shopwarranty.defects.models import Life
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import shop_scope
from tests import builders
from tests.conftest import NOW, World

from .any_shop import AnyShop
from .flat_files import exported, files, rows_of, take_in

WHERE = ("job__ref", "place__piece__panel_work__panel", "place__piece__number", "place__key", "number")


def an_empty_shop(**more: object) -> Shop:
    values = {"slug": "empty", "name": "Empty", "time_zone": "UTC", "units": "metric", **more}
    return Shop.objects.create(created_at=NOW, **values)


def again(text: tuple[str, str], shop: Shop, folder: Path) -> tuple[str, str]:
    """Into the shop and out of it."""
    take_in(files(folder, *text), shop)
    return exported(shop)


@pytest.mark.postgres
def test_a_plain_shop_comes_back_byte_for_byte(world: World, tmp_path: Path) -> None:
    with shop_scope(world.ours.shop):
        job = builders.a_job(
            panels=("bonnet", "left-front-door"),
            handed_over_on=builders.days_ago(40),
            installer=world.ours.installer,
        )
        builders.looked_at(job, builders.days_ago(26), {"front": 2}, unseen=["handle"])
        builders.a_job(handed_over_on=builders.days_ago(10))
        builders.a_job(panels=())
    first = exported(world.ours.shop)
    assert again(first, an_empty_shop(), tmp_path) == first


ANY_SHOP = settings(
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    phases=[Phase.explicit, Phase.generate],
)


@settings(ANY_SHOP, max_examples=12)
@given(seed=st.integers(0, 2**32 - 1))
def test_any_shop_comes_back_byte_for_byte_and_with_the_same_lives(
    seed: int, db: None, tmp_path_factory: pytest.TempPathFactory
) -> None:
    come_back(seed, tmp_path_factory)


@pytest.mark.long
@settings(ANY_SHOP, max_examples=300)
@given(seed=st.integers(0, 2**32 - 1))
def test_three_hundred_shops_come_back_byte_for_byte_and_with_the_same_lives(
    seed: int, db: None, tmp_path_factory: pytest.TempPathFactory
) -> None:
    come_back(seed, tmp_path_factory)


def come_back(seed: int, folders: pytest.TempPathFactory) -> None:
    chance = Random(seed)
    zones = ("UTC", "America/New_York", "Asia/Tokyo")
    slug = f"s{Shop.objects.count()}"
    first_shop = an_empty_shop(slug=slug, time_zone=chance.choice(zones), units="us")
    with shop_scope(first_shop):
        AnyShop(chance).fill(4)
        rebuild_lives()
    first = exported(first_shop)
    same_zone = an_empty_shop(slug=f"{slug}-a", time_zone=first_shop.time_zone)
    assert again(first, same_zone, folders.mktemp("same")) == first
    assert lives(same_zone) == lives(first_shop)
    elsewhere = an_empty_shop(slug=f"{slug}-b", time_zone=chance.choice(zones), units="us")
    jobs, findings = again(first, elsewhere, folders.mktemp("elsewhere"))
    assert (but_who_held(jobs), findings) == (but_who_held(first[0]), first[1])


def but_who_held(jobs: str) -> list[dict[str, str]]:
    return [
        {name: cell for name, cell in row.items() if not name.startswith(("holder", "plate"))}
        for row in rows_of(jobs)
    ]


def lives(shop: Shop) -> Counter[tuple[object, ...]]:
    """Every life by what it is of. Which of two equally grave defects decided it is left out."""
    with shop_scope(shop):
        values = [name for name in VALUES if name not in ("job_id", "defect_id")]
        return Counter(Life.objects.values_list(*WHERE, *values))


def test_the_demo_shop_comes_back_byte_for_byte(db: None, tmp_path: Path) -> None:
    call_command("load_demo", today="2026-11-25", stdout=StringIO())
    demo = Shop.objects.get(slug="demo")
    first = exported(demo)
    assert len(rows_of(first[0])) > 1000
    other = an_empty_shop(time_zone=demo.time_zone)
    assert again(first, other, tmp_path) == first
    assert lives(other) == lives(demo)
