"""Getting in, belonging, and leaving."""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from shopwarranty.shops import actions
from shopwarranty.shops.forms import HoursForm
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Bay, Change, ClosedDay, Invitation, Member, OpeningHours, Shop, User
from shopwarranty.shops.scope import shop_scope
from tests.conftest import NOW, PASSWORD, ShopPeople, World


def url(name: str, people: ShopPeople, *args: Any) -> str:
    return reverse(name, args=[people.shop.slug, *args])


def invited(ours: ShopPeople, email: str = "new@kiln.example") -> tuple[Invitation, str]:
    return actions.invite(
        email=email, name="New Hand", roles=frozenset({"installer"}), actor=Actor.of(ours.owner), now=NOW
    )


def test_a_new_owner_gets_in_by_a_link_that_works_once(db: None) -> None:
    user = actions.person(email="Owner@New.example", name="An Owner")
    actions.create_shop(slug="new", name="New Shop", owner=user, now=NOW)
    path, client = actions.sign_in_path(user), Client()
    page = client.get(path, follow=True)
    answer = client.post(
        page.redirect_chain[-1][0], {"new_password1": PASSWORD, "new_password2": PASSWORD}, follow=False
    )
    assert answer.status_code == 302 and client.session["_auth_user_id"] == str(user.pk)
    again = Client().get(path, follow=True)
    assert "has been used" in again.content.decode()


def test_the_same_slug_is_not_given_twice(db: None) -> None:
    user = actions.person(email="owner@new.example", name="An Owner")
    actions.create_shop(slug="new", name="New Shop", owner=user, now=NOW)
    with pytest.raises(actions.SlugTaken):
        actions.create_shop(slug="new", name="Other", owner=user, now=NOW)
    assert Shop.objects.get(slug="new").name == "New Shop"


def test_signing_in_with_any_case_of_the_address_works_and_a_wrong_password_says_little(db: None) -> None:
    User.objects.create_user("desk@kiln.example", PASSWORD, name="Desk")
    form = {"username": "Desk@Kiln.example", "password": PASSWORD}
    assert Client().post(reverse("sign-in"), form).status_code == 302
    wrong = Client().post(reverse("sign-in"), {**form, "password": "no"}).content.decode()
    unknown = Client().post(reverse("sign-in"), {**form, "username": "who@x.example"}).content.decode()
    strip = re.compile(r"value=\"[^\"]*\"")
    assert strip.sub("", wrong) == strip.sub("", unknown)


def test_an_invitation_is_joined_with_a_new_password(ours: ShopPeople) -> None:
    _invitation, token = invited(ours)
    client = Client()
    page = client.get(reverse("join", args=[token]))
    assert "Join Kiln Lane Film" in page.content.decode()
    form = {"name": "New Hand", "new_password1": PASSWORD, "new_password2": PASSWORD}
    assert client.post(reverse("join", args=[token]), form).status_code == 302
    member = Member.objects.get(user__email="new@kiln.example")
    assert member.roles == {"installer"}
    assert Client().get(reverse("join", args=[token])).status_code == 404


def test_an_invitation_for_a_known_address_asks_that_person_to_sign_in_first(ours: ShopPeople) -> None:
    User.objects.create_user("known@kiln.example", PASSWORD, name="Known")
    _invitation, token = invited(ours, "known@kiln.example")
    answer = Client().get(reverse("join", args=[token]))
    assert answer.status_code == 302 and answer["Location"].startswith(reverse("sign-in"))


def test_an_invitation_for_somebody_else_says_so_instead_of_going_round_in_circles(ours: ShopPeople) -> None:
    User.objects.create_user("known@kiln.example", PASSWORD, name="Known")
    _invitation, token = invited(ours, "known@kiln.example")
    path, client = reverse("join", args=[token]), ours.client(ours.owner)
    text = client.get(path, follow=True).content.decode()
    assert "This invitation is for known@kiln.example" in text
    answer = client.post(reverse("sign-out"), {"next": path}, follow=True)
    assert answer.redirect_chain[-1][0] == f"{reverse('sign-in')}?next={path}"


def test_an_old_or_withdrawn_invitation_opens_nothing(ours: ShopPeople) -> None:
    invitation, token = invited(ours)
    Invitation.objects.filter(pk=invitation.pk).update(expires_at=NOW - timedelta(days=400))
    assert Client().get(reverse("join", args=[token])).status_code == 404
    invitation, token = invited(ours)
    actions.withdraw_invitation(invitation=invitation, actor=Actor.of(ours.owner), now=NOW)
    assert Client().get(reverse("join", args=[token])).status_code == 404


