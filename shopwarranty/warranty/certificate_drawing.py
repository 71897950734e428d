"""The vehicle on the certificate: every covered panel hatched by its film, with its letter."""

from django.utils.translation import gettext as _

from shopwarranty.trade import catalogue
from shopwarranty.trade.panels import PlaceKind
from shopwarranty.trade.shelf import AddedPanel, AddedPlace
from shopwarranty.web import key_svg, svg
from shopwarranty.web.vehicle import Piece, Purpose, VehicleDrawing, film_state

from .paper_words import names
from .snapshot_parts import AddedPanelShown, PanelShown, Snapshot


def drawing_of(snapshot: Snapshot, *, on_paper: bool = True) -> VehicleDrawing:
    letters = [film.letter for film in snapshot.films]
    panels = {panel.key: panel_piece(panel, letters) for panel in snapshot.panels}
    legend = tuple((film_state(nth), film.letter) for nth, film in enumerate(snapshot.films))
    return VehicleDrawing(
        snapshot.vehicle.body_style,
        Purpose.COVER,
        _("Panels in film: %(panels)s.") % {"panels": names(panel.name for panel in snapshot.panels)},
        pieces=panels,
        added_panels=tuple(added(panel) for panel in snapshot.added_panels),
        legend=(*legend, ("off", _("no film"))),
        on_paper=on_paper,
        ident="cover",
    )


def panel_piece(panel: PanelShown, letters: list[str]) -> Piece:
    """The hatch of the outermost film; several films are all named."""
    found = list(dict.fromkeys(piece.letter for piece in panel.pieces if piece.letter))
    if not found:
        return Piece("film-other", tag="?", said=_("film not recorded"))
    top = max((piece for piece in panel.pieces if piece.letter), key=lambda piece: piece.layer)
    said = _("film %(letter)s") % {"letter": ", ".join(found)}
    return Piece(film_state(letters.index(top.letter)), tag="+".join(found)[:3], said=said)


def added(panel: AddedPanelShown) -> AddedPanel:
    edges = (
        AddedPlace(panel.key, f"edge-{n}", name, PlaceKind.EDGE)
        for n, name in enumerate(panel.edges, start=1)
    )
    return AddedPanel(panel.key, panel.name, tuple(edges))


def known_body(snapshot: Snapshot) -> bool:
    return any(body.key == snapshot.vehicle.body_style for body in catalogue.bodies())


def swatch(drawing: VehicleDrawing, state: str) -> str:
    """One hatch as a picture of its own."""
    inner = svg.PAPER_STYLE + key_svg.swatch(drawing.ident, state)
    return f'<svg viewBox="0 0 34 20" width="34" height="20" {svg.XMLNS}>{inner}</svg>'
