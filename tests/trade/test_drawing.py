"""The drawing: every piece can be hit with a finger, every edge is drawn, and states differ in their strokes.

44 px: WCAG 2.2, 2.5.5 Target Size (Enhanced).
"""

import re
import time
from dataclasses import FrozenInstanceError

import pytest

from shopwarranty.trade import catalogue, drawing
from shopwarranty.trade.drawing import Look, overview
from shopwarranty.trade.layout import layout
from shopwarranty.trade.panels import PlaceKind
from shopwarranty.trade.shapes import Line, inside
from shopwarranty.trade.shelf import SPOTS, AddedPanel, AddedPlace, edge_lines, spot_on
from tests.trade.targets import Page, smallest

BODY_KEYS = [b.key for b in catalogue.bodies()]
PATH = re.compile(r"M-?[\d.]+ -?[\d.]+(?:[LQ]-?[\d.]+ -?[\d.]+(?: -?[\d.]+ -?[\d.]+)?)*Z?$")
TARGET = 44.0

SPOILER = AddedPanel(
    "roof-spoiler",
    "roof spoiler",
    (
        AddedPlace("roof-spoiler", "top", "top edge"),
        AddedPlace("roof-spoiler", "bottom", "bottom edge"),
        AddedPlace("roof-spoiler", "lamp", "lamp cup", PlaceKind.RECESS),
    ),
)


def on_page(points: Line) -> Line:
    return tuple((drawing.CENTRE + v, u) for v, u in points)


@pytest.mark.parametrize("body_key", BODY_KEYS)
def test_every_panel_owns_a_square_of_44_units(body_key: str) -> None:
    plan = layout(catalogue.body(body_key))
    page = Page(drawing.WIDTH, plan.length)
    for who, panel in enumerate(plan.panels):
        if panel.hit:
            page.fill(who, on_page(panel.hit))
        page.fill(who, on_page(panel.outline))
    names = [panel.key for panel in plan.panels]
    side, name = smallest(names, page.squares(len(names)))
    assert side >= TARGET, f"{name}: {side}"


@pytest.mark.parametrize("body_key", BODY_KEYS)
def test_every_edge_and_recess_of_every_panel_is_drawn_in_walking_order(body_key: str) -> None:
    shapes = overview(body_key).panels
    assert [s.key for s in shapes] == list(catalogue.panel_keys(body_key))
    for shape, panel in zip(shapes, catalogue.panels(body_key), strict=True):
        assert PATH.match(shape.outline)
        assert shape.outline.endswith("Z")
        assert [e.place_key for e in shape.edges] == [e.key for e in panel.edges]
        assert [r.place_key for r in shape.recesses] == [r.key for r in panel.recesses]
        for edge in shape.edges:
            assert edge.name
            assert PATH.match(edge.line), edge.line
            assert PATH.match(edge.scallops), edge.scallops


@pytest.mark.parametrize("body_key", BODY_KEYS)
def test_labels_stand_on_their_panel_and_everything_lies_within_the_page(body_key: str) -> None:
    shape = overview(body_key)
    for piece, panel in zip(shape.panels, catalogue.panels(body_key), strict=True):
        if panel.kind not in {"rail"}:  # too slim for words: its label stands beside it
            assert inside(piece.label, on_page(panel.outline)), piece.key
        for x, y in on_page(panel.outline):
            assert 0 <= x <= shape.width
            assert 0 <= y <= shape.height


@pytest.mark.parametrize("body_key", BODY_KEYS)
def test_no_two_pieces_overlap(body_key: str) -> None:
    panels = catalogue.panels(body_key)
    for panel in panels:
        for other in panels:
            if other is not panel:
                assert not [p for p in panel.outline if inside(p, other.outline)], (panel.key, other.key)


