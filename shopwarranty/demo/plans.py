"""Which jobs there were: when, of which film family, by which method. Days count back from today."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from . import cast, sources
from .chance import stream
from .coverage import covered, panels_of
from .told import Car, Holder

RECENT = (34, 29, 25, 22, 19, 17, 15, 13, 9, 5, 2, 1)
"""How long ago the latest jobs were handed over."""

HANDED_OVER_AS_ONE_ACT = frozenset({2, 1})
"""The latest jobs go through the handover itself, messages included."""

FIRST_DAY_HERE = 14
"""Since when the shop keeps its record here; all before was brought in from its old list."""

OLDER, OLDEST = 138, 765
LATE_ISSUES = (OLDER - 9,)
"""Jobs of the old list whose holders asked for a certificate."""

PATTERN = ("colour-change",) * 11 + ("clear-protective",) * 6 + ("coloured-protective",) * 3
RECENT_FAMILIES = (0, 6, 0, 11, 0, 6, 0, 0, 6, 0, 11, 0)
FILMS = {
    "colour-change": ("chroma-gloss", "chroma-satin"),
    "clear-protective": ("reed-clear", "reed-clear", "reed-matte"),
    "coloured-protective": ("tone",),
}
ONE_DAY_SHARE = 0.36
COME_AGAIN_EVERY = 23
OWN_JOBS = (31, 97)
TEST_PANEL_JOBS = (58,)
RARE_PANEL_JOBS = (72, 104)
"""Full jobs whose rails were covered, too: the panel that is done too seldom to be judged."""


@dataclass(frozen=True, slots=True)
class Plan:
    number: int
    car: int
    kind: str
    days_ago: int
    family: str
    film: str
    method: str
    version: int
    panels: tuple[str, ...]

    def handed_over_on(self, today: date) -> date:
        return today - timedelta(days=self.days_ago)

    @property
    def imported(self) -> bool:
        return self.days_ago > FIRST_DAY_HERE


@dataclass(frozen=True, slots=True)
class Planned:
    """The jobs, oldest first, with everybody and everything that comes along."""

    plans: tuple[Plan, ...]
    cars: tuple[Car, ...]
    holders: tuple[Holder, ...]


def planned(today: date) -> Planned:
    cars: list[Car] = []
    plans: list[Plan] = []
    holders = 0
    for number, (days_ago, family) in enumerate(_days_and_families(), 1):
        kind = _kind(number)
        again = number % COME_AGAIN_EVERY == 0 and kind == "customer"
        if again:
            index = _earlier_customer(cars, number)
        else:
            index, owned = len(cars), {"own": "shop", "test_panel": "panel"}.get(kind, "customer")
            holder = holders if kind == "customer" else None
            holders += kind == "customer"
            cars.append(cast.car(number, today, holder=holder, body=_body(kind), owned=owned))
        plans.append(_plan(number, index, cars[index].body, kind, days_ago, family))
    return Planned(tuple(plans), tuple(cars), cast.holders(holders))


def _days_and_families() -> Iterator[tuple[int, str]]:
    rng = stream("calendar")
    families = [PATTERN[i % len(PATTERN)] for i in range(OLDER)]
    rng.shuffle(families)
    step = (OLDEST - RECENT[0] - 3) / OLDER
    for i, family in enumerate(families):
        yield OLDEST - int(i * step) - rng.randint(0, 3), family
    for days_ago, which in zip(RECENT, RECENT_FAMILIES, strict=True):
        yield days_ago, PATTERN[which]


def _kind(number: int) -> str:
    if number in OWN_JOBS:
        return "own"
    return "test_panel" if number in TEST_PANEL_JOBS else "customer"


def _body(kind: str) -> str:
    return {"own": "van", "test_panel": "hatchback"}.get(kind, "")


def _earlier_customer(cars: list[Car], number: int) -> int:
    wanted = number - COME_AGAIN_EVERY + 4
    return next(i for i in range(min(wanted, len(cars) - 1), -1, -1) if cars[i].owned == "customer")


def _plan(number: int, car: int, body: str, kind: str, days_ago: int, family: str) -> Plan:
    rng = stream("plan", number)
    if number in RARE_PANEL_JOBS:
        family = "colour-change"
    films = FILMS[family]
    method = _method(family, rng.random())
    panels = panels_of(body, family, rng)
    if kind == "test_panel":
        panels = ("bonnet",)
    if number in RARE_PANEL_JOBS:
        panels = covered(body, "full-and-rails")
    version = method.number_on(days_ago)
    return Plan(number, car, kind, days_ago, family, films[number % len(films)], method.name, version, panels)


def _method(family: str, drawn: float) -> sources.Method:
    """One in three color changes is done in a day, by the method that changes two things at once."""
    if family == "colour-change" and drawn < ONE_DAY_SHARE:
        return next(method for method in sources.methods() if not method.families)
    return next(method for method in sources.methods() if family in method.families)
