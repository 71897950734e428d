"""The operator reads all shops and changes no record of any."""

from django.apps import apps
from django.conf import settings
from django.contrib import admin
from django.test import Client
from django.urls import reverse

from shopwarranty.shops import second_step
from shopwarranty.shops.models import Bay, User
from shopwarranty.shops.rows import ShopOwned
from shopwarranty.shops.scope import every_shop
from tests.conftest import World


def operator() -> Client:
    user = User.objects.create_superuser("operator@host.example", name="Operator")
    client = Client()
    client.force_login(user)
    session = client.session
    session[second_step.DONE] = True
    session.save()
    return client


def test_every_table_of_a_shop_is_there_to_read_and_none_to_write(world: World) -> None:
    client = operator()
    for model in apps.get_models():
        if issubclass(model, ShopOwned):
            page = admin.site._registry[model]
            assert not page.has_add_permission(None) and not page.has_change_permission(None)  # type: ignore[arg-type]
            assert not page.has_delete_permission(None)  # type: ignore[arg-type]
            name = f"admin:{model._meta.app_label}_{model._meta.model_name}_changelist"
            assert client.get(reverse(name)).status_code == 200, model


def test_a_row_opens_read_only(world: World) -> None:
    with every_shop():
        bay = Bay.objects.first()
        assert bay is not None
    client = operator()
    address = reverse("admin:shops_bay_change", args=[bay.pk])
    assert client.get(address).status_code == 200
    assert client.post(address, {"name": "Mine now"}).status_code == 403


def test_members_of_a_shop_are_no_operators(world: World) -> None:
    client = world.ours.client(world.ours.owner)
    answer = client.get(f"/{settings.ADMIN_PATH}/")
    assert answer.status_code == 302 and "login" in answer["Location"]


def test_people_can_be_found_and_opened(world: World) -> None:
    client = operator()
    assert client.get(reverse("admin:shops_user_changelist"), {"q": "owner"}).status_code == 200
    assert client.get(reverse("admin:shops_user_change", args=[world.ours.owner.user.pk])).status_code == 200
    assert client.get(reverse("admin:shops_user_add")).status_code == 200
