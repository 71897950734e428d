"""The jobs as they were recorded: panel after panel, with film from the stockroom."""

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from random import Random

from shopwarranty.trade import catalogue
from shopwarranty.trade.catalogue import Size, kind_of

from .chance import stream
from .plans import Plan
from .stock import Stockroom
from .technique import Worked, values_of_job, worked
from .told import Job, Panel, Piece, Place, Reading

INSTALLERS = ("abel", "juno", "owner")
SHARE = (4, 4, 2)
PANELS_A_DAY = 7
REMOVED = {"front-door": "door handle", "rear-door": "door handle"}
CAME_WITH = (
    "stone chips along the leading edge",
    "light swirl marks",
    "old scratch, about 2 in, touched up",
    "small dent, no paint broken",
)
SECOND_LAYER_JOBS = (44, 119)


def job_of(plan: Plan, body: str, today: date, stock: Stockroom) -> Job:
    """One job; takes its film from `stock`, so call in the order in which jobs came."""
    handed = datetime.combine(plan.handed_over_on(today), time(14, 30))
    last_day = handed.date() - timedelta(days=1)
    first_day = last_day - timedelta(days=(len(plan.panels) - 1) // PANELS_A_DAY)
    stock.next_job(plan.film, first_day)
    finishes = list(_finishes(len(plan.panels), first_day))
    panels = tuple(_panel(plan, body, key, at, stock) for key, at in zip(plan.panels, finishes, strict=True))
    return Job(
        number=plan.number,
        car=plan.car,
        kind=plan.kind,
        family=plan.family,
        film=plan.film,
        method=plan.method,
        version=plan.version,
        values=values_of_job(plan),
        started_at=datetime.combine(first_day, time(8, 15)),
        handed_over_at=handed,
        panels=panels,
        readings=tuple(_readings(plan, first_day, last_day)),
        imported=plan.imported,
    )


def _finishes(count: int, first_day: date) -> Iterator[datetime]:
    """Seven panels a day, one after the other until the evening."""
    for number in range(count):
        day, nth = divmod(number, PANELS_A_DAY)
        start = datetime.combine(first_day + timedelta(days=day), time(9, 40))
        yield start + timedelta(minutes=67 * nth)


def _readings(plan: Plan, first_day: date, last_day: date) -> Iterator[Reading]:
    """One or two a day; before the record was kept here some jobs have none."""
    rng = stream("readings", plan.number)
    if plan.imported and rng.random() < 0.15:
        return
    air, humidity = rng.gauss(20.5, 1.6), rng.gauss(46, 7)
    for day in range((last_day - first_day).days + 1):
        on = first_day + timedelta(days=day)
        for hour in (8, 13):
            if hour == 8 or rng.random() < 0.6:
                yield _reading(datetime.combine(on, time(hour, 40)), air, humidity, rng)


def _reading(at: datetime, air: float, humidity: float, rng: Random) -> Reading:
    now = air + rng.gauss(0, 0.6)
    surface = now - rng.uniform(0.2, 1.8) if rng.random() < 0.8 else None
    steady = min(max(humidity + rng.gauss(0, 3), 22), 74)
    return Reading(at, round(now, 1), None if surface is None else round(surface, 1), round(steady))


def _panel(plan: Plan, body: str, key: str, finished_at: datetime, stock: Stockroom) -> Panel:
    rng, done = stream("panel", plan.number, key), worked(plan, body, key)
    lead, helper = _who(plan, rng)
    events = tuple(_events(rng))
    cut_again = bool(events) and events[0][0] == "recut"
    pieces = tuple(_pieces(plan, body, key, done, finished_at, stock, cut_again))
    return Panel(
        key=key,
        lead=lead,
        helper=helper,
        values=done.panel,
        pieces=pieces,
        finished_at=finished_at,
        confirmed=done.confirmed,
        differed=tuple(done.differed),
        removed=tuple(_removed(key, done)),
        events=events,
        marks=rng.choice(CAME_WITH) if rng.random() < 0.12 else "",
        substrate=_substrate(plan, rng),
    )


def _who(plan: Plan, rng: Random) -> tuple[str, str]:
    main = stream("lead", plan.number).choices(INSTALLERS, SHARE)[0]
    lead = main if rng.random() < 0.7 else rng.choices(INSTALLERS, SHARE)[0]
    helper = rng.choice([one for one in INSTALLERS if one != lead])
    return lead, helper if rng.random() < 0.15 else ""


def _events(rng: Random) -> Iterator[tuple[str, str]]:
    """(kind, note) of what happened while laying."""
    drawn = rng.random()
    if drawn < 0.07:
        kinds = {"laid_again": "slid on the first try", "needle": "one needle, closed under heat"}
        kinds |= {"fold": "fold touched down, pulled free warm", "recut": "first piece was short"}
        kind = rng.choice(sorted(kinds))
        yield kind, kinds[kind]


def _removed(key: str, done: Worked) -> Iterator[str]:
    value = done.panel.get("hardware", ("", ""))[0]
    if value == "removed":
        yield REMOVED.get(kind_of(key), "trim strip")


def _substrate(plan: Plan, rng: Random) -> str:
    drawn = rng.random()
    if plan.imported and drawn < 0.25:
        return ""
    return "repaint" if drawn > 0.95 else "paint"


def _pieces(
    plan: Plan, body: str, key: str, done: Worked, at: datetime, stock: Stockroom, again: bool
) -> Iterator[Piece]:
    size = catalogue.typical_size_mm(key)
    assert size is not None
    cut_at = at - timedelta(minutes=50)
    if again:
        stock.take(plan.film, size, cut_at - timedelta(minutes=15), "recut")
    if _in_two(plan, key):
        half = Size(size.along_mm, size.across_mm // 2 + 20)
        yield _piece(plan.film, _places(body, key, done, without="left"), stock.take(plan.film, half, cut_at))
        places = (*_places(body, key, done, without="right"), Place("seam", "seam", _seam(done)))
        yield _piece(plan.film, places, stock.take(plan.film, half, cut_at), name="right half")
        return
    yield _piece(plan.film, _places(body, key, done), stock.take(plan.film, size, cut_at))
    if plan.number in SECOND_LAYER_JOBS and key == "bonnet":
        guard = Size(size.along_mm // 3, size.across_mm)
        taken = stock.take("reed-clear", guard, cut_at)
        yield _piece("reed-clear", _places(body, key, done), taken, layer=2, name="stone guard")


def _in_two(plan: Plan, key: str) -> bool:
    kind = kind_of(key)
    share = {"front-bumper": 0.12, "roof": 0.1}.get(kind, 0.0)
    return stream("in two", plan.number, key).random() < share


def _piece(
    film: str, places: tuple[Place, ...], taken: tuple[int, int], *, layer: int = 1, name: str = ""
) -> Piece:
    return Piece(film, places, roll=taken[0], cut=taken[1], layer=layer, name=name)


def _places(body: str, key: str, done: Worked, without: str = "") -> tuple[Place, ...]:
    """`without`: the side on which the piece meets another instead of ending."""
    kept = [p for p in catalogue.default_places(catalogue.panel(body, key)) if not _on(p.key, without)]
    return tuple(Place(p.key, p.kind.value, done.places[p.key]) for p in kept)


def _on(place: str, side: str) -> bool:
    return bool(side) and (place == side or place.endswith(f"-{side}"))


def _seam(done: Worked) -> dict[str, tuple[bool, str]]:
    return {"post_heated": (True, "stated")} if done.confirmed else {}
