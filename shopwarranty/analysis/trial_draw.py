"""Which half of a pair, or which job of a block, gets which arm.

From the seed alone, so that anybody can draw it again and compare.
"""

from __future__ import annotations

from hashlib import sha256

from .trial_blocks import BLOCK, ORDERS


def other_comes_first(seed: int, pair: int) -> bool:
    """Whether the first half of pair number `pair` gets the other arm.

    The lowest bit of the first byte of SHA-256 over "seed:pair" in decimal digits. Each pair has exactly one
    half of each arm; pairs are drawn independently of each other.
    """
    return sha256(f"{seed}:{pair}".encode()).digest()[0] & 1 == 1


def job_gets_other(seed: int, number: int) -> bool:
    """Whether job number `number` (from 1) gets the other arm: two of every four jobs do.

    The first eight bytes of SHA-256 over "seed:block:b" as a number, modulo 6, choose among the orders
    {1,2} {1,3} {1,4} {2,3} {2,4} {3,4} of block b = (number - 1) // 4, counted from 0.
    """
    block, place = divmod(number - 1, BLOCK)
    drawn = int.from_bytes(sha256(f"{seed}:block:{block}".encode()).digest()[:8])
    return place in ORDERS[drawn % len(ORDERS)]
