"""Do vehicles that came back because something lifted still come to their planned checks?

Only then may a lift reported in between wait for the next planned check to be counted. Where they
stay away, rates are too low and whatever an owner can see looks better than it is.

Gruger J, Kay R, Schumacher M (1991) Biometrics 47:595-605.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .arrays import BoolArray, IntArray


@dataclass(frozen=True, slots=True)
class Attendance:
    """Planned checks due and attended, after a callback and without one; `ratio` None when unknown."""

    due_after: int
    attended_after: int
    due_without: int
    attended_without: int
    ratio: float | None


def attendance(check: IntArray, attended: BoolArray, after_callback: BoolArray) -> Attendance:
    """Ratio of attendance after a callback to attendance without, weighed within each kind of check.

    check           which planned check (14 days, 3 months ...) each due one is, 0..C-1, shape (n,)
    attended        whether it took place; after_callback: whether the vehicle had come back before

    Mantel-Haenszel's ratio of shares, since later checks are attended less by everybody.
    """
    size = int(check.max(initial=-1)) + 1
    due_after = np.bincount(check[after_callback], minlength=size)
    due_without = np.bincount(check[~after_callback], minlength=size)
    came_after = np.bincount(check[after_callback & attended], minlength=size)
    came_without = np.bincount(check[~after_callback & attended], minlength=size)
    total = np.maximum(due_after + due_without, 1)
    up, down = (came_after * due_without / total).sum(), (came_without * due_after / total).sum()
    return Attendance(
        due_after=int(due_after.sum()),
        attended_after=int(came_after.sum()),
        due_without=int(due_without.sum()),
        attended_without=int(came_without.sum()),
        ratio=float(up / down) if down else None,
    )
