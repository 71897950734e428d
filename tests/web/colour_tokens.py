"""Reads tokens.css as themes, and the contrast of two colours as the W3C defines it."""

import re
from dataclasses import dataclass
from pathlib import Path

TOKENS = Path(__file__).parents[2] / "shopwarranty/web/static/web/css/tokens.css"
BLOCK = re.compile(r"(?:^|\n)(@media ([^{]+)\{\n)?\s*([^{}@]+?) \{\n([^{}]*)\}")
COLOUR = re.compile(r"--([\w-]+): (#[0-9a-f]{6});")


@dataclass(frozen=True, slots=True)
class Theme:
    """One block of colours: the media query and selector it stands under, and its tokens."""

    media: str
    selector: str
    colours: dict[str, str]


def themes() -> list[Theme]:
    """Every block that sets colours, in the order of the file."""
    blocks = BLOCK.finditer(re.sub(r"/\*.*?\*/", "", TOKENS.read_text(), flags=re.DOTALL))
    found = [Theme((m[2] or "").strip(), m[3].strip(), dict(COLOUR.findall(m[4]))) for m in blocks]
    return [theme for theme in found if theme.colours]


def screen_themes() -> dict[str, dict[str, str]]:
    """The four themes by name, from the blocks a person can choose."""
    named = (re.fullmatch(r'\[data-theme="([\w-]+)"\]', theme.selector) for theme in themes())
    return {m[1]: theme.colours for m, theme in zip(named, themes(), strict=True) if m}


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2 (W3C Recommendation, 2023), definition "relative luminance"."""
    red, green, blue = (linear(int(colour[i : i + 2], 16) / 255) for i in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def linear(channel: float) -> float:
    return channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4


def contrast(first: str, second: str) -> float:
    """Contrast ratio, WCAG 2.2, definition "contrast ratio": (L1 + 0.05) / (L2 + 0.05), the lighter first."""
    light, dark = sorted((luminance(first), luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)
