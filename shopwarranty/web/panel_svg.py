"""One panel, large, as the installer stands before it: every edge and recess is a link."""

from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from shopwarranty.trade import catalogue
from shopwarranty.trade.drawing import Look
from shopwarranty.trade.labels import Label
from shopwarranty.trade.panels import FIELD_KEY, Edge, Recess
from shopwarranty.trade.zoom import zoom, zoom_added
from shopwarranty.trade.zoom_parts import HIT_WIDTH, ZoomEdge, ZoomPanel, ZoomRecess
from shopwarranty.web import svg
from shopwarranty.web.formats import ShopLike
from shopwarranty.web.trade_names import Named, first_upper, trade_name
from shopwarranty.web.vehicle import PanelDrawing, PlaceMark

ANCHORS = {"start": "", "middle": " a-middle", "end": " a-end"}


def panel_shape(drawing: PanelDrawing, shop: ShopLike | None) -> ZoomPanel:
    """The panel of the catalogue with the shop's words on it, or a panel only this shop knows."""
    for own in drawing.added_panels:
        if own.key == drawing.panel_key:
            return zoom_added(own)
    panel = catalogue.panel(drawing.body_key, drawing.panel_key)
    places: tuple[Edge | Recess, ...] = (*panel.edges, *panel.recesses)
    words = {place.key: trade_name(place, shop) for place in places}
    return zoom(drawing.body_key, drawing.panel_key, words, drawing.added_places)


def panel_svg(drawing: PanelDrawing, shop: ShopLike | None) -> SafeString:
    shape = panel_shape(drawing, shop)
    parts = [
        svg.opening("car zoom", shape.view_box, drawing.summary, role="group"),
        svg.definitions(drawing.ident, ["recess"]),
        surface(drawing, shape),
        *(edge_svg(edge, drawing.mark(edge.place_key), shop) for edge in shape.edges),
        *(recess_svg(drawing.ident, r, drawing.mark(r.place_key), shop) for r in shape.recesses),
        *(name_svg(label) for label in shape.labels),
        "</svg>",
    ]
    return SafeString("".join(parts))


def standing_words(drawing: PanelDrawing, shop: ShopLike | None) -> str:
    """How the panel is turned: "As you stand beside it ..."."""
    return gettext(panel_shape(drawing, shop).standing)


def surface(drawing: PanelDrawing, shape: ZoomPanel) -> str:
    """The piece itself; a mark for the field makes it a link too."""
    mark = drawing.marks.get(FIELD_KEY)
    skin = svg.path("skin skin-zoom", shape.outline)
    if mark is None:
        return skin
    name = gettext(catalogue.FIELD.name)
    return svg.linked(f"part field f-{Look(mark.look)}", mark.url, read_out(name, mark), skin)


def edge_svg(edge: ZoomEdge, mark: PlaceMark, shop: ShopLike | None) -> str:
    hit = svg.path("hit-line", edge.hit_path, f'stroke-width="{HIT_WIDTH:g}"')
    disc = edge.disc
    if disc:
        hit += f'<circle class="hit" cx="{disc.x:.1f}" cy="{disc.y:.1f}" r="{disc.radius:.1f}"/>'
    inner = hit + svg.path("e-halo", edge.stroke.line) + svg.layered(edge.stroke.layers(mark.look))
    return part(edge, mark, inner, shop)


def recess_svg(ident: str, recess: ZoomRecess, mark: PlaceMark, shop: ShopLike | None) -> str:
    box = recess.hit
    size = f'width="{box.width:.1f}" height="{box.height:.1f}"'
    hit = f'<rect class="hit" x="{box.x:.1f}" y="{box.y:.1f}" {size}/>'
    shape = svg.path(f"recess recess-zoom r-{Look(mark.look)}", recess.path, svg.fill(ident, "recess"))
    return part(recess, mark, hit + shape, shop)


def part(place: Named, mark: PlaceMark, inner: str, shop: ShopLike | None) -> str:
    classes = "part is-picked" if mark.picked else "part"
    return svg.linked(classes, mark.url, read_out(trade_name(place, shop), mark), inner)


def read_out(name: str, mark: PlaceMark) -> str:
    return first_upper(f"{name}: {mark.said}" if mark.said else name)


def name_svg(label: Label) -> str:
    """The link has the name already; the drawn one is for the eye."""
    return format_html(
        '<text class="name{}" x="{}" y="{}" aria-hidden="true">{}</text>',
        ANCHORS[label.anchor],
        f"{label.x:.1f}",
        f"{label.y:.1f}",
        label.text,
    )
