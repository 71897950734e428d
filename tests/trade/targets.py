"""How large a square of the page belongs to each piece, found by sampling points as a finger hits them."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from shopwarranty.trade.shapes import Line

STEP = 2.0  # as when it was measured in a browser, every 2 px


class Page:
    """A grid of sample points; what is drawn later lies on top."""

    def __init__(self, width: float, height: float) -> None:
        xs, ys = np.arange(0, width + 0.1, STEP), np.arange(0, height + 0.1, STEP)
        self.x, self.y = np.meshgrid(xs, ys)
        self.owner = np.full(self.x.shape, -1)

    def fill(self, who: int, polygon: Line) -> None:
        inside = np.zeros(self.x.shape, bool)
        for (x0, y0), (x1, y1) in pairwise((*polygon, polygon[0])):
            if y0 == y1:
                continue
            crossing = (y0 > self.y) != (y1 > self.y)
            inside ^= crossing & (self.x < (x1 - x0) * (self.y - y0) / (y1 - y0) + x0)
        self.owner[inside] = who

    def stroke(self, who: int, line: Line, width: float) -> None:
        """Butt ends; joints are filled, as a mitred stroke does."""
        hit = np.zeros(self.x.shape, bool)
        for index, ((x0, y0), (x1, y1)) in enumerate(pairwise(line)):
            dx, dy = x1 - x0, y1 - y0
            size = float(np.hypot(dx, dy)) or 1.0
            along = ((self.x - x0) * dx + (self.y - y0) * dy) / size
            off = np.abs((self.x - x0) * dy - (self.y - y0) * dx) / size
            hit |= (along >= 0) & (along <= size) & (off <= width / 2)
            if index:
                hit |= np.hypot(self.x - x0, self.y - y0) <= width / 2
        self.owner[hit] = who

    def disc(self, who: int, x: float, y: float, radius: float) -> None:
        self.owner[np.hypot(self.x - x, self.y - y) <= radius] = who

    def squares(self, count: int) -> list[float]:
        """The side of the largest square that belongs to each piece, in page units."""
        return [largest_square(self.owner == who) * STEP for who in range(count)]


def largest_square(mine: NDArray[np.bool_]) -> int:
    """In steps between the outermost sample points of the square."""
    if not mine.any():
        return 0
    rows, columns = np.flatnonzero(mine.any(axis=1)), np.flatnonzero(mine.any(axis=0))
    part = mine[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    sums = np.zeros((part.shape[0] + 1, part.shape[1] + 1), int)
    sums[1:, 1:] = part.cumsum(axis=0).cumsum(axis=1)
    best = 0
    while best < min(part.shape) and _has_square(sums, best + 1):
        best += 1
    return best


def _has_square(sums: NDArray[np.int_], side: int) -> bool:
    totals = sums[side:, side:] - sums[:-side, side:] - sums[side:, :-side] + sums[:-side, :-side]
    return bool((totals == side * side).any())


def smallest(names: Sequence[str], squares: Sequence[float]) -> tuple[float, str]:
    return min(zip(squares, names, strict=True))
