"""Export, into an empty shop, export again: the same bytes, whatever units and zone either shop has."""

from datetime import timedelta
from pathlib import Path

import pytest

from shopwarranty.desk.flat.checking import Files
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import shop_scope
from tests import builders
from tests.conftest import NOW, World

from .flat_files import exported, files, take_in


def an_empty_shop(**more: object) -> Shop:
    values = {"slug": "empty", "name": "Empty", "time_zone": "UTC", "units": "metric", **more}
    return Shop.objects.create(created_at=NOW, **values)


def again(text: tuple[str, str], shop: Shop, folder: Path) -> tuple[str, str]:
    """Into the shop and out of it."""
    take_in(files(folder, *text), shop)
    return exported(shop)


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
