"""Text that a spreadsheet must not take for a formula.

A text that begins with = + - @, a tab or a line's end (or the wide forms of those signs) is written with one
apostrophe before it, and so is one that begins with apostrophes before such a sign: reading takes exactly one
away again. Numbers are not texts and stay numbers.
"""

import re
from typing import Final

RISKY: Final = re.compile(r"'*[=+\-@\t\r\n＝＋－＠]")
GUARDED: Final = re.compile(r"'+[=+\-@\t\r\n＝＋－＠]")


def guard(text: str) -> str:
    return "'" + text if RISKY.match(text) else text


def unguard(text: str) -> str:
    return text[1:] if GUARDED.match(text) else text
