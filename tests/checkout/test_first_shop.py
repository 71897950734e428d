"""What quickstart asks for becomes the shop that `add_shop` makes; refusals lose nothing that was typed."""

import io
import sys
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from shopwarranty.checkout import answers, installation, options, questions, quickstart
from shopwarranty.checkout.folder import Checkout
from shopwarranty.checkout.questions import FirstShop, Terminal
from shopwarranty.checkout.screen import Refusal
from shopwarranty.shops.models import Shop, User

PASSWORD = "twelve dull mirrors"
SHOP = FirstShop(
    *("Kiln Lane Film", "kiln", "https://kiln.example", "America/New_York", "us", "us", "Owner@kiln.example"),
    password=PASSWORD,
)


def add(monkeypatch: pytest.MonkeyPatch, password: str | None) -> str:
    said = io.StringIO()
    monkeypatch.setattr(sys, "stdin", io.StringIO(password or ""))
    more = ["--password-stdin"] if password is not None else []
    call_command("add_shop", *SHOP.options(), *more, stdout=said)
    return said.getvalue()


@pytest.mark.django_db
def test_the_answers_become_the_shop_and_the_owner_signs_in_with_the_password(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    said = add(monkeypatch, PASSWORD)
    shop, owner = Shop.objects.get(slug="kiln"), User.objects.get()
    assert (shop.name, shop.public_url, shop.time_zone) == (SHOP.name, SHOP.public_url, SHOP.time_zone)
    assert (shop.units, shop.legal_profile) == ("us", "us")
    assert owner.check_password(PASSWORD)
    assert PASSWORD not in said


@pytest.mark.django_db
def test_without_a_password_a_link_is_printed(monkeypatch: pytest.MonkeyPatch) -> None:
    assert "https://kiln.example/" in add(monkeypatch, None)
    assert not User.objects.get().has_usable_password()


@pytest.mark.django_db
@pytest.mark.parametrize("password", ["", "password123", "owner@kiln.example"])
def test_a_password_that_is_easy_to_guess_is_refused_and_nothing_is_written(
    monkeypatch: pytest.MonkeyPatch, password: str
) -> None:
    with pytest.raises(CommandError, match="--password-stdin") as refused:
        add(monkeypatch, password)
    assert refused.value.returncode == 2
    assert not Shop.objects.exists()
    assert not User.objects.exists()


@pytest.mark.django_db
def test_the_password_of_somebody_who_signs_in_already_is_not_changed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    User.objects.create_user("owner@kiln.example", "three quiet hinges")
    with pytest.raises(CommandError, match="signs in here already"):
        add(monkeypatch, PASSWORD)
    assert User.objects.get().check_password("three quiet hinges")


def test_what_can_be_answered_is_what_a_shop_can_keep() -> None:
    assert set(answers.UNITS) == set(Shop.Units.values)
    assert set(answers.LEGAL_PROFILES) <= set(Shop.LegalProfile.values)


def test_after_a_refusal_everything_is_asked_again_the_password_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hidden = iter(["three quiet hinges"] * 2)
    person = Terminal(lambda _: "", lambda _: next(hidden), lambda *_: None)
    tried: list[FirstShop] = []

    def refuse_once(checkout: Checkout, folder: Path, shop: FirstShop) -> str | None:
        tried.append(shop)
        return "made" if len(tried) > 1 else None

    monkeypatch.setattr(installation, "add_shop", refuse_once)
    monkeypatch.setattr(questions, "this_terminal", lambda: person)
    monkeypatch.setattr(quickstart, "interactive", lambda: True)
    assert quickstart.make_shop(Checkout(tmp_path), tmp_path, SHOP) == "made"
    assert [shop.password for shop in tried] == [PASSWORD, "three quiet hinges"]
    assert tried[1].options() == SHOP.options()


def test_a_refusal_where_nobody_can_be_asked_ends_the_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(installation, "add_shop", lambda *_: None)
    monkeypatch.setattr(quickstart, "interactive", lambda: False)
    with pytest.raises(Refusal, match="not made"):
        quickstart.make_shop(Checkout(tmp_path), tmp_path, SHOP)


def test_a_backup_is_brought_back_instead_of_the_demo_shop(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ran: list[tuple[str, ...]] = []

    def must(_checkout: Checkout, *command: str) -> str:
        ran.append(command)
        return "back\n"

    monkeypatch.setattr(installation, "must", must)
    chosen = options.quickstart(["--restore", "one.backup", "--pass-phrase-file", "phrase", "--no-serve"])
    assert quickstart.fill(Checkout(tmp_path), tmp_path, None, chosen) == "back\n"
    assert ran == [("restore", "one.backup", "--pass-phrase-file", "phrase")]


def test_a_backup_and_an_empty_shop_exclude_each_other() -> None:
    with pytest.raises(SystemExit) as stopped:
        options.quickstart(["--restore", "one.backup", "--empty"])
    assert stopped.value.code == 2
