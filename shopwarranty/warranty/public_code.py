"""The code beside a certificate's number: unguessable, and easy to read out and to type."""

import secrets
from collections.abc import Callable
from typing import Final

ALPHABET: Final = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Without 0, 1, I, L, O and U: nothing looks like anything else, and few words come out."""

LENGTH: Final = 16  # 78 bits


def new_code(choice: Callable[[str], str] = secrets.choice) -> str:
    """16 characters; `choice` picks one of a text: the system's randomness unless a test gives its own."""
    return "".join(choice(ALPHABET) for _ in range(LENGTH))


def spoken(code: str) -> str:
    """In fours, as printed."""
    return "-".join(code[start : start + 4] for start in range(0, len(code), 4))


def squeezed(typed: str) -> str:
    """What was typed, as stored: capitals, without dashes and spaces. May be no code at all."""
    return "".join(character for character in typed.upper() if character.isalnum())[:32]
