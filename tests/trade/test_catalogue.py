"""Body styles, panels and places.

What a panel is called and which edges it has is common practice, no source.
"""

from collections import Counter

import pytest

from shopwarranty.trade import catalogue
from shopwarranty.trade.panels import PlaceKind, Side

BODY_KEYS = ("saloon", "hatchback", "suv", "pickup", "coupe", "van")


def edges_and_recesses(body_key: str, keys: tuple[str, ...]) -> int:
    return sum(len(catalogue.default_places(catalogue.panel(body_key, k))) - 1 for k in keys)


def test_there_are_six_body_styles() -> None:
    assert tuple(b.key for b in catalogue.bodies()) == BODY_KEYS


def test_an_suv_has_19_panels_with_96_edges_and_recesses() -> None:
    keys = catalogue.panel_keys("suv")
    assert len(keys) == 19
    assert edges_and_recesses("suv", keys) == 96


def test_the_usual_full_front_is_8_panels_with_42_edges_and_recesses() -> None:
    assert len(catalogue.USUAL_FRONT) == 8
    assert edges_and_recesses("suv", catalogue.USUAL_FRONT) == 42


@pytest.mark.parametrize("body_key", BODY_KEYS)
def test_the_usual_front_exists_on_every_body_in_walking_order(body_key: str) -> None:
    found = [k for k in catalogue.panel_keys(body_key) if k in catalogue.USUAL_FRONT]
    assert found == list(catalogue.USUAL_FRONT)


@pytest.mark.parametrize("body_key", BODY_KEYS)
def test_walking_order_is_front_left_rear_right_roof(
    body_key: str,
) -> None:
    sides = [p.side for p in catalogue.panels(body_key)]
    first, last = sides.index(Side.LEFT), len(sides) - 1
    right = sides.index(Side.RIGHT)
    assert sides[:first] == [Side.MIDDLE] * first
    assert catalogue.panels(body_key)[last].key == "roof"
    assert sides[first:right].count(Side.LEFT) == sides[right:].count(Side.RIGHT)


@pytest.mark.parametrize("body_key", BODY_KEYS)
def test_keys_are_unique_within_a_body_and_places_within_a_panel(body_key: str) -> None:
    assert len(set(catalogue.panel_keys(body_key))) == len(catalogue.panels(body_key))
    for panel in catalogue.panels(body_key):
        keys = [p.key for p in catalogue.default_places(panel)]
        assert len(set(keys)) == len(keys), panel.key


@pytest.mark.parametrize("body_key", BODY_KEYS)
def test_names_are_unique_within_a_body_and_within_a_panel_in_both_variants(body_key: str) -> None:
    for american in (False, True):
        names = [p.name_us if american else p.name for p in catalogue.panels(body_key)]
        assert not [n for n, times in Counter(names).items() if times > 1]
        for panel in catalogue.panels(body_key):
            places = [p.name_us if american else p.name for p in catalogue.default_places(panel)]
            assert len(set(places)) == len(places), panel.key


@pytest.mark.parametrize("body_key", BODY_KEYS)
def test_every_edge_of_every_panel_has_a_name_and_points_and_the_edges_close(body_key: str) -> None:
    for panel in catalogue.panels(body_key):
        assert len(panel.edges) >= 3
        for edge, following in zip(panel.edges, [*panel.edges[1:], panel.edges[0]], strict=True):
            assert edge.name
            assert edge.name_us
            assert len(edge.points) >= 2
            assert edge.points[-1] == pytest.approx(following.points[0], abs=1e-6), (
                panel.key,
                edge.key,
            )
        for recess in panel.recesses:
            assert recess.name
            assert len(recess.outline) >= 4


@pytest.mark.parametrize("body_key", BODY_KEYS)
def test_left_and_right_are_mirror_images(body_key: str) -> None:
    for left in catalogue.panels(body_key):
        other = catalogue.opposite(left.key)
        if left.side is not Side.LEFT:
            continue
        assert other is not None
        right = catalogue.panel(body_key, other)
        assert catalogue.opposite(other) == left.key
        assert [e.key for e in left.edges] == [e.key for e in right.edges]
        for a, b in zip(left.outline, right.outline, strict=True):
            assert (-a[0], a[1]) == pytest.approx(b)


