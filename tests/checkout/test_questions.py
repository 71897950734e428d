"""Starting a real shop: each answer is checked, asked again when it will not do, and never lost."""

import argparse
from collections.abc import Iterable
from pathlib import Path

import pytest

from shopwarranty.checkout import answers, options
from shopwarranty.checkout.questions import NOTHING_GIVEN, FirstShop, Terminal, ask_for_shop
from shopwarranty.checkout.screen import Refusal

PASSWORD = "twelve dull mirrors"
GIVEN = [
    *("--name", "Kiln Lane Film", "--slug", "kiln", "--public-url", "https://kiln.example"),
    *("--time-zone", "America/New_York", "--units", "us", "--legal-profile", "us"),
    *("--owner", "owner@kiln.example"),
]
SHOP = FirstShop(
    name="Kiln Lane Film",
    slug="kiln",
    public_url="https://kiln.example",
    time_zone="America/New_York",
    units="us",
    legal_profile="us",
    owner="owner@kiln.example",
    password=PASSWORD,
)


def chosen(*arguments: str) -> argparse.Namespace:
    return options.quickstart(["--empty", *arguments])


def terminal(
    lines: Iterable[str], hidden: Iterable[str] = (PASSWORD, PASSWORD)
) -> tuple[Terminal, list[str]]:
    """A person who types these lines, and what was said to them in between."""
    typed, secret, said = iter(lines), iter(hidden), list[str]()
    return Terminal(lambda _: next(typed), lambda _: next(secret), lambda _, text: said.append(text)), said


NOBODY = Terminal(None, lambda _: "")


def test_everything_given_as_options_asks_nothing() -> None:
    assert ask_for_shop(chosen(*GIVEN), PASSWORD, NOBODY) == SHOP


def test_a_person_is_asked_for_everything() -> None:
    lines = ["Kiln Lane Film", "kiln", "kiln.example", "America/New_York", "us", "US", "owner@kiln.example"]
    person, said = terminal(lines)
    assert ask_for_shop(chosen(), "", person) == SHOP
    assert said == []


def test_an_answer_that_will_not_do_is_explained_and_asked_again() -> None:
    lines = [
        *("", "Kiln Lane Film", "Kiln Lane", "kiln"),
        *("http://kiln.example", "https://kiln.example/shop", "https://kiln.example"),
        *("New York", "America/New_York", "inches", "us", "us", "owner", "owner@kiln.example"),
    ]
    person, said = terminal(lines, ["short", PASSWORD, "another password", PASSWORD, PASSWORD])
    assert ask_for_shop(chosen(), "", person) == SHOP
    assert len(said) == 9
    assert any("America/New_York" in text for text in said)


def test_empty_answers_take_what_is_suggested() -> None:
    person, _ = terminal(["Kiln Lane Film", "", "", "", "", "", "owner@kiln.example"])
    shop = ask_for_shop(chosen(), "", person)
    assert (shop.slug, shop.public_url, shop.units, shop.legal_profile) == (
        "kiln-lane-film",
        "",
        "metric",
        "other",
    )
    assert shop.time_zone == answers.time_zone_here()


def test_after_a_refusal_the_earlier_answers_are_suggested() -> None:
    person, _ = terminal(["", "kiln-lane", "", "", "", "", ""])
    shop = ask_for_shop(NOTHING_GIVEN, PASSWORD, person, SHOP)
    assert shop == FirstShop(**{**{key: getattr(SHOP, key) for key in SHOP.__slots__}, "slug": "kiln-lane"})


def test_where_nobody_can_be_asked_the_missing_option_is_named() -> None:
    with pytest.raises(Refusal, match="please give --owner"):
        ask_for_shop(chosen("--name", "Kiln Lane Film"), "", NOBODY)


def test_where_nobody_can_be_asked_no_password_means_a_sign_in_link() -> None:
    shop = ask_for_shop(chosen("--name", "Kiln Lane Film", "--owner", "owner@kiln.example"), "", NOBODY)
    assert shop.password == ""


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (["--slug", "Kiln Lane"], "--slug"),
        (["--public-url", "http://kiln.example"], "--public-url"),
        (["--time-zone", "Mars/Base"], "--time-zone"),
        (["--legal-profile", "moon"], "--legal-profile"),
    ],
)
def test_an_option_that_will_not_do_is_named(arguments: list[str], named: str) -> None:
    with pytest.raises(Refusal, match=named):
        ask_for_shop(chosen(*GIVEN, *arguments), PASSWORD, NOBODY)


def test_the_password_is_no_option_of_a_command_line() -> None:
    assert PASSWORD not in " ".join(SHOP.options())


@pytest.mark.parametrize(
    ("name", "slug"),
    [
        ("Kiln Lane Film", "kiln-lane-film"),
        ("Señal & Película, S.L.", "senal-pelicula-s-l"),
        ("  --  ", "shop"),
        ("電子", "shop"),
        ("a" * 60, "a" * 40),
    ],
)
def test_the_suggested_short_name_is_always_allowed(name: str, slug: str) -> None:
    assert answers.slug(answers.slug_from(name)) == slug


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("", ""),
        ("https://Warranty.Shop.Example/", "https://warranty.shop.example"),
        ("warranty.shop.example", "https://warranty.shop.example"),
        ("https://warranty.shop.example:8443", "https://warranty.shop.example:8443"),
    ],
)
def test_a_public_address_is_kept_as_a_server_with_https(typed: str, kept: str) -> None:
    assert answers.public_url(typed) == kept


@pytest.mark.parametrize(
    "typed",
    ["http://shop.example", "https://", "https://shop", "https://a b.example", "https://me@shop.example"],
)
def test_a_public_address_that_customers_could_not_reach_is_refused(typed: str) -> None:
    with pytest.raises(answers.Wrong):
        answers.public_url(typed)


def test_the_machines_own_zone_is_suggested(tmp_path: Path) -> None:
    (tmp_path / "timezone").write_text("Europe/Berlin\n")
    assert answers.time_zone_here(tmp_path) == "Europe/Berlin"
    (tmp_path / "timezone").write_text("Etc/UTC\n")
    assert answers.time_zone_here(tmp_path) == "UTC"
    assert answers.time_zone_here(tmp_path / "missing") == "UTC"
