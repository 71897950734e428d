"""Which characters the certificate's own fonts can print."""

from functools import cache

from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

from .certificate_pdf import FACES, HERE

JOINERS = frozenset(range(0x200B, 0x2010)) | frozenset(range(0xFE00, 0xFE10)) | {0x2060, 0xFEFF}


@cache
def printable() -> frozenset[int]:
    """Code points of all bundled fonts; read once, on first use."""
    found: set[int] = set(JOINERS)
    for face in FACES:
        with TTFont(HERE / "fonts" / face.file, lazy=True) as font:
            found.update(font.getBestCmap())
    return frozenset(found)


def unprintable(text: str) -> tuple[str, ...]:
    """Characters of the text without a sign in any bundled font, once each, in order."""
    return tuple(dict.fromkeys(each for each in text if not each.isspace() and ord(each) not in printable()))
