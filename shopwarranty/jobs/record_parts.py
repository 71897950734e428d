"""What a job's record is made of: frozen, with every name resolved, independent of the database."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from uuid import UUID

from shopwarranty.trade.dew_point import Margin, margin
from shopwarranty.trade.technique import Value

from .technique_rows import NOT_RECORDED, Recorded


@dataclass(frozen=True, slots=True)
class PartyRecord:
    id: int
    kind: str
    name: str
    email: str
    telephone: str
    address: str
    language: str
    is_consumer: bool


@dataclass(frozen=True, slots=True)
class VehicleRecord:
    """`title` is make and model, else the body style. `vin` is empty while to be read or where none is."""

    id: int
    title: str
    make: str
    model: str
    year: int | None
    colour: str
    body_style: str
    body_name: str
    use: str
    owned: str
    vin: str
    vin_kind: str
    vin_reason: str
    note: str


@dataclass(frozen=True, slots=True)
class MethodRecord:
    version_id: int
    name: str
    number: int
    values: Mapping[str, object]

    def __str__(self) -> str:
        return f"{self.name} {self.number}"


@dataclass(frozen=True, slots=True)
class ReadingRecord:
    """In C and percent. `panel_id` is set when the reading was taken at one panel."""

    id: int
    version: int
    at: datetime
    entered_at: datetime
    panel_id: int | None
    air: Recorded
    surface: Recorded
    humidity: Recorded
    instrument: str
    member: str

    @property
    def margin(self) -> Margin | None:
        """How far the surface was above the dew point; None when one of the three was not measured."""
        return margin(number(self.surface), number(self.air), number(self.humidity))


@dataclass(frozen=True, slots=True)
class OwnValue:
    """The value of a field that the shop defined."""

    key: str
    name: str
    unit: str
    value: str
    basis: str


@dataclass(frozen=True, slots=True)
class DeviationRecord:
    """`usual` and `actual` as `technique_rows.as_text` writes them; an empty `actual` means not recorded."""

    id: int
    field: str
    usual: str
    actual: str
    reason: str
    at: datetime
    member: str
    panel_id: int | None
    place_id: int | None


@dataclass(frozen=True, slots=True)
class PlaceRecord:
    id: int
    uid: UUID
    version: int
    key: str
    kind: str
    name: str
    walk: int
    values: Mapping[str, Recorded]
    other_piece_id: int | None
    added_on: date | None
    own: tuple[OwnValue, ...] = ()
    deviations: tuple[DeviationRecord, ...] = ()

    def value(self, key: str) -> Value:
        return self.values.get(key, NOT_RECORDED).value


@dataclass(frozen=True, slots=True)
class FilmRecord:
    id: int
    maker: str
    name: str
    family: str
    finish: str
    wash_after_hours: int | None
    apply_min_c: float | None = None
    apply_max_c: float | None = None
    humidity_max: float | None = None
    post_heat_min_c: float | None = None
    post_heat_max_c: float | None = None
    sold_from: date | None = None
    sold_to: date | None = None

    def __str__(self) -> str:
        return f"{self.maker} {self.name}".strip()


@dataclass(frozen=True, slots=True)
class CutRecord:
    id: int
    along_mm: float
    across_mm: float | None


@dataclass(frozen=True, slots=True)
class PieceRecord:
    """`lot` is "" when unknown (`lot_unknown_reason` says why) or not recorded (no reason)."""

    id: int
    uid: UUID
    version: int
    number: int
    layer: int
    name: str
    film: FilmRecord | None
    lot_id: int | None
    lot: str
    lot_quarantined: bool
    lot_unknown_reason: str
    roll_id: int | None
    roll: str
    cut: CutRecord | None
    replaces_id: int | None
    supplied_by_owner: bool
    ended_on: date | None
    ended_why: str
    places: tuple[PlaceRecord, ...]


@dataclass(frozen=True, slots=True)
class MemberPart:
    id: int
    name: str
    is_lead: bool
    part: str


@dataclass(frozen=True, slots=True)
class IntakeRecord:
    substrate: str
    painted_on: date | None
    marks: str
    acknowledged_by: str
    acknowledged_at: datetime | None
    at: datetime


@dataclass(frozen=True, slots=True)
class RemovedItemRecord:
    id: int
    panel_id: int
    panel_name: str
    name: str
    outcome: str
    settled_at: datetime | None
    note: str


@dataclass(frozen=True, slots=True)
class LayingEventRecord:
    id: int
    kind: str
    place_id: int | None
    place_name: str
    at: datetime | None
    note: str


@dataclass(frozen=True, slots=True)
class PhotoRecord:
    id: int
    stage: str
    panel_id: int | None
    place_id: int | None
    taken_at: datetime | None
    taken_from: str
    added_at: datetime
    sha256: str
    width: int
    height: int
    caption: str


@dataclass(frozen=True, slots=True)
class PanelRecord:
    """`finished_on` is the day in the shop's zone. `reading` is the nearest before the panel was finished."""

    id: int
    uid: UUID
    version: int
    key: str
    name: str
    walk: int
    values: Mapping[str, Recorded]
    confirmed_at: datetime | None
    finished_at: datetime | None
    finished_on: date | None
    removed_on: date | None
    removed_why: str
    note: str
    members: tuple[MemberPart, ...]
    intake: IntakeRecord | None
    pieces: tuple[PieceRecord, ...]
    removed_items: tuple[RemovedItemRecord, ...]
    laying_events: tuple[LayingEventRecord, ...]
    photos: tuple[PhotoRecord, ...]
    reading: ReadingRecord | None
    own: tuple[OwnValue, ...]
    own_deviations: tuple[DeviationRecord, ...] = field(default=())

    def value(self, key: str) -> Value:
        return self.values.get(key, NOT_RECORDED).value

    @property
    def places(self) -> tuple[PlaceRecord, ...]:
        """Of the pieces that are still on the panel."""
        return tuple(place for piece in self.standing_pieces for place in piece.places)

    @property
    def standing_pieces(self) -> tuple[PieceRecord, ...]:
        return tuple(piece for piece in self.pieces if piece.ended_on is None)

    @property
    def deviations(self) -> tuple[DeviationRecord, ...]:
        """Of the panel itself, then of its places in order."""
        of_places = (each for place in self.places for each in place.deviations)
        return (*self.own_deviations, *of_places)

    @property
    def lead(self) -> MemberPart | None:
        return next((member for member in self.members if member.is_lead), None)


