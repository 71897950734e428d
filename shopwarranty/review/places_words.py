"""What a list of places is called, and which levels its address asks for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from . import said
from .counted import What
from .headline import listed
from .words import Words

MOST_LEVELS = 3
HEADINGS: Final[dict[What, str | Promise]] = {
    What.RECORDED: _("%(n)s places on record%(of)s"),
    What.WATCHED: _("%(n)s watched places%(of)s"),
    What.FAILED: _("%(n)s places found failing%(of)s"),
    What.UNSEEN: _("%(n)s places nobody has looked at%(of)s"),
    What.BETWEEN: _("%(n)s failures reported between planned checks%(of)s"),
    What.DAMAGED: _("%(n)s places damaged from outside%(of)s"),
    What.COMING: _("%(n)s places on vehicles due for a check this week%(of)s"),
    What.NO_FILM: _("%(n)s places without a recorded film%(of)s"),
}


def levels_asked(asked: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    found = []
    for number in range(MOST_LEVELS):
        name, level = asked.get(f"by{number or ''}"), asked.get(f"level{number or ''}")
        if name and level:
            found.append((name, level))
    return tuple(found)


def heading_of(what: What, count: int, levels: tuple[tuple[str, str], ...], words: Words) -> str:
    named = [
        words.level(name, level) if name in ("panel", "spot", "place_kind") else words.with_level(name, level)
        for name, level in levels
    ]
    of = gettext(": %(named)s") % {"named": listed(named)} if named else ""
    return str(HEADINGS[what]) % {"n": said.count(count), "of": of}
