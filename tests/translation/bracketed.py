"""Every message translated into itself between brackets, and what a reader sees outside of brackets."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from html.parser import HTMLParser
from typing import Any

import pytest
from django.utils import translation

OPEN, CLOSE = "⟦", "⟧"
LETTERS = re.compile(r"[^\W\d_]{2,}")
# Messages that say how a day is written, in the letters of Django's date format.
A_DAYS_FORM = re.compile(r"[DFMYjl ,.]+")
SPOKEN = ("aria-label", "aria-description", "title", "placeholder", "alt", "label")
NOT_READ = ("script", "style", "code", "pre")


def bracketed(words: str) -> str:
    return f"{OPEN}{words}{CLOSE}" if words.strip() else words


def plural(singular: str, many: str, number: Any) -> str:
    return bracketed(singular if number == 1 else many)


def in_context(_context: str, words: str) -> str:
    return words if A_DAYS_FORM.fullmatch(words) else bracketed(words)


@contextmanager
def brackets(patch: pytest.MonkeyPatch) -> Iterator[None]:
    """Lazy and at once, in templates and modules, Django's own: all of it goes through these four."""
    real: Any = vars(translation)["_trans"]
    with patch.context() as inside:
        inside.setattr(real, "gettext", bracketed)
        inside.setattr(real, "ngettext", plural)
        inside.setattr(real, "pgettext", in_context)
        inside.setattr(real, "npgettext", lambda _context, *words: plural(*words))
        yield


class Reader(HTMLParser):
    """Text and spoken attributes of a page."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.said: list[str] = []
        self.unread = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.unread += tag in NOT_READ
        self.said += [value for name, value in attrs if name in SPOKEN and value]

    def handle_endtag(self, tag: str) -> None:
        self.unread -= tag in NOT_READ

    def handle_data(self, data: str) -> None:
        if not self.unread:
            self.said.append(data)


def words_in(text: str) -> set[str]:
    return {word.casefold() for word in LETTERS.findall(text)}


def outside(html: str) -> set[str]:
    """Words of a page that no message said."""
    reader = Reader()
    reader.feed(html)
    return words_in(without_brackets("\n".join(reader.said)))


def without_brackets(text: str) -> str:
    depth, kept = 0, []
    for letter in text:
        depth += letter == OPEN
        kept.append("" if depth else letter)
        depth -= letter == CLOSE and depth > 0
    return "".join(kept)
