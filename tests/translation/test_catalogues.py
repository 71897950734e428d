"""What a catalogue says fits what the program asks of it."""

import os
import re
import shutil
from pathlib import Path

import pytest

from . import catalogues
from .catalogues import LANGUAGES, Catalogue, catalogue_of
from .overlooked import overlooked

PLACE = re.compile(r"%\((\w+)\)|(?<!\{)\{(\w*)(?:[:!][^{}]*)?\}(?!\})|%([sdif])\b")
TAG = re.compile(r"</?([a-z]+)\b[^>]*>")


@pytest.fixture
def gettext_is_there() -> None:
    if all(shutil.which(program) for program in catalogues.PROGRAMS):
        return
    assert os.environ.get("CI", "").lower() not in ("1", "true", "yes"), "no gettext on this machine"
    pytest.skip("no gettext on this machine: python3 manage.py test --setup-only")


def committed(language: str) -> Catalogue:
    return catalogues.read(catalogue_of(language).with_suffix(".mo"))


def marks(text: str) -> tuple[set[str], list[str]]:
    places = {match.group(0) for match in PLACE.finditer(text)}
    return places, sorted(match.group(0).split()[0].rstrip(">") for match in TAG.finditer(text))


def asked(key: str | tuple[str, int]) -> str:
    return (key if isinstance(key, str) else key[0]).rpartition("\x04")[2]


@pytest.mark.usefixtures("gettext_is_there")
@pytest.mark.parametrize("language", LANGUAGES)
def test_the_compiled_catalogue_is_the_one_beside_it(language: str, tmp_path: Path) -> None:
    assert committed(language) == catalogues.compiled(catalogue_of(language), tmp_path)


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_translation_fills_the_same_places_and_opens_the_same_tags(language: str) -> None:
    """The singular may say "one" in words; no plural may lack what the English plural names."""
    wrong = [
        (key, words)
        for key, words in committed(language).items()
        if isinstance(key, str) and marks(asked(key)) != marks(words)
    ]
    assert wrong == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_plural_has_both_forms_and_fills_no_place_that_is_not_there(language: str) -> None:
    said = committed(language)
    plurals = {key: words for key, words in said.items() if isinstance(key, tuple)}
    assert {(words, 1 - form) for words, form in plurals} <= set(plurals)
    for (singular, form), words in plurals.items():
        assert words, (singular, form)
        assert marks(words)[1] == marks(singular)[1], (singular, words)


def test_messages_inside_of_f_strings_and_by_names_of_our_own_are_not_overlooked() -> None:
    module = """
from django.utils.translation import gettext as _now
from django.utils.translation import ngettext, pgettext
_("seen")
words = f"<b>{escape(_('inside'))} {ngettext('%(n)d day', '%(n)d days', n)} {pgettext('page', 'Week')}</b>"
_now("by another name"), _now(words)
"""
    assert set(overlooked(module).splitlines()) == {
        "gettext('by another name')",
        "gettext('inside')",
        "ngettext('%(n)d day', '%(n)d days', 1)",
        "pgettext('page', 'Week')",
    }