def test_each_look_has_its_own_strokes() -> None:
    edge = overview("suv").panels[0].edges[0]
    drawn = {look: edge.layers(look) for look in Look}
    assert len({tuple(layer.css for layer in layers) for layers in drawn.values()}) == len(Look)
    assert [layer.path for layer in drawn[Look.LIFT]] == [edge.line, edge.scallops]
    assert [layer.path for layer in drawn[Look.DIFFERS]] == [edge.line, edge.line]
    assert edge.layers("clean") == drawn[Look.CLEAN]
    with pytest.raises(ValueError, match="glowing"):
        edge.layers("glowing")


def test_the_suv_is_574_high_and_the_van_640() -> None:
    assert overview("suv").view_box == "0 0 390 574"
    assert overview("van").view_box == "0 0 390 640"


def test_wheels_and_glass_are_drawn_apart_and_a_pickup_shows_its_bed() -> None:
    assert len(overview("suv").wheels) == 4
    assert len(overview("suv").glass) == 2
    assert len(overview("pickup").glass) == 3
    assert len(overview("van").glass) == 1


def test_panels_the_shop_added_lie_below_the_vehicle_three_to_a_row() -> None:
    panels = [AddedPanel(f"p{i}", f"panel {i}") for i in range(4)]
    plain, shape = overview("suv"), overview("suv", [SPOILER, *panels])
    added = [p for p in shape.panels if p.added]
    assert [p.key for p in added] == ["roof-spoiler", "p0", "p1", "p2", "p3"]
    assert {p.label[1] > plain.height for p in added} == {True}
    assert len({round(p.label[1]) for p in added[1:]}) == 2
    assert shape.shelf_caption is not None
    assert plain.shelf_caption is None
    assert shape.height > plain.height
    assert [e.name for e in added[0].edges] == ["top edge", "bottom edge"]
    assert [r.name for r in added[0].recesses] == ["lamp cup"]


@pytest.mark.parametrize("count", range(9))
def test_a_plain_piece_has_a_line_of_its_own_for_every_edge(count: int) -> None:
    lines = edge_lines(count, 10, 20, (114, 48), 4)
    assert len(set(lines)) == count
    for (x0, y0), (x1, y1) in lines:
        assert 14 <= min(x0, x1) <= max(x0, x1) <= 120
        assert 24 <= min(y0, y1) <= max(y0, y1) <= 64


@pytest.mark.parametrize("body_key", BODY_KEYS)
def test_every_spot_of_every_panel_lies_on_the_panel(body_key: str) -> None:
    for panel in catalogue.panels(body_key):
        for spot in range(1, len(SPOTS) + 1):
            at = spot_on(panel, spot)
            if panel.kind != "rail":
                assert inside(at, panel.outline), (panel.key, spot)


def test_a_place_the_shop_added_is_marked_on_its_panel_only() -> None:
    place = AddedPlace("bonnet", "scoop", "air scoop", PlaceKind.RECESS, 5)
    shape = overview("suv", (), [place])
    marks = {p.key: [r.place_key for r in p.recesses if r.added] for p in shape.panels}
    assert marks.pop("bonnet") == ["scoop"]
    assert not [keys for keys in marks.values() if keys]


def test_a_spot_that_does_not_exist_is_refused() -> None:
    with pytest.raises(ValueError, match="spot 10"):
        spot_on(catalogue.panel("suv", "roof"), 10)


def test_left_on_the_page_is_the_vehicles_left() -> None:
    for shape in overview("saloon").panels:
        if shape.key.startswith("left-"):
            assert shape.label[0] < drawing.CENTRE
        if shape.key.startswith("right-"):
            assert shape.label[0] > drawing.CENTRE


def test_shapes_cannot_be_changed_and_are_drawn_once() -> None:
    shape = overview("suv")
    with pytest.raises(FrozenInstanceError):
        shape.panels[0].key = "roof"  # type: ignore[misc]
    started = time.process_time()
    assert all(overview("suv") is shape for _ in range(1000))
    assert time.process_time() - started < 0.1
