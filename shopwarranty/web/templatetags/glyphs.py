"""State chips and marks. A word always stands beside a mark; an unknown name is an error, not a blank."""

from typing import Any

from django import template
from django.template import TemplateSyntaxError
from django.utils.html import format_html
from django.utils.safestring import SafeString

from shopwarranty.web.marks import SAME_AS, STATES, VERDICTS, Mark

register = template.Library()


def named(marks: dict[str, Mark], name: Any) -> tuple[str, Mark]:
    """The mark of that name, also under another room's word for it."""
    key = SAME_AS.get(str(name), str(name))
    if key not in marks:
        raise TemplateSyntaxError(f"No mark is called {name!r}. Known: {', '.join(sorted(marks))}.")
    return key, marks[key]


def drawn(mark: Mark, extra: str = "") -> SafeString:
    if not mark.strokes:
        return SafeString("")
    return format_html(
        '<svg class="glyph{}" viewBox="0 0 24 24" aria-hidden="true">{}</svg>',
        f" {extra}" if extra else "",
        SafeString(mark.strokes),
    )


@register.simple_tag
def glyph(name: str, extra: str = "") -> SafeString:
    """{% glyph "clean" %} or {% glyph "lift" "c-lift" %}: the mark alone; write the word beside it."""
    marks = VERDICTS if name in VERDICTS else STATES
    return drawn(named(marks, name)[1], extra)


@register.simple_tag
def state(name: str, words: Any = "") -> SafeString:
    """{% state "overdue" words %}: a chip with mark and words (the state's own word if none are given)."""
    key, mark = named(STATES, name)
    return format_html('<span class="state state-{}">{}{}</span>', key, drawn(mark), words or mark.word)


@register.simple_tag
def verdict(name: str, words: Any = "") -> SafeString:
    """{% verdict "more" %}: one of the five phrases of the review, written out, with its mark."""
    mark = named(VERDICTS, name)[1]
    return format_html('<span class="verdict">{}<span>{}</span></span>', drawn(mark), words or mark.word)


@register.simple_tag
def look_first(reason: Any) -> SafeString:
    """{% look_first reason %}: the wedge, "Look here first", and why."""
    mark = STATES["look-first"]
    return format_html(
        '<p class="look-first">{}<span><b>{}.</b> {}</span></p>', drawn(mark), mark.word, reason
    )
