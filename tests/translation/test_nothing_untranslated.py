"""Whatever the program says, it says in German and in Spanish."""

from pathlib import Path

import pytest

from . import catalogues
from .catalogues import LANGUAGES, Catalogue
from .test_catalogues import committed
from .test_catalogues import gettext_is_there as gettext_is_there


@pytest.fixture(scope="module")
def asked_for(tmp_path_factory: pytest.TempPathFactory) -> Catalogue:
    folder: Path = tmp_path_factory.mktemp("source")
    return catalogues.asked_for(catalogues.said_in_source(folder), folder)


@pytest.mark.usefixtures("gettext_is_there")
@pytest.mark.parametrize("language", LANGUAGES)
def test_every_message_of_the_source_is_translated(language: str, request: pytest.FixtureRequest) -> None:
    """Run `.ci/messages`, fill in what is empty, and run it again."""
    asked: Catalogue = request.getfixturevalue("asked_for")
    missing = set(asked) - set(committed(language))
    assert not missing, "\n".join(map(repr, sorted(map(str, missing))))
    assert len(asked) > 4000


def test_phrases_of_the_trade_and_words_in_templates_and_modules_are_among_them(
    gettext_is_there: None, asked_for: Catalogue
) -> None:
    for words in ("left front door", "Hand over", "same", ("%(count)d year", 1), "page\x04Week"):
        assert words in asked_for
