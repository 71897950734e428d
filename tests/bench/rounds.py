"""What a part of the long tests is made of."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

Value = float | int | str
EVERYTHING = ("shopwarranty", "tests", "requirements-test.lock")


@dataclass(frozen=True, slots=True)
class Figures:
    """Whether the round reached its goal, and what it measured."""

    passed: bool
    values: Mapping[str, Value] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Round:
    """`run` gets the seed. It should take minutes, since an interrupted round starts anew."""

    name: str
    run: Callable[[int], Figures]


@dataclass(frozen=True, slots=True)
class Part:
    """`rounds` is called when the part is run, so that listing parts costs nothing.

    `code`: what its figures depend on; a change of it makes kept rows out of date, no other change does.
    """

    about: str
    rounds: Callable[[], tuple[Round, ...]]
    seed: int = 20261125
    code: tuple[str, ...] = EVERYTHING