def test_a_panel_on_the_centre_line_has_no_opposite_but_its_places_do() -> None:
    assert catalogue.opposite("bonnet") is None
    assert catalogue.opposite_place("line-left") == "line-right"
    assert catalogue.opposite_place("right") == "left"
    assert catalogue.opposite_place("window") == "window"


def test_places_come_as_edges_then_recesses_then_the_surface() -> None:
    kinds = [p.kind for p in catalogue.default_places(catalogue.panel("suv", "left-front-door"))]
    assert kinds == [PlaceKind.EDGE] * 4 + [PlaceKind.RECESS] * 2 + [PlaceKind.FIELD]


def test_british_names_have_american_ones_beside_them() -> None:
    assert catalogue.panel_name("suv", "bonnet") == "bonnet"
    assert catalogue.panel_name("suv", "bonnet", american=True) == "hood"
    assert [body.name_us for body in catalogue.bodies() if body.name_us != body.name] == ["sedan"]
    assert catalogue.panel_name("saloon", "left-wing", american=True) == "left front fender"
    assert catalogue.panel_name("saloon", "boot-lid", american=True) == "trunk lid"
    assert catalogue.panel_name("saloon", "right-sill", american=True) == "right rocker panel"
    assert catalogue.place_name("suv", "left-wing", "top", american=True) == "hood line"


def test_a_panel_counted_over_several_bodies_has_a_name_of_its_own() -> None:
    assert catalogue.panel_name("coupe", "left-front-door") == "left door"
    assert catalogue.pooled_panel_name("left-front-door") == "left front door"
    assert catalogue.pooled_panel_name("tailgate", american=True) == "tailgate"
    assert catalogue.pooled_place_name("left-side-panel", "bottom") == "bottom edge"
    assert catalogue.pooled_place_name("left-wing", "field") == "surface"


def test_no_american_name_keeps_a_british_word() -> None:
    british = ("bonnet", "wing", "boot", "sill")
    for body_key in BODY_KEYS:
        for panel in catalogue.panels(body_key):
            names = [panel.name_us, *(p.name_us for p in catalogue.default_places(panel))]
            assert not [n for n in names if any(word in n.split() for word in british)]


def test_all_words_holds_every_name_once() -> None:
    words = catalogue.all_words()
    assert len(set(words)) == len(words)
    for expected in ("SUV", "left front door", "left front fender", "handle cup", "surface", "hood line"):
        assert expected in words


def test_unknown_keys_say_which_key_is_unknown() -> None:
    with pytest.raises(catalogue.UnknownBody, match="hovercraft"):
        catalogue.body("hovercraft")
    with pytest.raises(catalogue.UnknownPanel, match="bed-side"):
        catalogue.panel("suv", "left-bed-side")
    with pytest.raises(catalogue.UnknownPlace, match="porthole"):
        catalogue.place("suv", "roof", "porthole")
    with pytest.raises(catalogue.UnknownPanel):
        catalogue.pooled_panel_name("porthole")


def test_a_door_is_about_50_by_38_inches() -> None:
    # Common practice, no source.
    size = catalogue.typical_size_mm("left-front-door")
    assert size is not None
    assert (size.along_mm / 25.4, size.across_mm / 25.4) == pytest.approx((50, 38), abs=0.1)


@pytest.mark.parametrize("body_key", BODY_KEYS)
def test_every_panel_has_a_typical_size(body_key: str) -> None:
    assert all(catalogue.typical_size_mm(k) for k in catalogue.panel_keys(body_key))


def test_a_panel_only_the_shop_knows_has_no_typical_size() -> None:
    assert catalogue.typical_size_mm("roof-spoiler") is None


def test_bonnet_roof_and_boot_lid_lie_flat_and_doors_do_not() -> None:
    assert catalogue.is_horizontal("bonnet")
    assert catalogue.is_horizontal("roof")
    assert catalogue.is_horizontal("boot-lid")
    assert not catalogue.is_horizontal("left-front-door")
