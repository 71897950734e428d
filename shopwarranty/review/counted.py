"""From a figure to the places behind it: which lives it was counted from, and the address of their list."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import StrEnum
from urllib.parse import urlencode

import numpy as np
from django.urls import reverse

from shopwarranty.inspections.models import Check
from shopwarranty.shops.models import Shop

from .asking import Asked
from .columns import BoolArray, IntArray
from .lives import LifeTable
from .selection import Selection

COMING_DAYS = 7


class What(StrEnum):
    """Which of the lives: `recorded` all of them, `between` those reported at other visits than planned
    checks, `coming` those still watched on vehicles due for a check this week, `no_film` those no family can
    count."""

    RECORDED = "recorded"
    WATCHED = "watched"
    FAILED = "failed"
    UNSEEN = "unseen"
    BETWEEN = "between"
    DAMAGED = "damaged"
    COMING = "coming"
    NO_FILM = "no_film"


@dataclass(frozen=True, slots=True)
class Counted:
    """What a figure counts: lives of these levels (factor, level), all of them to be met."""

    what: What
    levels: tuple[tuple[str, str], ...] = ()
    jobs: frozenset[int] = field(default=frozenset())

    def mask(self, table: LifeTable, asked: Asked) -> BoolArray:
        """Which of the review's lives are meant; shape (len(asked.rows),)."""
        wanted = self._of_what(table, asked)
        for name, level in self.levels:
            wanted = wanted & asked.having(name, level)
        return wanted

    def _of_what(self, table: LifeTable, asked: Asked) -> BoolArray:
        rows, lives = asked.rows, asked.question.lives
        if self.what is What.WATCHED:
            return lives.watched
        if self.what is What.FAILED:
            return lives.found
        if self.what is What.UNSEEN:
            return ~lives.watched
        if self.what is What.BETWEEN:
            return table.reported_between[rows]
        if self.what is What.DAMAGED:
            return table.damaged[rows]
        if self.what is What.COMING:
            return np.asarray(table.ended[rows] == 0) & np.isin(table.job[rows], list(self.jobs))
        return np.ones(len(rows), dtype=bool)

    def ids(self, table: LifeTable, asked: Asked) -> IntArray:
        """Ids of the lives, those found failing first, then the youngest."""
        no_film = self.what is What.NO_FILM
        rows = without_film(table) if no_film else asked.rows[self.mask(table, asked)]
        order = np.lexsort((table.life[rows], -table.starts[rows], table.failed[rows] < 0))
        return table.life[rows[order]]


def without_film(table: LifeTable) -> IntArray:
    """Positions of lives whose film nobody recorded: they are in no family's figures."""
    return np.flatnonzero(table.text("family").codes < 0)


def address(shop: Shop, selection: Selection, what: What, *levels: tuple[str, str]) -> str:
    """Where the places behind a figure are listed."""
    said = {**selection.query(), "what": what.value}
    for number, (name, level) in enumerate(levels):
        said |= {f"by{number or ''}": name, f"level{number or ''}": level}
    return f"{reverse('review-places', args=[shop.slug])}?{urlencode(said)}"


def jobs_coming(today: date) -> frozenset[int]:
    """Jobs with a check due within the week, or still to be done though its day is past; one query."""
    soon = Check.objects.filter(
        state=Check.State.DUE, due_on__lte=today + timedelta(days=COMING_DAYS), window_to__gte=today
    )
    return frozenset(soon.values_list("job_id", flat=True))
