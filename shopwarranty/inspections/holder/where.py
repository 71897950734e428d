"""What of a vehicle lies in our film, for a holder who points at an edge: panels, places, drawings."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopwarranty.jobs.models import Job, Place, Vehicle
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.web.trade_names import first_upper
from shopwarranty.web.vehicle import PanelDrawing, Piece, PlaceMark, Purpose, VehicleDrawing

Url = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class PlaceNamed:
    pk: int
    key: str
    name: str


@dataclass(frozen=True, slots=True)
class PanelNamed:
    key: str
    name: str
    places: tuple[PlaceNamed, ...]


def panels_in_film(vehicle: Vehicle, catalogue: ShopCatalogue) -> tuple[PanelNamed, ...]:
    """In walking order, of jobs that were handed over, with film that is still on. Three queries."""
    places = Place.objects.filter(piece__panel_work__job__vehicle=vehicle, piece__ended_on__isnull=True)
    places = places.filter(piece__panel_work__finished_at__isnull=False)
    places = places.filter(piece__panel_work__removed_on__isnull=True)
    places = places.exclude(piece__panel_work__job__state=Job.State.OPEN).select_related("piece__panel_work")
    order = ("piece__panel_work__walk", "piece__panel_work", "piece__layer", "piece__number", "walk", "pk")
    by_panel: dict[str, list[Place]] = {}
    for place in places.order_by(*order):
        by_panel.setdefault(place.piece.panel_work.panel, []).append(place)
    body = vehicle.body_style
    return tuple(
        PanelNamed(key, first_upper(catalogue.panel_name(body, key)), _places(rows, catalogue, body, key))
        for key, rows in by_panel.items()
    )


def _places(rows: Iterable[Place], catalogue: ShopCatalogue, body: str, panel: str) -> tuple[PlaceNamed, ...]:
    """Several pieces on a panel are one to a holder: the outermost film's place stands for the edge."""
    found: dict[str, PlaceNamed] = {}
    for row in rows:
        name = first_upper(catalogue.place_name(body, panel, row.key, row.name))
        found[row.key] = PlaceNamed(row.pk, row.key, name)
    return tuple(found.values())


def overview(
    vehicle: Vehicle, panels: tuple[PanelNamed, ...], catalogue: ShopCatalogue, url: Url
) -> VehicleDrawing:
    """Each panel in our film leads on; the others are only there to find one's way."""
    count = ngettext("One panel is in film.", "%(n)s panels are in film.", len(panels)) % {"n": len(panels)}
    return VehicleDrawing(
        vehicle.body_style,
        Purpose.RECORD,
        _("Vehicle from above, front at the top. %(count)s") % {"count": count},
        pieces={panel.key: Piece("usual", url=url(panel.key), said=_("in film")) for panel in panels},
        rest=Piece("off", said=_("no film")),
        legend=(("usual", _("in film: press it")), ("off", _("no film"))),
        added_panels=catalogue.added_panels(vehicle.body_style, also=[panel.key for panel in panels]),
        added_places=catalogue.added_places(vehicle.body_style),
    )


def zoomed(
    vehicle: Vehicle, panel: PanelNamed, catalogue: ShopCatalogue, url: Callable[[int], str], picked: str
) -> PanelDrawing:
    """The panel as one stands before it; each stroke picks its place in the list."""
    return PanelDrawing(
        vehicle.body_style,
        panel.key,
        panel.name,
        marks={
            place.key: PlaceMark(
                "lift" if str(place.pk) == picked else "usual",
                url=url(place.pk),
                said=_("lifting") if str(place.pk) == picked else "",
                picked=str(place.pk) == picked,
            )
            for place in panel.places
        },
        added_panels=catalogue.added_panels(vehicle.body_style, also=(panel.key,)),
        added_places=catalogue.added_places(vehicle.body_style),
    )
