"""A visit panel by panel in walking order, and how far it has come: clean, wrong and not looked at apart."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from shopwarranty.inspections.actions.visits import asked_places, live_places
from shopwarranty.inspections.models import CheckPlan, Finding, Visit
from shopwarranty.inspections.visit_rows import Tally
from shopwarranty.jobs.models import Place
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.web.trade_names import first_upper
from shopwarranty.web.vehicle import Piece, Purpose, VehicleDrawing

from .likeliest import in_order
from .models import Defect

LOOKS = {Finding.Result.CLEAN: "clean", Finding.Result.DEFECT: "lift", Finding.Result.NOT_LOOKED: "unseen"}


@dataclass(frozen=True, slots=True)
class Stop:
    """One panel of the walk. `name` begins a line, `plain_name` stands within one. `left`: places without
    an answer yet."""

    work_id: int
    key: str
    name: str
    plain_name: str
    number: int
    tally: Tally
    left: int
    looks: tuple[tuple[str, str], ...]

    @property
    def state(self) -> str:
        if self.tally.wrong:
            return "lift"
        return "unseen" if self.tally.unseen else "clean"


@dataclass(frozen=True, slots=True)
class Walk:
    stops: tuple[Stop, ...]
    tally: Tally

    def at(self, work_id: int) -> Stop | None:
        return next((stop for stop in self.stops if stop.work_id == work_id), None)

    def after(self, work_id: int) -> Stop | None:
        """The panel that follows in walking order; None after the last."""
        ids = [stop.work_id for stop in self.stops]
        following = ids.index(work_id) + 1 if work_id in ids else 0
        return self.stops[following] if following < len(self.stops) else None

    def before(self, work_id: int) -> Stop | None:
        ids = [stop.work_id for stop in self.stops]
        return self.stops[ids.index(work_id) - 1] if work_id in ids and ids.index(work_id) else None

    @property
    def next_open(self) -> Stop | None:
        """The first panel with something still to be said."""
        return next((stop for stop in self.stops if stop.left), None)


def load_walk(visit: Visit, catalogue: ShopCatalogue, *, everything: bool = False) -> Walk:
    """Two queries, and three more where the likeliest come first. After the visit is finished it shows what
    was written down then. `everything`: also the places that its check does not ask for.
    """
    said = dict(visit.findings.filter(corrected_at__isnull=True).values_list("place_id", "result"))
    panels: dict[int, list[Place]] = defaultdict(list)
    for place in places_of(visit, everything=everything):
        panels[place.piece.panel_work_id].append(place)
    stops = tuple(
        _stop(number, places, said, catalogue, visit.job.vehicle.body_style)
        for number, places in enumerate(panels.values(), 1)
    )
    return Walk(stops, total(stop.tally for stop in stops))


def places_of(visit: Visit, *, everything: bool = False) -> list[Place]:
    """The places of the visit in walking order; where its check asks for the likeliest to lift, the panels
    that hold them come first.

    A check of recesses also shows what is wrong elsewhere and not put right yet, and what was said so far.
    """
    order = ("piece__panel_work__walk", "piece__panel_work", "piece__layer", "piece__number", "walk", "pk")
    rows = _rows_of(visit, everything).select_related("piece__panel_work").order_by(*order)
    places = list(rows)
    return _likeliest_first(places) if _asks_for(visit) == CheckPlan.Places.LIKELIEST else places


def _rows_of(visit: Visit, everything: bool) -> "QuerySet[Place]":
    if visit.state != Visit.State.OPEN:
        return Place.objects.filter(findings__visit=visit).distinct()
    live = live_places(visit.job, visit.happened_on)
    if everything or _asks_for(visit) != CheckPlan.Places.RECESSES:
        return live
    wrong = Defect.objects.filter(place__in=live, state=Defect.State.OPEN).values("place")
    shown = Q(pk__in=asked_places(visit).values("pk")) | Q(pk__in=wrong)
    return live.filter(shown | Q(pk__in=visit.findings.values("place")))


def _asks_for(visit: Visit) -> str:
    return visit.check_due.plan.places if visit.check_due else CheckPlan.Places.ALL


def _likeliest_first(places: list[Place]) -> list[Place]:
    """Whole panels, in the order of their likeliest place."""
    panels = {place.piece.panel_work_id: None for place, _reason in in_order(places)}
    rank = {work: number for number, work in enumerate(panels)}
    return sorted(places, key=lambda place: rank[place.piece.panel_work_id])


def _stop(
    number: int, places: list[Place], said: dict[int, str], catalogue: ShopCatalogue, body: str
) -> Stop:
    work = places[0].piece.panel_work
    name = catalogue.panel_name(body, work.panel)
    results = [said.get(place.pk, "") for place in places]
    clean, wrong = results.count(Finding.Result.CLEAN), results.count(Finding.Result.DEFECT)
    return Stop(
        work.pk,
        work.panel,
        first_upper(name),
        name,
        number,
        Tally(clean, wrong, len(places) - clean - wrong),
        results.count(""),
        tuple((place.key, look(result)) for place, result in zip(places, results, strict=True)),
    )


def look(result: str) -> str:
    """The stroke of an answer; without one the place is not looked at."""
    return LOOKS.get(Finding.Result(result), "unseen") if result else "unseen"


def worst(looks: Iterable[tuple[str, str]]) -> dict[str, str]:
    """One look a place: where two pieces share a place the graver one shows."""
    order = ("clean", "unseen", "lift")
    found: dict[str, str] = {}
    for key, one in looks:
        found[key] = max(found.get(key, "clean"), one, key=order.index)
    return found


def total(tallies: Iterable[Tally]) -> Tally:
    each = list(tallies)
    return Tally(sum(t.clean for t in each), sum(t.wrong for t in each), sum(t.unseen for t in each))


def small_map(visit: Visit, walk: Walk, here: Stop | None, catalogue: ShopCatalogue) -> VehicleDrawing:
    """Where one is, and how each panel stands. Position only: nothing to press."""
    body = visit.job.vehicle.body_style
    words = _("Where you are: %(panel)s, panel %(n)d of %(all)d.") if here else _("The panels of this visit.")
    values = {"panel": here.name, "n": here.number, "all": len(walk.stops)} if here else {}
    return VehicleDrawing(
        body,
        Purpose.CHECK,
        words % values,
        pieces={
            stop.key: Piece("usual", places=worst(stop.looks), others="unseen", here=stop == here)
            for stop in walk.stops
        },
        added_panels=catalogue.added_panels(body),
        added_places=catalogue.added_places(body),
        ident="map",
    )
