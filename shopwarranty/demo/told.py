"""What the story consists of, frozen. Days are dates in the shop's zone, moments are wall time there (naive).

Values of technique are pairs of value and basis, by the field's key of `trade.technique`; what is missing was
not recorded. Rows refer to each other by their index in the tuple they stand in.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

Value = bool | int | float | str
Values = Mapping[str, tuple[Value, str]]


@dataclass(frozen=True, slots=True)
class Holder:
    name: str
    email: str
    telephone: str
    address: str
    is_firm: bool = False


@dataclass(frozen=True, slots=True)
class Car:
    """`holder` None: the shop's own vehicle or a loose panel."""

    make: str
    model: str
    body: str
    year: int
    color: str
    vin: str
    plate: str
    owned: str = "customer"
    holder: int | None = None


@dataclass(frozen=True, slots=True)
class Lot:
    film: str
    number: str
    made_on: date


@dataclass(frozen=True, slots=True)
class Cut:
    kind: str
    at: datetime
    along_mm: float
    across_mm: float
    off_roll_mm: float
    long_side_across: bool


@dataclass(frozen=True, slots=True)
class Roll:
    """`lot` None: its label was lost."""

    label: str
    film: str
    lot: int | None
    received_on: date
    opened_on: date | None
    finished_on: date | None
    cuts: tuple[Cut, ...] = ()


@dataclass(frozen=True, slots=True)
class Differed:
    """A deviation: `place` is the key of a place, "" for the panel itself."""

    place: str
    key: str
    usual: str
    actual: str
    reason: str


@dataclass(frozen=True, slots=True)
class Place:
    key: str
    kind: str
    values: Values


@dataclass(frozen=True, slots=True)
class Piece:
    """`roll` and `cut` index into the rolls of the story and the cuts of that roll."""

    film: str
    places: tuple[Place, ...]
    roll: int | None = None
    cut: int | None = None
    layer: int = 1
    name: str = ""


@dataclass(frozen=True, slots=True)
class Panel:
    key: str
    lead: str
    helper: str
    values: Values
    pieces: tuple[Piece, ...]
    finished_at: datetime
    confirmed: bool
    differed: tuple[Differed, ...] = ()
    removed: tuple[str, ...] = ()
    events: tuple[tuple[str, str], ...] = ()
    marks: str = ""
    substrate: str = ""


@dataclass(frozen=True, slots=True)
class Reading:
    at: datetime
    air_c: float
    surface_c: float | None
    humidity: float


@dataclass(frozen=True, slots=True)
class Job:
    number: int
    car: int
    kind: str
    family: str
    film: str
    method: str
    version: int
    values: Values
    started_at: datetime
    handed_over_at: datetime
    panels: tuple[Panel, ...]
    readings: tuple[Reading, ...]
    imported: bool


@dataclass(frozen=True, slots=True)
class Sighting:
    visit: int
    severity: int
    extent_mm: float | None
    depth_mm: float | None
    count: int | None = None


@dataclass(frozen=True, slots=True)
class Remedy:
    """`visit` None: done on a day of its own."""

    kind: str
    on: date
    visit: int | None
    minutes: int
    member: str
    post_heat_c: float | None = None


@dataclass(frozen=True, slots=True)
class Defect:
    """`place` counts the places of the job through; `recurrence_of` the defects of the job."""

    place: int
    kind: str
    sightings: tuple[Sighting, ...]
    remedy: Remedy | None = None
    recurrence_of: int | None = None
    cause: str = ""
    sure: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    place: int
    result: str
    said: str
    why_not: str = ""


@dataclass(frozen=True, slots=True)
class Visit:
    """`check` is the key of the planned check, "yearly-2" for the second yearly one, "" for none."""

    on: date
    at: datetime
    origin: str
    check: str
    member: str
    findings: tuple[Finding, ...]
    since_when: date | None = None
    since_words: str = ""


@dataclass(frozen=True, slots=True)
class Course:
    """What became of one job: looks, what they found, and a body part that was lost in a collision."""

    visits: tuple[Visit, ...]
    defects: tuple[Defect, ...]
    lost_panel: int | None = None
    lost_on: date | None = None


@dataclass(frozen=True, slots=True)
class Story:
    today: date
    holders: tuple[Holder, ...]
    cars: tuple[Car, ...]
    lots: tuple[Lot, ...]
    rolls: tuple[Roll, ...]
    jobs: tuple[Job, ...]
    courses: tuple[Course, ...]
    quarantined: int = field(default=0)
