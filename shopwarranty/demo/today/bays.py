"""Four jobs in the bays: ready, finished with something missing, half recorded, just arrived."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any

from shopwarranty.films.actions import CutSize, take_cut
from shopwarranty.films.models import Roll
from shopwarranty.inspections.actions import start_visit, sweep_panel
from shopwarranty.jobs import actions as jobs
from shopwarranty.jobs.models import Job, PanelWork, Vehicle
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.jobs.technique_rows import Said
from shopwarranty.shops.models import Bay
from shopwarranty.trade import catalogue

from .. import cast
from ..coverage import covered
from ..stock import way_round
from ..told import Car
from .moment import Day

FIRST_CAR = 400
LONG_ENOUGH_MM = 13000
READING: dict[str, Any] = {"air_c": 20.6, "surface_c": 19.4, "humidity": 44, "instrument": "infrared"}
READING |= {"air_typed": "69 F", "surface_typed": "67 F"}


@dataclass(frozen=True, slots=True)
class Waiting:
    """One vehicle in the shop: whose, which panels, how many of them finished."""

    holder: str
    telephone: str
    body: str
    film: str
    method: str
    what: str
    done: int
    arrived: datetime
    member: str
    bay: str
    vin_read: bool = True
    planned_in_days: int = 0


def open_jobs(day: Day) -> None:
    for number, waiting in enumerate(_waiting(day)):
        _open(day, number, waiting)


def _waiting(day: Day) -> Iterable[Waiting]:
    early, two_days = day.ago(1, time(8, 5)), day.ago(2, time(8, 10))
    protective, color = "Protective film", "Color change"
    yield Waiting(
        "Ida Fernmoor",
        "518-555-0161",
        "saloon",
        "reed-clear",
        protective,
        "usual-front",
        99,
        two_days,
        "abel",
        "Bay 1",
    )
    yield Waiting(
        "Casper Holloway-Reed",
        *("315-555-0128", "coupe", "tone", protective, "front", 99, two_days, "juno", "Bay 2"),
        vin_read=False,
    )
    yield Waiting(
        "Larkspur Florists",
        *("845-555-0176", "suv", "chroma-satin", color, "sides", 5, early, "abel", "Bay 1"),
        planned_in_days=1,
    )
    yield Waiting(
        "Bettina Coldharbor",
        *("607-555-0134", "pickup", "reed-matte", protective, "usual-front", 0, day.ago(1, time(14, 10))),
        *("juno", "Bay 2"),
        planned_in_days=2,
    )


def _open(day: Day, number: int, waiting: Waiting) -> None:
    told = cast.car(FIRST_CAR + number, day.today, holder=None, body=waiting.body)
    vehicle = _vehicle(day, waiting, told)
    version = max(v for (name, v) in day.written.versions if name == waiting.method)
    planned = day.today + timedelta(days=waiting.planned_in_days)
    job = jobs.open_job(
        vehicle=vehicle,
        actor=day.actor("desk"),
        now=waiting.arrived,
        method_version=day.written.versions[waiting.method, version],
        bay=Bay.objects.get(name=waiting.bay),
        planned_handover_on=planned,
    )
    panels = covered(waiting.body, waiting.what)
    works = jobs.start_panels(
        job=job,
        panels=panels,
        catalogue=ShopCatalogue(day.shop),
        actor=day.actor(waiting.member),
        now=waiting.arrived + timedelta(minutes=10),
        film=jobs.FilmChoice(roll=_roll(day, waiting.film)),
        lead=day.written.members[waiting.member],
    )
    _intake(day, works, waiting)
    if waiting.done:
        _work(day, job, works[: waiting.done], waiting)
    if number == 0:
        _look_over(day, job, works)


def _vehicle(day: Day, waiting: Waiting, told: Car) -> Vehicle:
    actor, now = day.actor("desk"), waiting.arrived
    vin: dict[str, Any] = {"vin": told.vin, "vin_kind": "vin"} if waiting.vin_read else {}
    vehicle = jobs.add_vehicle(
        body_style=told.body,
        actor=actor,
        now=now,
        make=told.make,
        model=told.model,
        year=told.year,
        colour=told.color,
        use="road",
        **vin,
    )
    box = ".".join(waiting.holder.lower().replace("-", "").split())
    party = jobs.add_party(
        name=waiting.holder,
        actor=actor,
        now=now,
        email=f"{box}@example.com",
        telephone=waiting.telephone,
        address="3 Mill Race\nMillbrook, NY",
    )
    jobs.hold_vehicle(vehicle=vehicle, party=party, role="holder", since=now.date(), actor=actor, now=now)
    jobs.set_plate(vehicle=vehicle, text=told.plate, since=now.date(), actor=actor, now=now)
    return vehicle


def _roll(day: Day, film: str) -> Roll:
    """The shortest one that is long enough; what was set aside stays on its shelf."""
    rolls: Any = Roll.objects.with_left().filter(product=day.written.products[film], finished_on=None)
    found: Roll = rolls.filter(lot__quarantined_at=None, left_mm__gte=LONG_ENOUGH_MM).order_by("left_mm")[0]
    return found


def _intake(day: Day, works: list[PanelWork], waiting: Waiting) -> None:
    actor, now = day.actor("desk"), waiting.arrived + timedelta(minutes=5)
    jobs.record_intake(
        panel_work=works[0],
        actor=actor,
        now=now,
        substrate="paint",
        marks="stone chips along the leading edge, shown to the customer",
        acknowledged_by=waiting.holder,
    )
    jobs.record_intake(panel_work=works[1], actor=actor, now=now, substrate="paint")


def _work(day: Day, job: Job, works: list[PanelWork], waiting: Waiting) -> None:
    actor = day.actor(waiting.member)
    jobs.record_reading(
        job=job,
        conditions=jobs.Conditions(
            **READING,
        ),
        actor=actor,
        now=waiting.arrived + timedelta(minutes=40),
    )
    jobs.confirm_job(job=job, actor=actor, now=waiting.arrived + timedelta(minutes=42))
    for number, work in enumerate(works):
        now = waiting.arrived + timedelta(minutes=95 + 52 * number)
        _differs(day, work, number, now)
        _cut(day, work, now - timedelta(minutes=40))
        jobs.confirm_panel(panel_work=work, actor=actor, now=now, finished=True)
    _take_off_and_refit(day, works, waiting)
    if len(works) < waiting.done:
        last = waiting.arrived + timedelta(minutes=100 + 52 * len(works))
        jobs.say_ready(job=job, actor=actor, now=last)


def _differs(day: Day, work: PanelWork, number: int, now: datetime) -> None:
    """On some panels one place was done another way."""
    if number % 3 != 1:
        return
    place = work.pieces.get().places.filter(kind="edge").order_by("walk")[0]
    jobs.set_place_values(
        place=place,
        values={"post_heated": Said(False)},
        actor=day.actor("abel"),
        now=now - timedelta(minutes=5),
        reason="trim_in_way",
    )


def _cut(day: Day, work: PanelWork, now: datetime) -> None:
    piece, size = work.pieces.get(), catalogue.typical_size_mm(work.panel)
    assert size is not None
    assert piece.roll is not None
    way = way_round(size)
    taken = CutSize(way.length_used_mm, way.across_roll_mm, way.length_used_mm, way.long_side_across)
    cut = take_cut(roll=piece.roll, kind="piece", size=taken, actor=day.actor("abel"), now=now)
    jobs.set_cut(piece=piece, cut=cut, actor=day.actor("abel"), now=now)


def _take_off_and_refit(day: Day, works: list[PanelWork], waiting: Waiting) -> None:
    """Mirror caps came off and went back on, save for one."""
    actor, later = day.actor(waiting.member), waiting.arrived + timedelta(hours=8)
    for work in (one for one in works if one.panel.endswith("mirror")):
        item = jobs.add_removed_item(panel_work=work, name="mirror cap", actor=actor, now=waiting.arrived)
        if waiting.vin_read or work.panel.startswith("left"):
            jobs.settle_removed_item(item=item, outcome="refitted", actor=actor, now=later)


def _look_over(day: Day, job: Job, works: list[PanelWork]) -> None:
    """The look before handover: everything seen and clean."""
    now = day.ago(1, time(14, 30))
    visit = start_visit(
        job=job,
        origin="planned",
        actor=day.actor("abel"),
        now=now,
        today=now.date(),
        is_handover_look=True,
    )
    for work in works:
        sweep_panel(visit=visit, panel_work=work, now=now)
