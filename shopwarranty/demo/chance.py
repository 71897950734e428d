"""Chance that is the same on every day: each thing draws from a stream of its own, named after it.

So nothing that is added to the story shifts what was drawn for the rest of it.
"""

import hashlib
import math
from collections.abc import Mapping
from random import Random
from uuid import UUID

SEED = "harrow 7"


def stream(*about: object) -> Random:
    return Random(" ".join([SEED, *map(str, about)]))  # noqa: S311  (a story, no secret)


def choose(rng: Random, weights: Mapping[str, float]) -> str:
    """One key, as likely as its weight."""
    return rng.choices(list(weights), list(weights.values()))[0]


def exponential(rng: Random) -> float:
    return -math.log(1.0 - rng.random())


def between(rng: Random, low: float, high: float, step: float = 0.5) -> float:
    """A value a person would read off an instrument."""
    return round(rng.uniform(low, high) / step) * step


def uid(*about: object) -> UUID:
    """The id of a row: always the same, and shaped like one made by chance."""
    name = " ".join([SEED, *map(str, about)])
    return UUID(bytes=hashlib.blake2b(name.encode(), digest_size=16).digest(), version=4)
