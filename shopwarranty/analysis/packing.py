"""Columns of lives as blocks of bytes, so that a million of them are read in a tenth of a second.

A block holds some tens of thousands of lives, column after column, little-endian, behind a head that says
how wide each column is. Unknown stays what it was (-1, or NaN).
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from .arrays import IntArray

Column = npt.NDArray[Any]

BLOCK: Final = 50_000
KINDS: Final = tuple(np.dtype(kind) for kind in ("<i1", "<i2", "<i4", "<i8", "<f8", "|b1"))
_NUMBER: Final = {kind: number for number, kind in enumerate(KINDS)}
_MARK: Final = b"LIVES\x002\n"
_HEAD: Final = struct.Struct("<8sqi")


class BadBlock(ValueError):
    """Bytes that are no block, or blocks that do not belong together."""


def pack(columns: Sequence[Column]) -> bytes:
    """One block of columns of equal length (n,), each of a kind in KINDS.

    Raises ValueError for columns of unequal length, TypeError for one of another kind.
    """
    count = len(columns[0]) if columns else 0
    if any(column.shape != (count,) for column in columns):
        raise ValueError("the columns of a block differ in length")
    kinds = [column.dtype.newbyteorder("<") for column in columns]
    if not all(kind in _NUMBER for kind in kinds):
        raise TypeError("a column that cannot be packed")
    head = _HEAD.pack(_MARK, count, len(columns)) + bytes(_NUMBER[kind] for kind in kinds)
    return head + b"".join(c.astype(k, copy=False).tobytes() for c, k in zip(columns, kinds, strict=True))


def unpack(blocks: Sequence[bytes]) -> list[Column]:
    """The columns of all blocks, one after the other. Raises BadBlock."""
    opened = [_opened(block) for block in blocks]
    if not opened:
        raise BadBlock("no block")
    if len({tuple(column.dtype for column in columns) for columns in opened}) != 1:
        raise BadBlock("blocks with different columns")
    return [np.concatenate(parts) for parts in zip(*opened, strict=True)]


def days(column: IntArray) -> IntArray:
    """Days, and other numbers of up to two thousand million, at 32 bits. Raises OverflowError beyond."""
    return _narrow(column, np.dtype("<i4"))


def codes(column: IntArray, levels: int) -> IntArray:
    """Codes of so many levels at 16 bits, or at 32 where there are more than 32,767."""
    return _narrow(column, np.dtype("<i2" if levels <= np.iinfo(np.int16).max else "<i4"))


def _narrow(column: IntArray, kind: np.dtype[np.signedinteger[Any]]) -> IntArray:
    limits = np.iinfo(kind)
    if len(column) and not (limits.min <= column.min() and column.max() <= limits.max):
        raise OverflowError("a number too large for a packed column")
    return column.astype(kind)


def _opened(block: bytes) -> list[Column]:
    if len(block) < _HEAD.size:
        raise BadBlock("too short")
    mark, count, width = _HEAD.unpack_from(block)
    numbers = block[_HEAD.size : _HEAD.size + max(width, 0)]
    if mark != _MARK or count < 0 or len(numbers) != width or any(n >= len(KINDS) for n in numbers):
        raise BadBlock("not a block of lives")
    kinds = [KINDS[number] for number in numbers]
    ends = np.cumsum([_HEAD.size + width, *(count * kind.itemsize for kind in kinds)])
    if len(block) != ends[-1]:
        raise BadBlock("cut short, or too long")
    return [np.frombuffer(block, k, count, int(at)) for k, at in zip(kinds, ends, strict=False)]
