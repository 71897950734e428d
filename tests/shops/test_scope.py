"""A shop's rows are seen and written only inside that shop's scope; the database holds the same rule."""

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, transaction
from django.db.models import UniqueConstraint

from shopwarranty.jobs.models import Job, Vehicle
from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.models import Bay, Change
from shopwarranty.shops.rows import ShopOwned
from shopwarranty.shops.scope import OtherShopsRow, OutsideShopScope, every_shop, shop_scope
from shopwarranty.shops.triggers import wanted
from tests.conftest import NOW, ShopPeople, World

pytestmark = pytest.mark.postgres


def test_reading_outside_a_scope_raises(world: World) -> None:
    with pytest.raises(OutsideShopScope):
        Bay.objects.count()


def test_a_shop_sees_only_its_own_rows(world: World) -> None:
    with shop_scope(world.ours.shop):
        assert {bay.shop_id for bay in Bay.objects.all()} == {world.ours.shop.pk}
    with every_shop():
        assert Bay.objects.count() == 2


def test_a_new_row_takes_the_shop_in_scope(ours: ShopPeople) -> None:
    assert Bay.objects.create(name="Bay 9").shop_id == ours.shop.pk


def test_writing_another_shops_row_is_refused(world: World) -> None:
    with shop_scope(world.theirs.shop):
        bay = Bay.objects.get()
    with shop_scope(world.ours.shop), pytest.raises(OtherShopsRow):
        bay.save()


def test_the_database_refuses_a_link_to_another_shops_row_even_in_bulk(world: World) -> None:
    with shop_scope(world.theirs.shop):
        vehicle = Vehicle.objects.create(body_style="suv")
    job = Job(ref="1", vehicle=vehicle, started_at=NOW, entered_at=NOW)
    with (
        shop_scope(world.ours.shop),
        pytest.raises(IntegrityError, match="another shop"),
        transaction.atomic(),
    ):
        Job.objects.bulk_create([job])


def test_the_database_refuses_moving_a_row_to_another_shop(world: World) -> None:
    with pytest.raises(IntegrityError, match="cannot move"), transaction.atomic(), every_shop():
        Bay.objects.filter(shop=world.theirs.shop).update(shop=world.ours.shop)


def test_history_is_never_changed_or_deleted(ours: ShopPeople) -> None:
    change = record_change(row=ours.owner, act="renamed", actor=Actor.of(ours.owner), at=NOW, why="moved")
    with pytest.raises(IntegrityError, match="kept as it is"), transaction.atomic():
        Change.objects.filter(pk=change.pk).update(why="something else")
    with pytest.raises(IntegrityError, match="kept as it is"), transaction.atomic():
        Change.objects.filter(pk=change.pk).delete()


@pytest.mark.django_db
def test_every_trigger_that_the_models_want_is_in_the_database() -> None:
    if connection.vendor == "sqlite":
        query = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    else:
        query = "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal"
    with connection.cursor() as cursor:
        cursor.execute(query)
        there = {name for (name,) in cursor.fetchall()}
    assert {trigger.name for trigger in wanted()} - there == set()


def test_every_shop_table_has_an_index_that_leads_with_the_shop() -> None:
    for model in apps.get_models():
        if issubclass(model, ShopOwned):
            leads = [index.fields[0] for index in model._meta.indexes]
            unique = [c for c in model._meta.constraints if isinstance(c, UniqueConstraint)]
            leads += [constraint.fields[0] for constraint in unique if constraint.fields]
            assert "shop" in leads, f"{model.__name__} has no index that starts with the shop"
