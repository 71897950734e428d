"""Certificate numbers: PREFIX-YY[S]-NNNN-CC, for example FY-26-0417-88 or, after a restore, FY-26B-0001-29.

PREFIX is 2 to 4 letters of the shop, YY the year of issue, S an optional series letter (a restored
installation opens a new one, so that nothing issued after the backup is ever used again), NNNN a running
number of at least four digits, CC two check characters by ISO/IEC 7064 MOD 97-10 over everything before
them (letters count A = 10 ... Z = 35, as in ISO 13616 and ISO 17442). Dashes are not part of the sum.
"""

import re
from dataclasses import dataclass
from typing import Final

from shopwarranty.warranty.sentence import Sentence, gettext_noop, say

SERIES_LETTERS: Final = "ABCDEFGHJKMNPQRSTUVWXYZ"
"""The letters a series may carry: I, L and O are left out, people read them as 1 and 0."""

_SHAPE: Final = re.compile(rf"([A-Z]{{2,4}})([0-9]{{2}})([{SERIES_LETTERS}]?)([0-9]{{4,}})([0-9]{{2}})")
_LETTER_FOR: Final = str.maketrans("01", "OI")
_DIGIT_FOR: Final = str.maketrans("OIL", "011")
_LONGEST: Final = 20


class NumberProblem(ValueError):
    """What is wrong with a certificate number as typed; `sentence` says it, `suggestion` may be empty."""

    def __init__(self, sentence: Sentence, suggestion: str = "") -> None:
        super().__init__(str(sentence))
        self.sentence = sentence
        self.suggestion = suggestion


class NumberEmpty(NumberProblem):
    """Nothing was typed."""


class NumberMalformed(NumberProblem):
    """Letters and digits do not stand where a certificate number has them."""


class NumberMistyped(NumberProblem):
    """The shape is right and the check characters do not agree."""


@dataclass(frozen=True, slots=True, order=True)
class CertificateNumber:
    """A certificate number in its parts; str() gives the printed form with its check characters."""

    prefix: str
    year: int
    series: str
    running: int

    def __post_init__(self) -> None:
        if not re.fullmatch(r"[A-Z]{2,4}", self.prefix):
            raise ValueError(f"prefix must be 2 to 4 letters A to Z, got {self.prefix!r}")
        if not 0 <= self.year <= 99:
            raise ValueError(f"year must be two digits, got {self.year!r}")
        if self.series not in ("", *SERIES_LETTERS):
            raise ValueError(f"series must be empty or one of {SERIES_LETTERS}, got {self.series!r}")
        if self.running < 1:
            raise ValueError(f"running number must be 1 or more, got {self.running!r}")

    @property
    def check_characters(self) -> str:
        return check_characters(self.prefix + self._middle + f"{self.running:04d}")

    @property
    def compact(self) -> str:
        """The number without dashes, for links and codes."""
        return str(self).replace("-", "")

    @property
    def _middle(self) -> str:
        return f"{self.year:02d}{self.series}"

    def __str__(self) -> str:
        return f"{self.prefix}-{self._middle}-{self.running:04d}-{self.check_characters}"


def check_characters(body: str) -> str:
    """The two ISO/IEC 7064 MOD 97-10 check digits of `body` (0-9 and A-Z only)."""
    return f"{98 - _remainder(body + '00'):02d}"


def check_agrees(text: str) -> bool:
    """True when `text` (0-9 and A-Z, check characters last, no dashes) leaves the remainder 1."""
    return _remainder(text) == 1


def make_number(*, prefix: str, year: int, running: int, series: str = "") -> str:
    """The printed number; `year` may be full (2026). ValueError names the part that cannot be used."""
    return str(CertificateNumber(prefix.strip().upper(), year % 100, series.strip().upper(), running))


def parse_number(typed: str) -> CertificateNumber:
    """Read what a person typed: case, spaces and dashes do not matter.

    Raises NumberEmpty, NumberMalformed or NumberMistyped; where letters and digits were confused
    (O and 0, I or L and 1) the suggestion holds the number that was probably meant.
    """
    squeezed = _squeeze(typed)
    if not squeezed:
        raise NumberEmpty(say(gettext_noop("Type the certificate number.")))
    match = _SHAPE.fullmatch(squeezed) if len(squeezed) <= _LONGEST else None
    if match is None or _needless_zero(match[4]):
        raise NumberMalformed(_what_is_wrong(squeezed), _meant(squeezed))
    if not check_agrees(squeezed):
        message = gettext_noop("A character is wrong or two are swapped: the last two do not fit the rest.")
        raise NumberMistyped(say(message), _meant(squeezed))
    return _from(match)


def next_series(series: str) -> str:
    """The series a restored installation opens after `series` ("" -> A -> B ...); ValueError after Z."""
    if series == SERIES_LETTERS[-1]:
        raise ValueError("all series letters of this year are used")
    return SERIES_LETTERS[SERIES_LETTERS.index(series) + 1] if series else SERIES_LETTERS[0]


def _remainder(text: str) -> int:
    return int("".join(str(int(character, 36)) for character in text)) % 97


def _squeeze(typed: str) -> str:
    return re.sub(r"[\s\-\u2010-\u2015\u2212_./]+", "", typed).upper()


def _needless_zero(running: str) -> bool:
    return int(running) == 0 or (len(running) > 4 and running.startswith("0"))


def _from(match: re.Match[str]) -> CertificateNumber:
    return CertificateNumber(match[1], int(match[2]), match[3], int(match[4]))


def _meant(squeezed: str) -> str:
    """The one well-formed number with agreeing check characters that mixing up 0/O and 1/I/L can explain."""
    if len(squeezed) > _LONGEST:
        return ""
    found = set()
    for letters in (2, 3, 4):
        head, rest = squeezed[:letters].translate(_LETTER_FOR), squeezed[letters:].translate(_DIGIT_FOR)
        match = _SHAPE.fullmatch(head + rest)
        if match and not _needless_zero(match[4]) and check_agrees(head + rest):
            found.add(str(_from(match)))
    return found.pop() if len(found) == 1 else ""


def _what_is_wrong(squeezed: str) -> Sentence:
    stranger = re.search(r"[^0-9A-Z]", squeezed)
    if stranger:
        return say(
            gettext_noop("“%(character)s” never stands in a certificate number."), character=stranger[0]
        )
    letters = re.match(r"[A-Z]*", squeezed)
    if letters is None or not 2 <= len(letters[0]) <= 4:
        return say(gettext_noop("A certificate number begins with the 2 to 4 letters of the shop."))
    if len(squeezed) < len(letters[0]) + 8:
        return say(gettext_noop("The certificate number is too short: some characters are missing."))
    if len(squeezed) > _LONGEST:
        return say(gettext_noop("The certificate number is too long."))
    return say(gettext_noop("After the letters of the shop come digits, as in FY-26-0417-88."))
