"""The drawings: every piece is a real link with its whole name, every state has a stroke of its own."""

import re
from xml.etree import ElementTree

import pytest

from shopwarranty.trade import catalogue
from shopwarranty.trade.shelf import AddedPanel, AddedPlace
from shopwarranty.web.key_svg import key
from shopwarranty.web.panel_svg import panel_svg
from shopwarranty.web.svg import PAPER_STYLE
from shopwarranty.web.vehicle import (
    FILMS,
    STATES,
    PanelDrawing,
    Piece,
    PlaceMark,
    Purpose,
    UnknownState,
    VehicleDrawing,
    film_letter,
    film_state,
)
from shopwarranty.web.vehicle_svg import vehicle_svg

from .pages import Elements, Shop, render

US, METRIC = Shop(units="us"), Shop(units="metric")
BODIES = [body.key for body in catalogue.bodies()]
SVG = "{http://www.w3.org/2000/svg}"


def every_panel(body: str, **more: object) -> VehicleDrawing:
    pieces = {key: Piece("usual", url=f"#{key}", others="usual") for key in catalogue.panel_keys(body)}
    return VehicleDrawing(body, Purpose.RECORD, "All panels in film.", pieces, **more)  # type: ignore[arg-type]


def parsed(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)


def links(svg: str) -> list[dict[str, str]]:
    return [dict(link.attrib) for link in parsed(svg).iter(f"{SVG}a")]


@pytest.mark.parametrize("body", BODIES)
def test_every_panel_is_a_link_with_a_name_of_its_own(body: str) -> None:
    found = links(vehicle_svg(every_panel(body), METRIC))
    assert [link["href"] for link in found] == [f"#{key}" for key in catalogue.panel_keys(body)]
    names = [link["aria-label"] for link in found]
    assert all(name[0].isupper() for name in names)
    assert len(names) == len(set(names))


def test_a_name_says_what_the_eye_sees() -> None:
    drawing = VehicleDrawing(
        "suv",
        Purpose.RECORD,
        "One panel differs.",
        {"left-front-door": Piece("differs", url="/door/", said="2 differ", count=2)},
        Piece("off", url="/none/", said="no film"),
    )
    names = {link["aria-label"] for link in links(vehicle_svg(drawing, METRIC))}
    assert "Left front door: 2 differ" in names
    assert "Bonnet: no film" in names


def test_an_american_shop_reads_american_words() -> None:
    names = {link["aria-label"] for link in links(vehicle_svg(every_panel("saloon"), US))}
    assert {"Hood", "Trunk lid"} <= names
    assert not {"Bonnet", "Boot lid"} & names


def test_the_drawing_is_a_group_of_links_or_else_one_picture() -> None:
    picture = VehicleDrawing("van", Purpose.CHECK, "Panel 5 of 19.", rest=Piece("unseen", others="unseen"))
    assert parsed(vehicle_svg(every_panel("van"), METRIC)).attrib["role"] == "group"
    root = parsed(vehicle_svg(picture, METRIC))
    assert (root.attrib["role"], root.attrib["aria-label"]) == ("img", "Panel 5 of 19.")
    assert links(vehicle_svg(picture, METRIC)) == []


@pytest.mark.parametrize("look", ["usual", "clean", "lift", "unseen", "differs"])
def test_each_look_has_a_stroke_of_its_own(look: str) -> None:
    drawing = VehicleDrawing("suv", Purpose.CHECK, "x", {"bonnet": Piece("unseen", places={"leading": look})})
    paths = [path.attrib["class"] for path in parsed(vehicle_svg(drawing, METRIC)).iter(f"{SVG}path")]
    strokes = {css for css in paths if css.startswith("e ")}
    assert strokes == STROKES[look]


STROKES = {
    "usual": {"e e-usual"},
    "clean": {"e e-clean"},
    "unseen": {"e e-unseen"},
    "lift": {"e e-lift", "e e-lift-base"},
    "differs": {"e e-dev", "e e-dev-core"},
}


def test_a_panel_without_film_shows_no_edges_and_no_recesses() -> None:
    off = VehicleDrawing("suv", Purpose.RECORD, "x", {}, Piece("off", others="usual"))
    classes = {path.attrib["class"] for path in parsed(vehicle_svg(off, METRIC)).iter(f"{SVG}path")}
    assert {css for css in classes if css.startswith(("e ", "recess"))} == set()


def test_a_state_without_a_stroke_is_refused() -> None:
    with pytest.raises(UnknownState, match="fine"):
        Piece("fine")


def test_films_are_told_apart_by_hatch_and_by_letter() -> None:
    keys = catalogue.USUAL_FRONT[:6]
    pieces = {key: Piece(film_state(n), tag=film_letter(n)) for n, key in enumerate(keys)}
    root = parsed(vehicle_svg(VehicleDrawing("suv", Purpose.COVER, "x", pieces), METRIC))
    patterns = {pattern.attrib["id"] for pattern in root.iter(f"{SVG}pattern")}
    used = [path.attrib["fill"] for path in root.iter(f"{SVG}path") if path.attrib["class"] == "film"]
    assert patterns == {"vehicle-recess", *(f"vehicle-{film}" for film in FILMS)}
    assert {fill.removeprefix("url(#").removesuffix(")") for fill in used} <= patterns
    assert [text.text for text in root.iter(f"{SVG}text")] == ["A", "B", "C", "D", "E", "F"][: len(keys)]


