"""Vehicle and zoomed panel as the record shows them: as usual, differs, not confirmed yet, no film."""

from collections.abc import Callable

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopwarranty.web.vehicle import PanelDrawing, Piece, PlaceMark, Purpose, VehicleDrawing

from .record_parts import JobRecord, PanelRecord, PlaceRecord
from .shop_catalogue import ShopCatalogue
from .words import place_words

PanelUrl = Callable[[str], str]


def is_settled(record: JobRecord, panel: PanelRecord) -> bool:
    """Whether somebody stands behind the panel: it was confirmed, or finished without a method."""
    return bool(panel.confirmed_at or (record.method is None and panel.finished_at))


def job_drawing(
    record: JobRecord, catalogue: ShopCatalogue, panel_url: PanelUrl, add_url: PanelUrl
) -> VehicleDrawing:
    """`panel_url` leads to a panel of the job by its key, `add_url` to adding one without film."""
    body = record.vehicle.body_style
    pieces = {panel.key: piece_of(record, panel, panel_url(panel.key)) for panel in record.panels}
    for key in catalogue.panel_keys(body):
        pieces.setdefault(key, Piece("off", url=add_url(key), said=_("no film")))
    return VehicleDrawing(
        body,
        Purpose.RECORD,
        summary(record),
        pieces=pieces,
        added_panels=catalogue.added_panels(body, also=pieces),
        added_places=catalogue.added_places(body),
        legend=legend(record),
    )


def piece_of(record: JobRecord, panel: PanelRecord, url: str) -> Piece:
    looks = {place.key: "differs" for place in panel.places if place.deviations}
    if panel.deviations:
        said = ngettext("one thing differs", "%(n)s things differ", len(panel.deviations))
        words = said % {"n": len(panel.deviations)}
        others = "usual" if is_settled(record, panel) else "unseen"
        return Piece("differs", url, words, count=len(panel.deviations), places=looks, others=others)
    if not is_settled(record, panel):
        return Piece("unseen", url, _("not confirmed yet"), others="unseen")
    return Piece("usual", url, _("as usual"), others="usual")


def legend(record: JobRecord) -> tuple[tuple[str, str], ...]:
    """Only what the drawing shows."""
    entries = [("usual", _("as usual")), ("differs", _("differs")), ("off", _("no film"))]
    if any(not is_settled(record, panel) for panel in record.panels):
        entries.insert(0, ("unseen", _("not confirmed yet")))
    return tuple(entries)


def summary(record: JobRecord) -> str:
    panels = ngettext("One panel in film", "%(n)s panels in film", len(record.panels))
    differ = ngettext("one thing differs", "%(n)s things differ", len(record.all_deviations))
    counts = (panels % {"n": len(record.panels)}, differ % {"n": len(record.all_deviations)})
    return _("Vehicle from above, front at the top. %(panels)s, %(differ)s.") % {
        "panels": counts[0],
        "differ": counts[1],
    }


def panel_drawing(
    record: JobRecord,
    panel: PanelRecord,
    catalogue: ShopCatalogue,
    place_url: Callable[[PlaceRecord], str],
    open_place: int | None,
) -> PanelDrawing:
    """Every place is a link; with several pieces the first piece's places stand for the drawing."""
    body = record.vehicle.body_style
    marks: dict[str, PlaceMark] = {}
    for place in panel.places:
        look = look_of(record, panel, place)
        said = place_words(place, catalogue.shop)
        marks.setdefault(place.key, PlaceMark(look, place_url(place), said, place.id == open_place))
    return PanelDrawing(
        body,
        panel.key,
        panel.name,
        marks=marks,
        added_panels=catalogue.added_panels(body, also=(panel.key,)),
        added_places=tuple(one for one in catalogue.added_places(body) if one.panel_key == panel.key),
    )


def look_of(record: JobRecord, panel: PanelRecord, place: PlaceRecord) -> str:
    if place.deviations:
        return "differs"
    return "usual" if is_settled(record, panel) else "unseen"
