"""Colours keep the contrast of WCAG 2.2: 1.4.3 (text 4.5:1), 1.4.11 (parts 3:1); in the bay 1.4.6 (7:1)."""

import re
from itertools import pairwise

import pytest

from .colour_tokens import TOKENS, contrast, luminance, screen_themes, themes

NAMES = ("light", "dark", "contrast", "contrast-dark")
GROUNDS = ("paper", "sheet", "sunk")
TEXT_ON_GROUNDS = ("ink", "ink-2", "lake", "ember", "plum", "ochre", "slate")
BAY_TEXT = ("ink-2", "lake", "ember", "plum", "ochre", "slate")
SOFT = ("lake", "ember", "plum", "ochre")
OTHER_TEXT = (
    ("on-act", "act"),
    ("sheet", "ochre"),
    ("sheet", "plum"),
    ("sheet", "ember"),
    ("ink", "rate-1"),
    ("ink", "rate-2"),
    ("ink", "rate-3"),
    ("paper", "rate-4"),
    ("paper", "rate-5"),
)
# The overview's own selectors; each theme stands twice, for the device's wish and to be chosen.
SAME = {
    ":root": '[data-theme="light"]',
    "(prefers-color-scheme: dark)": '[data-theme="dark"]',
    "(prefers-contrast: more)": '[data-theme="contrast"]',
    "(prefers-contrast: more) and (prefers-color-scheme: dark)": '[data-theme="contrast-dark"]',
}


def test_the_contrast_formula_agrees_with_known_ratios() -> None:
    # W3C, WCAG 2.2: black on white is 21:1. The grey pair just short of 4.5: W3C's example, from memory.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)
    assert contrast("#ffffff", "#ffffff") == pytest.approx(1.0)


@pytest.mark.parametrize("theme", NAMES)
def test_every_text_colour_can_be_read_on_every_ground(theme: str) -> None:
    colours = screen_themes()[theme]
    pairs = [(text, ground) for text in TEXT_ON_GROUNDS for ground in GROUNDS]
    pairs += [(text, f"{text}-soft") for text in SOFT] + list(OTHER_TEXT)
    too_faint = {(a, b): contrast(colours[a], colours[b]) for a, b in pairs}
    assert {pair: ratio for pair, ratio in too_faint.items() if ratio < 4.5} == {}


@pytest.mark.parametrize("theme", NAMES)
def test_text_in_the_bay_keeps_seven_to_one(theme: str) -> None:
    colours = screen_themes()[theme]
    pairs = [(f"bay-{text}", ground) for text in BAY_TEXT for ground in GROUNDS]
    pairs += [(f"bay-{text}", f"{text}-soft") for text in SOFT]
    pairs += [("ink", ground) for ground in GROUNDS] + [("on-act", "act"), ("sheet", "bay-ochre")]
    too_faint = {(a, b): contrast(colours[a], colours[b]) for a, b in pairs}
    assert {pair: ratio for pair, ratio in too_faint.items() if ratio < 7} == {}


@pytest.mark.parametrize("theme", NAMES)
def test_borders_of_what_can_be_pressed_stand_out(theme: str) -> None:
    colours = screen_themes()[theme]
    ratios = {ground: contrast(colours["bound"], colours[ground]) for ground in GROUNDS}
    assert min(ratios.values()) >= 3, ratios


@pytest.mark.parametrize("theme", NAMES)
def test_rates_step_evenly_from_few_to_many_by_lightness_alone(theme: str) -> None:
    colours = screen_themes()[theme]
    steps = [luminance(colours[f"rate-{n}"]) for n in range(1, 6)]
    dark = luminance(colours["paper"]) < 0.5
    assert steps == sorted(steps, reverse=not dark)
    assert all(contrast(colours[f"rate-{n}"], colours[f"rate-{n + 1}"]) > 1.2 for n in range(1, 5))
    assert all(abs(a - b) > 0.01 for a, b in pairwise(steps))


def test_every_theme_sets_the_same_names() -> None:
    blocks = themes()
    assert len(blocks) == 9  # four by the device's wish, four to be chosen, one for paper
    first = set(blocks[0].colours)
    assert {
        theme.selector: set(theme.colours) ^ first for theme in blocks if set(theme.colours) != first
    } == {}


def test_a_theme_looks_the_same_whether_the_device_or_the_person_chose_it() -> None:
    by_wish = {
        theme.media or theme.selector: theme.colours
        for theme in themes()
        if "data-theme=" not in theme.selector
    }
    chosen = {theme.selector: theme.colours for theme in themes()}
    assert all(by_wish[wish] == chosen[selector] for wish, selector in SAME.items())


def test_no_style_sheet_has_a_colour_of_its_own() -> None:
    own = re.compile(r"#[0-9a-fA-F]{3,8}\b|\b(?:rgb|hsl|oklch)a?\(")
    sheets = TOKENS.parents[4].glob("*/static/**/*.css")
    found = {str(sheet): own.findall(sheet.read_text()) for sheet in sheets if sheet != TOKENS}
    assert {sheet: colours for sheet, colours in found.items() if colours} == {}


def test_every_token_used_in_a_style_sheet_exists() -> None:
    """One with a value of its own to fall back on need not."""
    known = set(re.findall(r"--([\w-]+):", TOKENS.read_text()))
    sheets = list(TOKENS.parents[4].glob("*/static/**/*.css"))
    used = {
        (sheet.name, name) for sheet in sheets for name in re.findall(r"var\(--([\w-]+)\)", sheet.read_text())
    }
    assert {pair for pair in used if pair[1] not in known} == set()