def test_a_rate_is_a_number_on_the_piece_and_few_is_not_a_rate() -> None:
    pieces = {
        "bonnet": Piece("rate-1", tag="0.6", said="0.6 per 100 years watched, 3 of 512"),
        "roof": Piece("few", said="too few to say"),
    }
    svg = vehicle_svg(VehicleDrawing("suv", Purpose.RATES, "x", pieces), METRIC)
    assert [text.text for text in parsed(svg).iter(f"{SVG}text")] == ["0.6"]
    assert "is-few" in svg


def test_words_a_shop_made_up_cannot_carry_markup() -> None:
    panel = AddedPanel("spoiler", 'roof "<b>" spoiler', (AddedPlace("spoiler", "top", "<i>top</i>"),))
    drawing = every_panel("suv", added_panels=(panel,), rest=Piece("usual", url='/x?a="b"&c'))
    found = [link for link in links(vehicle_svg(drawing, METRIC)) if "spoiler" in link["aria-label"]]
    assert [(link["aria-label"], link["href"]) for link in found] == [('Roof "<b>" spoiler', '/x?a="b"&c')]
    zoomed = panel_svg(PanelDrawing("suv", "spoiler", "<u>", added_panels=(panel,)), METRIC)
    assert parsed(zoomed).attrib["aria-label"] == "<u>"


@pytest.mark.parametrize(("body", "panel"), [(b, p) for b in BODIES for p in catalogue.panel_keys(b)])
def test_every_place_of_every_zoomed_panel_is_a_link_with_its_name(body: str, panel: str) -> None:
    shape = catalogue.panel(body, panel)
    places = [*(edge.key for edge in shape.edges), *(recess.key for recess in shape.recesses)]
    marks = {key: PlaceMark("unseen", url=f"#{key}", said="not looked at") for key in places}
    found = links(panel_svg(PanelDrawing(body, panel, "x", marks), METRIC))
    assert sorted(link["href"] for link in found) == sorted(f"#{key}" for key in places)
    assert all(link["aria-label"].endswith(": not looked at") for link in found)


def test_the_surface_is_a_link_only_where_it_has_a_mark() -> None:
    marks = {"field": PlaceMark("lift", url="#field", said="one nib")}
    found = links(panel_svg(PanelDrawing("suv", "bonnet", "x", marks), METRIC))
    assert [(link["href"], link["aria-label"]) for link in found] == [("#field", "Surface: one nib")]


def test_the_place_added_by_a_shop_is_tapped_like_the_others() -> None:
    badge = AddedPlace("bonnet", "badge", "badge edge", spot=8)
    drawing = PanelDrawing(
        "suv", "bonnet", "x", {"badge": PlaceMark("clean", url="#badge")}, added_places=(badge,)
    )
    assert [link["aria-label"] for link in links(panel_svg(drawing, METRIC))] == ["Badge edge"]


def test_the_paper_drawing_brings_its_own_strokes_and_the_screen_one_does_not() -> None:
    assert "<style>" in vehicle_svg(every_panel("suv", on_paper=True), METRIC)
    assert "<style>" not in vehicle_svg(every_panel("suv"), METRIC)


def test_the_bench_shows_the_drawing_with_its_key_and_keeps_left_on_the_left() -> None:
    drawing = every_panel("suv", legend=(("usual", "as usual"), ("off", "no film"), ("lift", "wrong")))
    html = render('{% include "web/bench.html" %}', drawing=drawing)
    assert [html.count(words) for words in ("as usual", "no film", "wrong")] == [1, 1, 1]
    assert html.index("front left") < html.index("front right")
    assert Elements(html).all("ul") == [{"class": "key"}]


def test_the_panel_says_how_it_is_turned() -> None:
    html = render("{% load drawing %}{% panel_standing d %}", d=PanelDrawing("suv", "right-wing", "x"))
    assert html == "As you stand beside it. Front of the vehicle to the right."


@pytest.mark.parametrize("purpose", list(Purpose))
def test_nothing_on_paper_falls_back_to_black(purpose: Purpose) -> None:
    # What has no rule of its own is filled black (SVG 2, initial value of fill).
    states = sorted(STATES)
    pieces = {
        key: Piece(states[n % len(states)], tag="1", others=list(STROKES)[n % 5])
        for n, key in enumerate(catalogue.panel_keys("suv"))
    }
    legend = tuple((state, state) for state in states)
    drawing = VehicleDrawing("suv", purpose, "x", pieces, legend=legend, on_paper=True)
    page = Elements(str(vehicle_svg(drawing, METRIC)) + str(key(drawing)))
    ruled = set(re.findall(r"\.([\w-]+)[{,]", PAPER_STYLE))
    shapes = [shape.get("class", "").split() for shape in page.all("path", "circle") if "r" not in shape]
    assert [classes for classes in shapes if not ruled & set(classes)] == []
