"""Whatever the program writes into its history is said in the reader's language."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.apps import apps
from django.utils.translation import override

from shopwarranty.jobs.models import Holding
from shopwarranty.shops.act_words import ACTS, act_words
from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.templatetags.acts import register
from tests.conftest import NOW, ShopPeople

PROGRAM = Path(__file__).parents[2] / "shopwarranty"
WRITE = {"record_change", "change_row", "Change"}
HELPERS = {"_write": 3, "_after": 1}
"""Those that hand an act on, and where it stands among what they are given."""


def written() -> Iterator[str]:
    """Every act that stands as words in a call that writes history, or in a constant that it names."""
    for path in (path for path in PROGRAM.rglob("*.py") if "checkout" not in path.parts):
        tree = ast.parse(path.read_text())
        constants = {
            target.id: node.value.value
            for node in ast.walk(tree)
            if isinstance(node, ast.Assign | ast.AnnAssign) and isinstance(node.value, ast.Constant)
            for target in (node.targets if isinstance(node, ast.Assign) else [node.target])
            if isinstance(target, ast.Name)
        }
        for call in (node for node in ast.walk(tree) if isinstance(node, ast.Call)):
            for given in acts_of(call):
                named = constants.get(given.id) if isinstance(given, ast.Name) else None
                found = (each.value for each in ast.walk(given) if isinstance(each, ast.Constant))
                yield from (word for word in [named, *found] if isinstance(word, str) and word)


def acts_of(call: ast.Call) -> Iterator[ast.expr]:
    name = getattr(call.func, "attr", getattr(call.func, "id", ""))
    if name in WRITE:
        for keyword in call.keywords:
            if keyword.arg == "act" and not isinstance(keyword.value, ast.JoinedStr):
                yield keyword.value.body if isinstance(keyword.value, ast.IfExp) else keyword.value
                if isinstance(keyword.value, ast.IfExp):
                    yield keyword.value.orelse
    elif name in HELPERS and len(call.args) > HELPERS[name]:
        yield call.args[HELPERS[name]]
    elif name == "_write" and call.args:
        yield call.args[-1]


def states() -> Iterator[str]:
    for model in apps.get_models():
        if model.__module__.startswith("shopwarranty."):
            for field in model._meta.fields:
                if field.name == "state":
                    yield from (str(value) for value, _ in field.flatchoices)


def put_together() -> Iterator[str]:
    for role in Holding.Role.values:
        yield from (f"{role} of the vehicle", f"no {role}")
    yield from ("jobs exported", "findings exported", "copied from the last job, taken back")


def test_every_act_has_words() -> None:
    acts = {*written(), *states(), *put_together()}
    assert len(acts) > 150, "the scan finds nothing any more"
    assert acts - set(ACTS) == set()


@pytest.mark.parametrize("language", ["de", "es"])
def test_they_are_translated(language: str) -> None:
    with override("en"):
        english = {act: act_words(act) for act in ACTS}
    with override(language):
        same = {act for act, words in english.items() if act_words(act) == words}
    assert same == set()


def test_what_is_no_known_act_stays_as_it_was_written() -> None:
    assert act_words("More than the roll holds?") == "More than the roll holds?"
    assert register.filters["act_words"] is act_words


def test_the_history_page_speaks_the_readers_language(ours: ShopPeople) -> None:
    record_change(row=ours.owner, act="roles changed", actor=Actor.of(ours.owner), at=NOW)
    type(ours.owner.user).objects.filter(pk=ours.owner.user_id).update(language="de")
    page = ours.client(ours.owner).get(f"/s/{ours.shop.slug}/history/").content.decode()
    assert "Rollen geändert" in page and "roles changed" not in page.lower()
