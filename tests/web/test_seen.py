"""Two people with one form open: nobody's work is wiped out unseen."""

import json
from typing import Any

import pytest
from django import forms
from django.http import QueryDict
from django.urls import reverse

from shopwarranty.jobs import actions
from shopwarranty.jobs.models import Vehicle
from shopwarranty.shops.history import Actor
from shopwarranty.shops.scope import shop_scope
from shopwarranty.web.fields import DayField, YesNoNotRecorded
from shopwarranty.web.seen import AsSeen
from tests import builders
from tests.conftest import NOW, ShopPeople, World


class Sheet(AsSeen):
    name = forms.CharField(required=False)
    note = forms.CharField(required=False, widget=forms.Textarea)
    on = DayField(required=False)
    kept = YesNoNotRecorded()
    parts = forms.MultipleChoiceField(
        choices=[("a", "Arch"), ("b", "Bumper")], required=False, widget=forms.CheckboxSelectMultiple
    )


def sent_back(form: AsSeen, **typed: list[str]) -> QueryDict:
    """What a browser sends of this page when only `typed` was touched."""
    data = QueryDict(mutable=True)
    for name, texts in {**form.stands, **typed}.items():
        data.setlist(name, texts)
    data["seen"] = form["seen"].value()
    return data


STORED: dict[str, Any] = {"name": "Ada", "note": "two\nlines", "on": None, "kept": None, "parts": ["a"]}


def test_what_the_reader_left_alone_follows_what_somebody_else_saved() -> None:
    data = sent_back(Sheet(initial=STORED), name=["Ada B"])
    later = Sheet(data, initial={**STORED, "note": "three", "kept": True, "parts": ["b"]})
    assert later.is_valid()
    assert later.cleaned_data == {**STORED, "name": "Ada B", "note": "three", "kept": True, "parts": ["b"]}


def test_what_both_changed_is_refused_once_with_both_values() -> None:
    data = sent_back(Sheet(initial=STORED), parts=["a", "b"])
    later = Sheet(data, initial={**STORED, "parts": []})
    assert later.errors["parts"] == [
        "Meanwhile somebody saved “nothing”; you wrote “Arch, Bumper”. Save again to keep yours."
    ]
    again = data.copy()
    again["seen"] = later["seen"].value()
    once_more = Sheet(again, initial={**STORED, "parts": []})
    assert once_more.is_valid() and once_more.cleaned_data["parts"] == ["a", "b"]


def test_both_who_wrote_the_same_agree() -> None:
    data = sent_back(Sheet(initial=STORED), name=["Bea"])
    assert Sheet(data, initial={**STORED, "name": "Bea"}).is_valid()


@pytest.mark.parametrize("said", ["", "{", "[1]", json.dumps({"other": ["x"]})])
def test_a_page_that_does_not_say_what_was_seen_is_saved_as_sent(said: str) -> None:
    data = sent_back(Sheet(initial=STORED), name=["Bea"])
    data["seen"] = said
    form = Sheet(data, initial={**STORED, "name": "Cy"})
    assert form.is_valid() and form.cleaned_data["name"] == "Bea"


def test_a_vehicle_form_held_open_does_not_undo_a_colleagues_change(world: World) -> None:
    with shop_scope(world.ours.shop):
        vehicle = builders.a_vehicle(colour="blue")
    client = world.ours.client(world.ours.owner)
    address = reverse("change-vehicle", args=[world.ours.shop.slug, vehicle.pk])
    page = client.get(address).context["form"]
    with shop_scope(world.ours.shop):
        Vehicle.objects.filter(pk=vehicle.pk).update(colour="red", model="Heron")
    answer = client.post(address, sent_back(page, colour=["green"]).dict())
    assert "Meanwhile somebody saved “red”; you wrote “green”." in answer.content.decode()
    client.post(address, sent_back(answer.context["form"], colour=["green"]).dict())
    with shop_scope(world.ours.shop):
        vehicle.refresh_from_db()
    assert (vehicle.colour, vehicle.model) == ("green", "Heron")


def test_two_saves_at_the_same_moment_are_not_both_taken(ours: ShopPeople) -> None:
    vehicle = builders.a_vehicle(colour="blue")
    Vehicle.objects.filter(pk=vehicle.pk).update(colour="red")
    with pytest.raises(actions.StaleSave):
        actions.change_vehicle(vehicle=vehicle, values={"colour": "green"}, actor=Actor("a test"), now=NOW)
