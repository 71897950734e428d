"""Templates keep the content security policy (no inline style or script), stay short, and compile."""

import re
from pathlib import Path

import pytest
from django.template.loader import get_template

from .template_text import shown, templates

FORBIDDEN = {
    "an inline style": re.compile(r"\sstyle\s*=", re.I),
    "a style element": re.compile(r"<style\b", re.I),
    "a script in an attribute": re.compile(r"<[^>]*\son[a-z]+\s*=", re.I),
    "a script in the page": re.compile(r"<script\b(?![^>]*\bsrc=)", re.I),
    "a script address": re.compile(r"""(?:href|src|action)\s*=\s*["']\s*javascript:""", re.I),
    "something from elsewhere": re.compile(r"""<(?:link|script|img|iframe)\b[^>]*["'](?:https?:)?//""", re.I),
}
MOST_LINES = 90


@pytest.mark.parametrize("path", templates(), ids=shown)
def test_keeps_the_content_security_policy(path: Path) -> None:
    text = path.read_text()
    assert [what for what, pattern in FORBIDDEN.items() if pattern.search(text)] == []


@pytest.mark.parametrize("path", templates(), ids=shown)
def test_is_short_enough_to_be_read_at_once(path: Path) -> None:
    assert len(path.read_text().splitlines()) <= MOST_LINES


@pytest.mark.parametrize("path", templates(), ids=shown)
def test_compiles(path: Path) -> None:
    name = path.parts[path.parts.index("templates") + 1 :]
    assert get_template("/".join(name)).origin.name == str(path)  # type: ignore[attr-defined]


def with_a_session() -> list[Path]:
    """A holder's page has none: the address itself is the key, and its views ask for no token."""
    return [path for path in templates() if path.parts[-2:-1] != ("holder",)]


@pytest.mark.parametrize("path", with_a_session(), ids=shown)
def test_every_form_that_posts_carries_the_token(path: Path) -> None:
    forms = re.findall(r"<form\b[^>]*method=\"post\"[^>]*>.*?</form>", path.read_text(), re.S | re.I)
    assert [form[:80] for form in forms if "{% csrf_token %}" not in form] == []


@pytest.mark.parametrize(
    "text",
    [
        '<p style="color: red">',
        "<a onclick='x()'>",
        "<script>x()</script>",
        '<img src="https://x.example/a">',
    ],
)
def test_the_rules_catch_what_they_forbid(text: str) -> None:
    assert any(pattern.search(text) for pattern in FORBIDDEN.values())
