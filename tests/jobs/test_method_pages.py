"""Methods are written by owners, version by version; the old ones stay."""

from typing import Any

import pytest
from django.urls import reverse

from shopwarranty.jobs.actions import add_method
from shopwarranty.jobs.models import MethodVersion, ShopField
from shopwarranty.shops.history import Actor
from tests.conftest import NOW, ShopPeople


def url(name: str, ours: ShopPeople, *args: Any) -> str:
    return reverse(name, args=[ours.shop.slug, *args])


def test_a_method_is_written_in_the_shops_units_and_stored_in_si(ours: ShopPeople) -> None:
    form = {"name": "Full front", "edge.post_heated": "yes", "edge.post_heat_c": "203", "edge.passes": "2"}
    answer = ours.client(ours.owner).post(url("new-method", ours), form | {"edge.wrap_in_wanted_mm": "0.3"})
    version = MethodVersion.objects.get()
    assert answer["Location"] == url("method-version", ours, version.pk)
    assert version.values["edge"]["post_heated"] is True
    assert version.values["edge"]["post_heat_c"] == pytest.approx(95.0)
    assert version.values["edge"]["wrap_in_wanted_mm"] == pytest.approx(7.62)
    page = ours.client(ours.desk).get(answer["Location"]).content.decode()
    assert "203" in page and "not a work instruction" in page


def test_what_is_left_open_is_not_said(ours: ShopPeople) -> None:
    ours.client(ours.owner).post(url("new-method", ours), {"name": "Bare", "panel.washed": ""})
    assert MethodVersion.objects.get().values == {}


def test_a_new_version_starts_from_the_newest_and_leaves_it_as_it_was(ours: ShopPeople) -> None:
    values = {"edge": {"passes": 2}, "panels": {"front-door": {"edge": {"passes": 3}}}}
    first = add_method(name="Full front", values=values, actor=Actor.of(ours.owner), now=NOW)
    client = ours.client(ours.owner)
    page = client.get(url("new-method-version", ours, first.method_id))
    assert page.context["form"]["edge.passes"].value() == 2
    client.post(url("new-method-version", ours, first.method_id), {"edge.passes": "4", "note": "one more"})
    newest = MethodVersion.objects.get(number=2)
    assert newest.values == {"edge": {"passes": 4}, "panels": values["panels"]}
    first.refresh_from_db()
    assert first.values == values


def test_a_name_that_is_taken_is_said_and_what_was_typed_stays(ours: ShopPeople) -> None:
    add_method(name="Full front", values={}, actor=Actor.of(ours.owner), now=NOW)
    answer = ours.client(ours.owner).post(url("new-method", ours), {"name": "full front", "edge.passes": "7"})
    assert "There is a method of that name" in answer.content.decode()
    assert 'value="7"' in answer.content.decode()


def test_a_field_of_the_shop_is_added_and_asked_no_more(ours: ShopPeople) -> None:
    client = ours.client(ours.owner)
    form = {"name": "Bay door open", "level": "job", "kind": "choice", "choices": "yes\nno\nhalf"}
    client.post(url("new-field", ours), form)
    field = ShopField.objects.get()
    assert field.choices == ["yes", "no", "half"]
    client.post(url("field-retire", ours, field.pk))
    field.refresh_from_db()
    assert field.retired_at is not None


def test_a_list_with_one_answer_is_refused(ours: ShopPeople) -> None:
    form = {"name": "Bay", "level": "job", "kind": "choice", "choices": "one"}
    answer = ours.client(ours.owner).post(url("new-field", ours), form)
    assert "at least two different answers" in answer.content.decode()
    assert not ShopField.objects.exists()


def test_only_an_owner_writes_methods(ours: ShopPeople) -> None:
    for member in (ours.installer, ours.desk):
        client = ours.client(member)
        assert client.get(url("methods", ours)).status_code == 200
        assert client.get(url("new-method", ours)).status_code == 403
