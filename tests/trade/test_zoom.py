"""The zoomed panel: large enough to tap with gloves, names where they fit, turned as the installer stands."""

import pytest

from shopwarranty.trade import catalogue, zoom
from shopwarranty.trade.labels import PER_LETTER, SIZE, Frame, Label, frame_of
from shopwarranty.trade.panels import PlaceKind
from shopwarranty.trade.shelf import AddedPanel, AddedPlace
from shopwarranty.trade.zoom_parts import HIT_WIDTH, ZoomPanel
from tests.trade.targets import Page, smallest

BODY_KEYS = [b.key for b in catalogue.bodies()]
TARGET = 44.0  # WCAG 2.2, 2.5.5 Target Size (Enhanced)

STEP = AddedPanel(
    "step",
    "side step",
    (
        AddedPlace("step", "upper", "upper edge"),
        AddedPlace("step", "lower", "lower edge"),
        AddedPlace("step", "cup", "lamp cup", PlaceKind.RECESS),
    ),
)


def squares(panel: ZoomPanel) -> tuple[float, str]:
    page = Page(panel.width, panel.height)
    for who, edge in enumerate(panel.edges):
        page.stroke(who, edge.hit_line, HIT_WIDTH)
        if edge.disc:
            page.disc(who, edge.disc.x, edge.disc.y, edge.disc.radius)
    for who, recess in enumerate(panel.recesses, start=len(panel.edges)):
        box = recess.hit
        corners = (
            (box.x, box.y),
            (box.x + box.width, box.y),
            (box.x + box.width, box.y + box.height),
            (box.x, box.y + box.height),
        )
        page.fill(who, corners)
    names = [e.place_key for e in panel.edges] + [r.place_key for r in panel.recesses]
    return smallest(names, page.squares(len(names)))


@pytest.mark.parametrize("body_key", BODY_KEYS)
def test_every_edge_and_recess_owns_a_square_of_44_units(body_key: str) -> None:
    for key in catalogue.panel_keys(body_key):
        side, name = squares(zoom.zoom(body_key, key))
        assert side >= TARGET, f"{key} {name}: {side}"


def test_the_edges_of_a_panel_the_shop_added_can_be_tapped_too() -> None:
    side, name = squares(zoom.zoom_added(STEP))
    assert side >= TARGET, f"{name}: {side}"


@pytest.mark.parametrize("body_key", BODY_KEYS)
def test_every_place_is_there_and_short_edges_come_last(body_key: str) -> None:
    for panel in catalogue.panels(body_key):
        large = zoom.zoom(body_key, panel.key)
        assert {e.place_key for e in large.edges} == {e.key for e in panel.edges}
        assert [r.place_key for r in large.recesses] == [r.key for r in panel.recesses]
        on_disc = [e.disc is not None for e in large.edges]
        assert on_disc == sorted(on_disc)


def frame(label: Label) -> Frame:
    wide = len(label.text) * PER_LETTER
    left = {"start": label.x, "middle": label.x - wide / 2, "end": label.x - wide}[label.anchor]
    return Frame(left, label.y - SIZE * 0.75, left + wide, label.y + SIZE * 0.2)


@pytest.mark.parametrize("body_key", BODY_KEYS)
def test_names_never_touch_each_other_and_stay_on_the_page(body_key: str) -> None:
    for key in catalogue.panel_keys(body_key):
        large = zoom.zoom(body_key, key)
        frames = [frame(label) for label in large.labels]
        for i, one in enumerate(frames):
            assert 0 <= one.left < one.right <= large.width, (key, large.labels[i])
            assert 0 <= one.top < one.bottom <= large.height
            assert not any(one.meets(other) for other in frames[i + 1 :]), (key, large.labels[i])


@pytest.mark.parametrize("body_key", BODY_KEYS)
def test_no_name_lies_over_a_recess(body_key: str) -> None:
    for panel in catalogue.panels(body_key):
        large = zoom.zoom(body_key, panel.key)
        shapes = {r.place_key: frame_of(points_of(r.path)) for r in large.recesses}
        for label in large.labels:
            assert not [key for key, area in shapes.items() if frame(label).meets(area)], (panel.key, label)


def points_of(path: str) -> list[tuple[float, float]]:
    pairs = (pair.split() for pair in path.strip("MZ").split("L"))
    return [(float(x), float(y)) for x, y in pairs]


def test_most_names_of_an_suv_find_room_and_the_rest_is_left_to_the_list() -> None:
    placed = sum(len(zoom.zoom("suv", key).labels) for key in catalogue.panel_keys("suv"))
    assert placed >= 0.8 * 96


def test_longer_words_are_placed_by_the_same_rule() -> None:
    german = {"window": "Fensterschachtleiste oben", "bottom": "Unterkante", "handle": "Griffmulde"}
    texts = {label.place_key: label.text for label in zoom.zoom("suv", "left-front-door", german).labels}
    assert texts["bottom"] == "Unterkante"
    assert texts["handle"] == "Griffmulde"
    assert texts["front"] == "front edge"


def test_the_left_door_has_the_front_of_the_vehicle_on_the_left_and_the_right_door_on_the_right() -> None:
    left = {e.place_key: e.hit_line[0][0] for e in zoom.zoom("suv", "left-front-door").edges}
    right = {e.place_key: e.hit_line[0][0] for e in zoom.zoom("suv", "right-front-door").edges}
    assert left["front"] < left["rear"]
    assert right["front"] > right["rear"]


def test_the_front_bumper_is_seen_from_in_front_and_the_rear_one_from_behind() -> None:
    front = {e.place_key: e.hit_line for e in zoom.zoom("suv", "front-bumper").edges}
    rear = {e.place_key: e.hit_line for e in zoom.zoom("suv", "rear-bumper").edges}
    assert front["left"][0][0] > front["right"][0][0]
    assert rear["left"][0][0] < rear["right"][0][0]
    assert front["top"][7][1] < front["bottom"][7][1]
    assert rear["top"][7][1] < rear["bottom"][7][1]


@pytest.mark.parametrize("body_key", BODY_KEYS)
def test_every_panel_says_how_it_is_turned(body_key: str) -> None:
    assert {zoom.zoom(body_key, k).standing for k in catalogue.panel_keys(body_key)} <= set(
        zoom.STANDING_WORDS
    )


def test_places_the_shop_added_are_60_long_lines_and_56_by_28_capsules() -> None:
    added = [
        AddedPlace("bonnet", "vent", "vent line", PlaceKind.EDGE, 2),
        AddedPlace("bonnet", "scoop", "scoop", PlaceKind.RECESS, 5),
        AddedPlace("roof", "fin", "fin", PlaceKind.RECESS, 5),
    ]
    large = zoom.zoom("suv", "bonnet", added_places=added)
    vent = next(e for e in large.edges if e.place_key == "vent")
    scoop = next(r for r in large.recesses if r.place_key == "scoop")
    assert vent.added
    assert vent.hit_line[1][0] - vent.hit_line[0][0] == pytest.approx(60)
    assert scoop.added
    assert (scoop.hit.width, scoop.hit.height) == pytest.approx((56, 46))
    assert "fin" not in {r.place_key for r in large.recesses}
    assert {"vent line", "scoop"} <= {label.text for label in large.labels}


def test_a_panel_the_shop_added_shows_the_names_the_shop_gave() -> None:
    large = zoom.zoom_added(STEP, {"upper": "Oberkante"})
    assert {label.text for label in large.labels} == {"Oberkante", "lower edge", "lamp cup"}
    assert large.standing == zoom.NOT_TO_SHAPE
