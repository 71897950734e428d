r"""Several things in one cell: entries apart by a bar, each perhaps with a note after a colon and a space.

"Ann: edges | Ben". A bar, a backslash, or a colon before a space that belongs to the text itself is written
with a backslash before it.
"""

import re
from collections.abc import Iterable
from typing import Final

from .records import Entry

PART: Final = re.compile(r"\\[|:\\]|\||: |[^\\|:]+|.", re.DOTALL)


def join_entries(entries: Iterable[Entry]) -> str:
    return " | ".join(_written(entry) for entry in entries)


def split_entries(text: str) -> tuple[Entry, ...]:
    """Empty entries fall out; so does white space around an entry and its note."""
    found: list[Entry] = []
    sides: list[list[str]] = [[], []]
    side = 0
    for part in PART.findall(text):
        if part == "|":
            found.append(_entry(sides))
            sides, side = [[], []], 0
        elif part == ": " and side == 0:
            side = 1
        else:
            sides[side].append(part[1:] if len(part) == 2 and part[0] == "\\" else part)
    found.append(_entry(sides))
    return tuple(entry for entry in found if entry.head)


def _entry(sides: list[list[str]]) -> Entry:
    return Entry("".join(sides[0]).strip(), "".join(sides[1]).strip())


def _written(entry: Entry) -> str:
    head = _escaped(entry.head).replace(": ", "\\: ")
    return f"{head}: {_escaped(entry.note)}" if entry.note else head


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace("|", "\\|")