@dataclass(frozen=True, slots=True)
class SessionRecord:
    id: int
    member: str
    started_at: datetime
    stopped_at: datetime | None


@dataclass(frozen=True, slots=True)
class PlateRecord:
    text: str
    since: date
    until: date | None


@dataclass(frozen=True, slots=True)
class JobRecord:
    """Everything that was recorded of one job, as it stands now.

    `plate` and the people are those of the vehicle now; None or "" when nobody is recorded. `started_on` is
    the day in the shop's zone; `late_days` how many days later the job was typed in.
    """

    id: int
    uid: UUID
    version: int
    ref: str
    kind: str
    state: str
    vehicle: VehicleRecord
    plate: str
    plates: tuple[PlateRecord, ...]
    holder: PartyRecord | None
    owner: PartyRecord | None
    contact: PartyRecord | None
    payer: PartyRecord | None
    method: MethodRecord | None
    no_method_reason: str
    bay: str
    planned_handover_on: date | None
    quoted_months: int | None
    ready_at: datetime | None
    handed_over_at: datetime | None
    handed_over_on: date | None
    makers_procedure: str
    sensors_clear: str
    blades_returned: str
    note: str
    imported_at: datetime | None
    started_at: datetime
    started_on: date
    entered_at: datetime
    late_days: int
    confirmed_at: datetime | None
    values: Mapping[str, Recorded]
    own: tuple[OwnValue, ...]
    deviations: tuple[DeviationRecord, ...]
    panels: tuple[PanelRecord, ...]
    readings: tuple[ReadingRecord, ...]
    sessions: tuple[SessionRecord, ...]
    photos: tuple[PhotoRecord, ...]

    @property
    def places(self) -> tuple[PlaceRecord, ...]:
        return tuple(place for panel in self.panels for place in panel.places)

    @property
    def all_deviations(self) -> tuple[DeviationRecord, ...]:
        """Of the job, then panel by panel in walking order."""
        return (*self.deviations, *(each for panel in self.panels for each in panel.deviations))

    @property
    def finished_panels(self) -> tuple[PanelRecord, ...]:
        return tuple(panel for panel in self.panels if panel.finished_at)

    @property
    def unfinished_panels(self) -> tuple[PanelRecord, ...]:
        return tuple(panel for panel in self.panels if not panel.finished_at)

    @property
    def removed_items(self) -> tuple[RemovedItemRecord, ...]:
        return tuple(item for panel in self.panels for item in panel.removed_items)

    @property
    def open_items(self) -> tuple[RemovedItemRecord, ...]:
        """What came off and has neither been refitted, replaced nor given back."""
        return tuple(item for item in self.removed_items if not item.outcome)

    @property
    def last_reading(self) -> ReadingRecord | None:
        return self.readings[-1] if self.readings else None

    @property
    def films(self) -> tuple[FilmRecord, ...]:
        """Each film once, in the order it is met."""
        pieces = (piece for panel in self.panels for piece in panel.standing_pieces)
        return tuple(dict.fromkeys(piece.film for piece in pieces if piece.film))

    def panel(self, panel_id: int) -> PanelRecord:
        """Raises LookupError for a panel of another job."""
        for each in self.panels:
            if each.id == panel_id:
                return each
        raise LookupError(panel_id)


def number(of: Recorded) -> float | None:
    return float(of.value) if isinstance(of.value, int | float) else None
