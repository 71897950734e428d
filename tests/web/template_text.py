"""What a reader sees of a template that did not go through gettext, found by a cheap scan of its text."""

import re
from html import unescape
from pathlib import Path

ROOMS = Path(__file__).parents[2] / "shopwarranty"
DROPPED = (
    r"\{#.*?#\}",
    r"\{% comment.*?endcomment %\}",
    r"\{% blocktrans(?:late)?\b.*?\{% endblocktrans(?:late)? %\}",
    r"\{% block \w+_class %\}.*?\{% endblock %\}",
    r"<!--.*?-->",
    r"<!doctype[^>]*>",
    r"<script\b.*?</script>",
    r"<style\b.*?</style>",
    r"<code>.*?</code>",
)
SPOKEN = re.compile(
    r"""\b(?:aria-label|aria-description|title|placeholder|alt|label|content|value)=(["'])(.*?)\1""", re.S
)
# Attributes that carry words for machines.
MACHINE = re.compile(
    r"<meta\b[^>]*>|<input type=\"(?:hidden|radio|checkbox)\"[^>]*>"
    r"|<option\b[^>]*>|<button\b[^>]*\bname=[^>]*>"
)
LETTERS = re.compile(r"[^\W\d_]{2,}")


def templates() -> list[Path]:
    return sorted(ROOMS.glob("*/templates/**/*.html"))


def shown(path: Path) -> str:
    return str(path.relative_to(ROOMS))


def bare_words(text: str) -> list[str]:
    """Words between tags and in attributes that are read out, outside of any template tag."""
    for pattern in DROPPED:
        text = re.sub(pattern, " ", text, flags=re.DOTALL | re.IGNORECASE)
    text = re.sub(r"\{[%{].*?[%}]\}", "\N{OBJECT REPLACEMENT CHARACTER}", text, flags=re.DOTALL)
    spoken = " ".join(match[2] for match in SPOKEN.finditer(MACHINE.sub(" ", text)))
    between = re.sub(r"<[^>]*>", " ", text, flags=re.DOTALL)
    return LETTERS.findall(unescape(f"{between} {spoken}"))
