"""Texts with fixed placeholders, as plain text and as HTML. No template language: nothing in a text is run.

A placeholder is a known word in braces; every other brace stays what it is. Mark-up: a blank line between
paragraphs, "- " before each line of a list, ** around what is to stand out. Pure.
"""

import re
from collections.abc import Collection, Iterator, Mapping
from html import escape
from typing import Final

PLACEHOLDER: Final = re.compile(r"\{([a-z_]+)\}")
BOLD: Final = re.compile(r"\*\*(?=\S)(.+?)(?<=\S)\*\*")
ADDRESS: Final = re.compile(r"https?://[^\s<>\"']+")


def placeholders_in(text: str) -> set[str]:
    return set(PLACEHOLDER.findall(text))


def unknown_in(text: str, known: Collection[str]) -> list[str]:
    """Words in braces that nobody fills in, in order."""
    return sorted(placeholders_in(text) - set(known))


def fill(text: str, values: Mapping[str, str]) -> str:
    """Each placeholder once replaced by its value; what stands in a value is not looked at again."""
    return PLACEHOLDER.sub(lambda found: values.get(found[1], found[0]), text)


def as_plain(text: str, values: Mapping[str, str]) -> str:
    return fill(BOLD.sub(r"\1", text), values).strip()


def as_html(text: str, values: Mapping[str, str]) -> str:
    """Escaped paragraphs and lists. Addresses in values become links; those typed into a text do too."""
    marked = BOLD.sub(r"<b>\1</b>", escape(text))
    blocks = re.split(r"\n\s*\n", marked.replace("\r\n", "\n").strip())
    safe = {name: _value(value) for name, value in values.items()}
    return "\n".join(fill(part, safe) for block in blocks for part in _block(block))


def _block(block: str) -> Iterator[str]:
    lines = [line.strip() for line in block.split("\n") if line.strip()]
    if lines and all(line.startswith("- ") for line in lines):
        items = "".join(f"<li>{_linked(line[2:])}</li>" for line in lines)
        yield f"<ul>{items}</ul>"
    elif lines:
        yield f"<p>{'<br>'.join(_linked(line) for line in lines)}</p>"


def _value(value: str) -> str:
    return _linked(escape(value)).replace("\n", "<br>")


def _linked(escaped: str) -> str:
    return ADDRESS.sub(lambda found: f'<a href="{found[0]}">{found[0]}</a>', escaped)
