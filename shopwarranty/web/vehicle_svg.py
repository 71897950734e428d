"""The whole vehicle as SVG: every piece a link with its full name, its strokes by state."""

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from shopwarranty.trade.drawing import Look, Overview, OverviewPanel, RecessShape, overview
from shopwarranty.web import svg
from shopwarranty.web.formats import ShopLike
from shopwarranty.web.trade_names import first_upper, trade_name
from shopwarranty.web.vehicle import FILMS, RATES, Piece, Purpose, VehicleDrawing

SLIM = frozenset({"rail", "sill", "mirror"})
TAG_DROP = 4.0  # from the middle of a text line to its base


def vehicle_svg(drawing: VehicleDrawing, shop: ShopLike | None) -> SafeString:
    """Links make it a group of links; without any it is one picture with a sentence."""
    shape = overview(drawing.body_key, drawing.added_panels, drawing.added_places)
    tappable = any(drawing.piece(panel.key).url for panel in shape.panels)
    parts = [
        svg.opening(
            f"car car-{drawing.purpose}",
            shape.view_box,
            drawing.summary,
            role="group" if tappable else "img",
        ),
        svg.PAPER_STYLE if drawing.on_paper else "",
        svg.definitions(drawing.ident, pattern_names(drawing)),
        ghosts(shape),
        *(piece_svg(drawing, panel, shop) for panel in shape.panels),
        shelf_words(shape),
        "</svg>",
    ]
    return SafeString("".join(parts))


def pattern_names(drawing: VehicleDrawing) -> list[str]:
    used = {piece.state for piece in (*drawing.pieces.values(), drawing.rest)}
    return ["recess", *(film for film in FILMS if film in used)]


def ghosts(shape: Overview) -> str:
    """Wheels and glass, for orientation only."""
    wheels = (svg.path("ghost ghost-wheel", wheel) for wheel in shape.wheels)
    glass = (svg.path("ghost ghost-glass", pane) for pane in shape.glass)
    return "".join((*wheels, *glass))


def piece_svg(drawing: VehicleDrawing, panel: OverviewPanel, shop: ShopLike | None) -> str:
    piece = drawing.piece(panel.key)
    inner = (
        (svg.path("hit", panel.hit) if panel.hit and piece.url else "")
        + skin(drawing, panel, piece)
        + recesses(drawing, panel, piece)
        + edges(panel, piece)
        + label(drawing, panel, piece)
    )
    classes = f"panel is-{piece.state}" + (" is-here" if piece.here else "")
    return svg.linked(classes, piece.url, read_out(trade_name(panel, shop), piece), inner)


def read_out(name: str, piece: Piece) -> str:
    said = piece.said or piece.tag
    return first_upper(f"{name}: {said}" if said else name)


def skin(drawing: VehicleDrawing, panel: OverviewPanel, piece: Piece) -> str:
    if piece.state in FILMS:
        return svg.path("film", panel.outline, svg.fill(drawing.ident, piece.state))
    return svg.path("skin", panel.outline)


def recesses(drawing: VehicleDrawing, panel: OverviewPanel, piece: Piece) -> str:
    """A panel without film shows none; where rates or films are shown they would only be noise."""
    if piece.state == "off" or drawing.purpose in (Purpose.COVER, Purpose.RATES):
        return ""
    return "".join(recess(drawing.ident, shape, piece.look_of(shape.place_key)) for shape in panel.recesses)


def recess(ident: str, shape: RecessShape, look: Look | None) -> str:
    classes = f"recess r-{look}" if look else "recess"
    return svg.path(classes, shape.path, svg.fill(ident, "recess"))


def edges(panel: OverviewPanel, piece: Piece) -> str:
    drawn = ((edge, piece.look_of(edge.place_key)) for edge in panel.edges)
    return "".join(svg.layered(edge.layers(look)) for edge, look in drawn if look)


def label(drawing: VehicleDrawing, panel: OverviewPanel, piece: Piece) -> str:
    x, y = panel.label
    words = piece.tag or (trade_name_short(panel) if panel.added else "")
    if piece.count is not None:
        kind = "mark mark-lift" if piece.state == "lift" else "mark"
        number = svg.text("", x, y + TAG_DROP, str(piece.count))
        return f'<g class="{kind}"><circle cx="{x:.1f}" cy="{y:.1f}" r="11"/>{number}</g>'
    if not words:
        return ""
    disc = f'<circle class="tag-disc" cx="{x:.1f}" cy="{y:.1f}" r="10"/>' if piece.state in FILMS else ""
    classes = "tag tag-slim" if panel.kind in SLIM and piece.state in RATES else "tag"
    return disc + svg.text(classes, x, y + TAG_DROP, words)


def trade_name_short(panel: OverviewPanel) -> str:
    """A shop's own panel is told from its neighbours on the shelf only by its name."""
    return panel.name if len(panel.name) <= 18 else panel.name[:17] + "…"


def shelf_words(shape: Overview) -> str:
    if shape.shelf_caption is None:
        return ""
    x, y = shape.shelf_caption
    return svg.text("name caption", x, y, gettext("added by the shop"))