def test_somebody_who_belongs_already_is_not_invited_again(ours: ShopPeople) -> None:
    with pytest.raises(actions.AlreadyMember):
        invited(ours, ours.desk.user.email)


def test_e38_who_leaves_is_out_at_once_and_keeps_the_name_on_past_work(ours: ShopPeople) -> None:
    client = ours.client(ours.installer)
    assert client.get(url("account", ours)).status_code == 200
    actions.end_membership(member=ours.installer, actor=Actor.of(ours.owner), now=NOW)
    assert client.get(url("account", ours)).status_code == 404
    assert Member.objects.get(pk=ours.installer.pk).name == ours.installer.name


def test_the_last_owner_can_neither_leave_nor_lose_the_role(ours: ShopPeople) -> None:
    actor = Actor.of(ours.owner)
    with pytest.raises(actions.LastOwner):
        actions.end_membership(member=ours.owner, actor=actor, now=NOW)
    with pytest.raises(actions.LastOwner):
        actions.change_member(member=ours.owner, name="x", roles=frozenset({"desk"}), actor=actor, now=NOW)


def test_a_forgotten_password_is_asked_for_without_telling_who_exists(ours: ShopPeople) -> None:
    User.objects.create_user("known@kiln.example", PASSWORD, name="Known")
    answers = [
        Client().post(reverse("forgot"), {"email": who}) for who in ("known@kiln.example", "who@x.example")
    ]
    assert [(a.status_code, a["Location"]) for a in answers] == [(302, reverse("forgot-sent"))] * 2
    assert [m.to for m in mail.outbox] == [["known@kiln.example"]]


def test_shop_settings_are_saved_with_their_history_and_bad_ones_keep_what_was_typed(
    ours: ShopPeople,
) -> None:
    client = ours.client(ours.owner)
    page = client.get(url("shop-settings", ours))
    form = {k: "" if v is None else v for k, v in page.context["form"].initial.items()} | {
        "name": "Kiln Lane Two"
    }
    form.pop("installer_figures")
    assert client.post(url("shop-settings", ours), form).status_code == 302
    change = Change.objects.filter(act="shop settings").get()
    assert (change.before, change.after) == ({"name": "Kiln Lane Film"}, {"name": "Kiln Lane Two"})
    bad = client.post(
        url("shop-settings", ours), form | {"public_url": "http://kiln.example", "name": "Three"}
    )
    assert "starts with https" in bad.content.decode() and "Three" in bad.content.decode()
    ours.shop.refresh_from_db()
    assert ours.shop.name == "Kiln Lane Two"


@pytest.mark.parametrize(
    ("typed", "stretches"),
    [("", 0), ("8:00-17:00", 1), ("8-12, 13-17:30", 2)],
)
def test_opening_hours_are_read_as_people_write_them(typed: str, stretches: int) -> None:
    form = HoursForm({"day_0": typed})
    assert form.is_valid() and len(form.week) == stretches


@pytest.mark.parametrize("typed", ["17:00-8:00", "8:00", "8-12, 11-17", "morning", "8:00-25:00"])
def test_opening_hours_that_make_no_sense_are_named(typed: str) -> None:
    form = HoursForm({"day_2": typed})
    assert not form.is_valid() and list(form.errors) == ["day_2"]


def test_hours_closed_days_and_bays_are_kept(ours: ShopPeople) -> None:
    client = ours.client(ours.owner)
    client.post(url("shop-hours", ours), {"day_0": "8:00-12:00, 13:00-17:00"})
    assert OpeningHours.objects.count() == 2
    client.post(url("close-day", ours), {"on": "2026-12-25", "name": "Holiday"})
    assert ClosedDay.objects.get().name == "Holiday"
    client.post(url("shop-bays", ours), {"names": "Left\nRight"})
    assert list(Bay.objects.filter(retired_at__isnull=True).values_list("name", "position")) == [
        ("Left", 1),
        ("Right", 2),
    ]


def test_pages_of_the_owner_are_closed_to_other_roles(ours: ShopPeople) -> None:
    for name in ("members", "invite", "history", "shop-settings", "shop-hours", "shop-bays"):
        assert ours.client(ours.owner).get(url(name, ours)).status_code == 200, name
        for member in (ours.desk, ours.installer):
            assert ours.client(member).get(url(name, ours)).status_code == 403, name


def test_another_shops_owner_finds_nothing_here(world: World) -> None:
    client = world.theirs.client(world.theirs.owner)
    assert client.get(url("members", world.ours)).status_code == 404
    with shop_scope(world.ours.shop):
        pk = world.ours.desk.pk
    assert client.get(url("member", world.theirs, pk)).status_code == 404
