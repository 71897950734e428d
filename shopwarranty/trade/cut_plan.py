"""Which way round a piece is cut from a roll: length used, what is left, how many such pieces the roll gives.

All sizes in mm. The allowance is the shop's own.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import floor

from shopwarranty.trade.catalogue import Size

TOLERANCE_MM = 0.001  # sizes converted from inches must not miss by rounding


@dataclass(frozen=True, slots=True)
class Allowance:
    """Added on each of the two ends along the vehicle, and on each of the two sides across."""

    along_mm: float
    across_mm: float


@dataclass(frozen=True, slots=True)
class Rectangle:
    """Longer side first."""

    long_mm: float
    short_mm: float


@dataclass(frozen=True, slots=True)
class Cut:
    """One way round. `off_cut` is what is left beside the piece on the length used; None when nothing is.

    `pieces` is how many such pieces the roll gives, `abreast` of them side by side.
    """

    long_side_across: bool
    across_roll_mm: float
    length_used_mm: float
    left_on_roll_mm: float
    pieces: int
    abreast: int
    off_cut: Rectangle | None

    @property
    def fits(self) -> bool:
        return self.pieces > 0


@dataclass(frozen=True, slots=True)
class CutPlan:
    """`cuts` are the ways round that fit the roll's width, the one using least length first.

    A way round that fits across but not on what is left of the roll has no pieces and a negative rest.
    """

    piece: Rectangle
    cuts: tuple[Cut, ...]

    @property
    def best(self) -> Cut | None:
        return next((cut for cut in self.cuts if cut.fits), None)


class ImpossibleSize(ValueError):
    """A size that is not above 0, or an allowance below 0."""


def piece_for(panel: Size, allowance: Allowance) -> Rectangle:
    """The piece to cut for a panel. Raises ImpossibleSize."""
    if min(panel.along_mm, panel.across_mm) <= 0 or min(allowance.along_mm, allowance.across_mm) < 0:
        raise ImpossibleSize(f"{panel} with {allowance}")
    sides = (panel.along_mm + 2 * allowance.along_mm, panel.across_mm + 2 * allowance.across_mm)
    return Rectangle(max(sides), min(sides))


def plan(piece: Rectangle, roll_width_mm: float, roll_length_mm: float) -> CutPlan:
    """Both ways round, as far as the roll is wide enough. `roll_length_mm` is what is on the roll now.

    Raises ImpossibleSize.
    """
    if min(piece.short_mm, roll_width_mm) <= 0 or roll_length_mm < 0:
        raise ImpossibleSize(f"{piece} from {roll_width_mm} x {roll_length_mm} mm")
    ways = [(True, piece.long_mm, piece.short_mm)]
    if piece.long_mm != piece.short_mm:
        ways.append((False, piece.short_mm, piece.long_mm))
    cuts = [
        _cut(long_across, across, along, roll_width_mm, roll_length_mm)
        for long_across, across, along in ways
        if across <= roll_width_mm + TOLERANCE_MM
    ]
    return CutPlan(piece, tuple(sorted(cuts, key=lambda cut: (not cut.fits, cut.length_used_mm))))


def _cut(long_across: bool, across: float, along: float, width: float, length: float) -> Cut:
    abreast = floor((width + TOLERANCE_MM) / across)
    return Cut(
        long_across,
        across,
        along,
        length - along,
        floor((length + TOLERANCE_MM) / along) * abreast,
        abreast,
        _beside(width - across, along),
    )


def _beside(rest: float, along: float) -> Rectangle | None:
    return Rectangle(max(rest, along), min(rest, along)) if rest > TOLERANCE_MM else None
