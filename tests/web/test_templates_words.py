"""Every word a template shows goes through gettext."""

from pathlib import Path

import pytest

from .template_text import bare_words, shown, templates


@pytest.mark.parametrize("path", templates(), ids=shown)
def test_no_bare_words_in(path: Path) -> None:
    assert bare_words(path.read_text()) == []


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("<p>Looked, clean</p>", ["Looked", "clean"]),
        ('<p aria-label="Pages">{{ number }}</p>', ["Pages"]),
        ('<input placeholder="Plate">', ["Plate"]),
        ('<p title="{% translate "Today" %}">{% translate "Clean" %}</p>', []),
        ("<p>{% blocktranslate %}Clean since {{ day }}{% endblocktranslate %}</p>", []),
        ("<p class='quiet'>{{ shop.name }} &amp; 404 – {# a note #}</p>", []),
        ("<p>{% if a > b %}Wrong{% endif %}</p>", ["Wrong"]),
        ('<meta name="viewport" content="width=device-width">', []),
    ],
)
def test_the_scan_sees_bare_words_and_nothing_else(text: str, words: list[str]) -> None:
    assert bare_words(text) == words
