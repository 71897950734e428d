"""Lives of places as arrays: when each was watched, and between which looks it failed.

A place is seen only at checks, so a failure is known to lie between the last look that found
the place clean and the look that found it failing (interval censoring). A place that came under
record later enters at a later age (late entry). Places of one vehicle share its fate: the
vehicle is the cluster.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .arrays import BoolArray, FloatArray, IntArray

NEVER = -1
"""In `clean`: no look ever found it clean. In `failed`: no look found it failing."""

LONGEST_LIFE = 36_525
"""Days; a century. A later day is a typing error, not a life."""


class LivesError(ValueError):
    """A row that cannot be a life. `row` counts from 0; `rule` names what it breaks."""

    def __init__(self, row: int, rule: str) -> None:
        super().__init__(f"row {row}: {rule}")
        self.row = row
        self.rule = rule


@dataclass(frozen=True, slots=True, eq=False)
class Lives:
    """One entry a place's life; every array has shape (n,) and whole numbers.

    entry    day of age at which watching began (0 = when the place was finished)
    clean    last day it was seen clean, or NEVER; the clean time then ends at `entry`
    failed   day a look found it failing, or NEVER; the failure lies in (last clean, failed]
    cluster  which vehicle it sits on; any whole numbers

    Raises LivesError for a day before entry, a failure not after the last clean look, or a day
    beyond a century, and ValueError for arrays of unequal length or not of whole numbers.
    """

    entry: IntArray
    clean: IntArray
    failed: IntArray
    cluster: IntArray

    def __post_init__(self) -> None:
        columns = (self.entry, self.clean, self.failed, self.cluster)
        if len({c.shape for c in columns}) != 1 or self.entry.ndim != 1:
            raise ValueError("the columns of lives differ in length")
        if not all(np.issubdtype(c.dtype, np.integer) for c in columns):
            raise ValueError("the columns of lives are whole numbers")
        for broken, rule in self._rules():
            rows = np.flatnonzero(broken)
            if rows.size:
                raise LivesError(int(rows[0]), rule)

    def _rules(self) -> tuple[tuple[BoolArray, str], ...]:
        found = self.failed != NEVER
        seen = self.clean != NEVER
        latest = np.maximum(self.last_clean, self.failed)
        return (
            (self.entry < 0, "the first watched day is below 0"),
            (seen & (self.clean < self.entry), "seen clean before it was watched"),
            (found & (self.failed <= self.last_clean), "found failing no later than last seen clean"),
            (latest > LONGEST_LIFE, "a day more than a century on"),
        )

    def __len__(self) -> int:
        return len(self.entry)

    @property
    def last_clean(self) -> IntArray:
        """Day the clean time ends: last seen clean, else the day of entry."""
        return np.maximum(self.entry, self.clean)

    @property
    def found(self) -> BoolArray:
        """True where a look found the place failing."""
        return np.asarray(self.failed != NEVER)

    @property
    def watched(self) -> BoolArray:
        """True where a look after entry says something; the others are in no denominator."""
        seen_later: BoolArray = (self.last_clean > self.entry) | self.found
        return seen_later

    def only(self, which: BoolArray | IntArray) -> Lives:
        """The lives chosen by a mask or by positions."""
        return Lives(self.entry[which], self.clean[which], self.failed[which], self.cluster[which])


def lives_of(
    entry: object, clean: object, failed: object, cluster: object, *, dtype: type[np.integer] = np.int64
) -> Lives:
    """Lives from anything that turns into arrays of whole numbers; raises as `Lives` does."""
    columns = (np.asarray(c) for c in (entry, clean, failed, cluster))
    return Lives(*(c.astype(dtype, casting="same_kind") for c in columns))


def edge_days(lives: Lives) -> FloatArray:
    """Days each place was watched: clean days and half of a failing interval, shape (n,)."""
    last_clean = lives.last_clean
    failing = np.where(lives.found, lives.failed - last_clean, 0)
    return (last_clean - lives.entry) + failing / 2.0


def clusters_from_zero(cluster: IntArray) -> tuple[IntArray, int]:
    """Clusters renumbered 0..G-1, and G; shape (n,)."""
    names, numbers = np.unique(cluster, return_inverse=True)
    return numbers, len(names)
