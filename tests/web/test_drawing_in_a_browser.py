"""What a finger meets on the drawing: for every piece the largest square that belongs to it alone."""

from collections import defaultdict
from collections.abc import Callable
from typing import Any

import pytest

from shopwarranty.trade import catalogue
from shopwarranty.web.vehicle import PanelDrawing, Piece, PlaceMark, Purpose, VehicleDrawing

from .pages import render

pytestmark = [pytest.mark.browser, pytest.mark.urls("tests.web.urls")]
Open = Callable[..., Any]
STEP = 2
LEAST = 44  # WCAG 2.2, 2.5.5 Target Size (Enhanced); the list beside the drawing has 64 px
PAGE = """{% extends "web/bay.html" %}{% block title %}x{% endblock %}
{% block main %}{% include name %}{% endblock %}{% block foot %}{% endblock %}"""
OWNERS = """step => { const box = document.querySelector("svg.car").getBoundingClientRect(), rows = [];
  for (let y = box.top; y < box.bottom; y += step) { const row = [];
    for (let x = 0; x < innerWidth; x += step)
      row.push(document.elementFromPoint(x, y)?.closest("svg a")?.getAttribute("href") ?? "");
    rows.push(row); }
  return rows; }"""


def largest_squares(rows: list[list[str]]) -> dict[str, int]:
    """Per owner the side, in px, of the largest square of sample points that all belong to it."""
    best: dict[str, int] = defaultdict(int)
    above: list[int] = [0] * len(rows[0])
    for y, row in enumerate(rows):
        sides: list[int] = []
        for x, owner in enumerate(row):
            same = y and x and owner == row[x - 1] == rows[y - 1][x] == rows[y - 1][x - 1]
            sides.append(1 + min(sides[-1], above[x], above[x - 1]) if same else 1)
            best[owner] = max(best[owner], sides[-1] * STEP)
        above = sides
    best.pop("", None)
    return dict(best)


def measured(open_page: Open, name: str, drawing: object) -> dict[str, int]:
    page = open_page(render(PAGE, name=name, drawing=drawing), width=390, height=900)
    return largest_squares(page.evaluate(OWNERS, STEP))


@pytest.mark.parametrize("body", [body.key for body in catalogue.bodies()])
def test_every_panel_of_the_overview_can_be_hit_on_a_phone(open_page: Open, body: str) -> None:
    keys = catalogue.panel_keys(body)
    pieces = {key: Piece("usual", url=f"#{key}", others="usual") for key in keys}
    squares = measured(open_page, "web/bench.html", VehicleDrawing(body, Purpose.RECORD, "x", pieces))
    assert set(squares) == {f"#{key}" for key in keys}
    assert {key: side for key, side in squares.items() if side < LEAST} == {}


# The right side is the left side mirrored.
@pytest.mark.parametrize(
    "panel", [key for key in catalogue.panel_keys("suv") if not key.startswith("right-")]
)
def test_every_edge_and_recess_of_a_zoomed_panel_can_be_hit_on_a_phone(open_page: Open, panel: str) -> None:
    shape = catalogue.panel("suv", panel)
    keys = [*(edge.key for edge in shape.edges), *(recess.key for recess in shape.recesses)]
    marks = {key: PlaceMark("unseen", url=f"#{key}") for key in keys}
    squares = measured(open_page, "web/panel.html", PanelDrawing("suv", panel, "x", marks))
    assert set(squares) == {f"#{key}" for key in keys}
    assert {key: side for key, side in squares.items() if side < LEAST} == {}


def test_the_measure_finds_the_largest_square() -> None:
    rows = [["a", "a", "b"], ["a", "a", "b"], ["", "a", "b"]]
    assert largest_squares(rows) == {"a": 2 * STEP, "b": STEP}
