"""Vehicle identification numbers: tidy what was typed, refuse what cannot be one, doubt what looks misread.

Source: 49 CFR 565 (letter values, weights, check digit in position 9); letters I, O and Q are not used. The
check digit is required in North America only, so failing it is a doubt and never a refusal; passing it proves
nothing either, since letters and digits of equal value change places unseen.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

LENGTH = 17
CHECK_POSITION = 9
WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
LOOK_ALIKE = {"O": "0", "Q": "0", "I": "1"}
VALUES: dict[str, int] = {
    **{digit: int(digit) for digit in "0123456789"},
    **dict(zip("ABCDEFGH", range(1, 9), strict=True)),
    **dict(zip("JKLMN", range(1, 6), strict=True)),
    **{"P": 7, "R": 9},
    **dict(zip("STUVWXYZ", range(2, 10), strict=True)),
}
_SEPARATORS = re.compile(r"[\s\-\u2010-\u2015]+")


class VinError(StrEnum):
    EMPTY = "empty"
    LENGTH = "length"
    LETTER = "letter"
    CHARACTER = "character"


@dataclass(frozen=True, slots=True)
class VinFault:
    """Why this is no VIN. `position` counts from 1; `suggestion` is what the character may have been."""

    error: VinError
    message: str
    position: int | None = None
    found: str = ""
    suggestion: str = ""


@dataclass(frozen=True, slots=True)
class CheckDigit:
    total: int
    computed: str
    found: str

    @property
    def agrees(self) -> bool:
        return self.computed == self.found


@dataclass(frozen=True, slots=True)
class VinCheck:
    """`vin` is tidied, not corrected. `suggestion` has look-alike letters replaced and is to be confirmed.

    `check_digit` is None when there are faults.
    """

    vin: str
    faults: tuple[VinFault, ...]
    check_digit: CheckDigit | None
    suggestion: str | None

    @property
    def is_possible(self) -> bool:
        return not self.faults

    @property
    def is_doubtful(self) -> bool:
        """Seventeen allowed characters, but the check digit is another one: warn, and let it pass."""
        return self.check_digit is not None and not self.check_digit.agrees


def normalise(typed: str) -> str:
    """Upper case without spaces and hyphens. Nothing is replaced."""
    return _SEPARATORS.sub("", typed).upper()


def check(typed: str) -> VinCheck:
    """What is wrong or doubtful about a 17-character VIN. Other chassis numbers do not belong here."""
    vin = normalise(typed)
    faults = (*_length_faults(vin), *_character_faults(vin))
    better = "".join(LOOK_ALIKE.get(letter, letter) for letter in vin)
    return VinCheck(vin, faults, None if faults else check_digit(vin), better if better != vin else None)


def check_digit(vin: str) -> CheckDigit:
    """The check digit of 17 allowed characters, X standing for 10. Raises ValueError for anything else."""
    if len(vin) != LENGTH or any(letter not in VALUES for letter in vin):
        raise ValueError(f"{vin!r} does not have {LENGTH} characters of a VIN")
    total = sum(VALUES[letter] * weight for letter, weight in zip(vin, WEIGHTS, strict=True))
    computed = "0123456789X"[total % 11]
    return CheckDigit(total, computed, vin[CHECK_POSITION - 1])


def last_six(vin: str) -> str:
    """What is written on windscreens and told on the telephone."""
    return normalise(vin)[-6:]


def _length_faults(vin: str) -> tuple[VinFault, ...]:
    if not vin:
        return (VinFault(VinError.EMPTY, "Nothing was typed."),)
    if len(vin) == LENGTH:
        return ()
    return (VinFault(VinError.LENGTH, f"{len(vin)} characters; a VIN has {LENGTH}.", found=str(len(vin))),)


def _character_faults(vin: str) -> tuple[VinFault, ...]:
    return tuple(
        _character_fault(position, letter)
        for position, letter in enumerate(vin, start=1)
        if letter not in VALUES
    )


def _character_fault(position: int, letter: str) -> VinFault:
    if letter in LOOK_ALIKE:
        digit = LOOK_ALIKE[letter]
        message = f"Letter {letter} in position {position} is not used in a VIN; perhaps {digit}."
        return VinFault(VinError.LETTER, message, position, letter, digit)
    message = f"{letter} in position {position} is not used in a VIN."
    return VinFault(VinError.CHARACTER, message, position, letter)
