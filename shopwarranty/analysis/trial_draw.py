"""Which half of a pair gets which arm: from the seed alone, so that anybody can draw it again and compare."""

from __future__ import annotations

from hashlib import sha256


def other_comes_first(seed: int, pair: int) -> bool:
    """Whether the first half of pair number `pair` gets the other arm.

    The lowest bit of the first byte of SHA-256 over "seed:pair" in decimal digits. Each pair has exactly one
    half of each arm; pairs are drawn independently of each other.
    """
    return sha256(f"{seed}:{pair}".encode()).digest()[0] & 1 == 1
