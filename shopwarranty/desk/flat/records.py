"""Jobs and findings as the flat files say them, between the files and the database.

The fields of each `...Values` are the columns of that level, in their order: a test holds the two together.
Values are in SI; None, "" and () mean "not recorded".
"""

from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import NamedTuple

Value = object


class Entry(NamedTuple):
    """One entry of a list in a cell: what comes before the colon, and what after it."""

    head: str
    note: str = ""


class JobValues(NamedTuple):
    job_ref: str = ""
    job_kind: str = ""
    job_state: str = ""
    started_at: datetime | None = None
    entered_at: datetime | None = None
    handed_over_on: date | None = None
    handed_over_at: datetime | None = None
    planned_handover_on: date | None = None
    quoted_months: int | None = None
    method: str = ""
    method_version: int | None = None
    no_method_reason: str = ""
    confirmed_at: datetime | None = None
    decontaminated: bool | None = None
    decontaminated_basis: str = ""
    acclimatised_h: float | None = None
    acclimatised_h_basis: str = ""
    squeegee: str = ""
    squeegee_basis: str = ""
    recheck_min: float | None = None
    recheck_min_basis: str = ""
    dwell_h: float | None = None
    dwell_h_basis: str = ""
    makers_procedure: str = ""
    sensors_clear: str = ""
    blades_returned: str = ""
    job_note: str = ""
    vehicle_first_job: str = ""
    vehicle_owned: str = ""
    make: str = ""
    model: str = ""
    year: int | None = None
    colour: str = ""
    body_style: str = ""
    vehicle_use: str = ""
    vin: str = ""
    vin_kind: str = ""
    vin_reason: str = ""
    plate: str = ""
    plate_since: date | None = None
    holder: str = ""
    holder_since: date | None = None
    holder_kind: str = ""
    holder_consumer: bool | None = None
    holder_email: str = ""
    holder_telephone: str = ""
    holder_address: str = ""
    holder_language: str = ""


class PanelValues(NamedTuple):
    panel: str = ""
    panel_name: str = ""
    substrate: str = ""
    painted_on: date | None = None
    old_marks: str = ""
    marks_shown_at: datetime | None = None
    marks_shown_to: str = ""
    washed: bool | None = None
    washed_basis: str = ""
    solvent_wiped: bool | None = None
    solvent_wiped_basis: str = ""
    blown_off: bool | None = None
    blown_off_basis: str = ""
    static_step: bool | None = None
    static_step_basis: str = ""
    laid: str = ""
    laid_basis: str = ""
    forming_heat_c: float | None = None
    forming_heat_c_basis: str = ""
    stretch: str = ""
    stretch_basis: str = ""
    hardware: str = ""
    hardware_basis: str = ""
    blade_fresh: bool | None = None
    blade_fresh_basis: str = ""
    blade_kind: str = ""
    blade_kind_basis: str = ""
    confirmed_at: datetime | None = None
    finished_at: datetime | None = None
    installer: str = ""
    installer_part: str = ""
    other_installers: tuple[Entry, ...] = ()
    removed_items: tuple[Entry, ...] = ()
    laying_events: tuple[Entry, ...] = ()
    measured_at: datetime | None = None
    air_c: float | None = None
    air_c_basis: str = ""
    surface_c: float | None = None
    surface_c_basis: str = ""
    humidity: float | None = None
    humidity_basis: str = ""
    instrument: str = ""
    removed_on: date | None = None
    removed_why: str = ""
    panel_note: str = ""


class PieceValues(NamedTuple):
    piece: int | None = None
    layer: int | None = None
    piece_name: str = ""
    film_maker: str = ""
    film: str = ""
    film_family: str = ""
    lot: str = ""
    lot_unknown_reason: str = ""
    roll: str = ""
    supplied_by_owner: bool | None = None
    cut_along: float | None = None
    cut_across: float | None = None
    cut_off_roll: float | None = None
    cut_at: datetime | None = None
    long_side_across: bool | None = None
    ended_on: date | None = None
    ended_why: str = ""
    replaces_piece: int | None = None
    replaces_job: str = ""


class PlaceValues(NamedTuple):
    place: str = ""
    place_kind: str = ""
    place_name: str = ""
    meets_piece: int | None = None
    added_on: date | None = None
    post_heated: bool | None = None
    post_heated_basis: str = ""
    post_heat_c: float | None = None
    post_heat_c_basis: str = ""
    passes: int | None = None
    passes_basis: str = ""
    wrap_in_wanted_mm: float | None = None
    wrap_in_wanted_mm_basis: str = ""
    wrap_in_reached_mm: float | None = None
    wrap_in_reached_mm_basis: str = ""
    covered_by: str = ""
    covered_by_basis: str = ""
    left_short: bool | None = None
    left_short_basis: str = ""
    primer: bool | None = None
    primer_basis: str = ""
    cut_on_panel: bool | None = None
    cut_on_panel_basis: str = ""
    laying_events: tuple[Entry, ...] = ()


class VisitValues(NamedTuple):
    job_ref: str = ""
    visit_on: date | None = None
    origin: str = ""
    by_photo: bool | None = None
    handover_look: bool | None = None
    visit_number: int | None = None
    visited_at: datetime | None = None
    visit_entered_at: datetime | None = None
    since_when: date | None = None
    since_when_words: str = ""
    inspected_by: str = ""
    odometer: int | None = None
    signed_name: str = ""
    visit_note: str = ""
    check_plan: str = ""
    check_due_on: date | None = None
    check_settled: bool | None = None


class FindingValues(NamedTuple):
    panel: str = ""
    piece: int | None = None
    place: str = ""
    result: str = ""
    why_not: str = ""
    kind: str = ""
    kind_name: str = ""
    kind_is_failure: bool | None = None
    defect_number: int | None = None
    severity: int | None = None
    extent: float | None = None
    depth: float | None = None
    how_many: int | None = None
    sighting_note: str = ""
    defect_state: str = ""
    defect_verified: bool | None = None
    cause: str = ""
    cause_sure: str = ""
    remedy: str = ""
    remedy_on: date | None = None
    remedy_by: str = ""
    remedy_elsewhere: str = ""
    remedy_time: int | None = None
    remedy_cost: Decimal | None = None
    remedy_goodwill: bool | None = None
    remedy_heat_c: float | None = None
    remedy_heat_c_basis: str = ""
    remedy_passes: int | None = None
    remedy_passes_basis: str = ""
    remedy_note: str = ""
    remedy_piece: int | None = None


class OwnValue(NamedTuple):
    """The value of a field that the shop defined."""

    key: str
    value: str
    basis: str


@dataclass(slots=True)
class FlatPlace:
    values: PlaceValues
    own: tuple[OwnValue, ...] = ()
    line: int = 0


@dataclass(slots=True)
class FlatPiece:
    values: PieceValues
    places: list[FlatPlace] = field(default_factory=list)
    line: int = 0

    @property
    def number(self) -> int:
        return self.values.piece or 1


@dataclass(slots=True)
class FlatPanel:
    values: PanelValues
    own: tuple[OwnValue, ...] = ()
    pieces: list[FlatPiece] = field(default_factory=list)
    line: int = 0


@dataclass(slots=True)
class FlatJob:
    """`said`: the values as the file says them, before anything was completed."""

    values: JobValues
    own: tuple[OwnValue, ...] = ()
    panels: list[FlatPanel] = field(default_factory=list)
    line: int = 0
    rows: int = 0
    said: JobValues | None = None

    @property
    def ref(self) -> str:
        return self.values.job_ref


@dataclass(slots=True)
class FlatFinding:
    values: FindingValues
    line: int = 0


@dataclass(slots=True)
class FlatVisit:
    values: VisitValues
    findings: list[FlatFinding] = field(default_factory=list)
    line: int = 0
    said: VisitValues | None = None


@dataclass(slots=True)
class FlatLooks:
    """Every visit to one job's film."""

    ref: str
    visits: list[FlatVisit] = field(default_factory=list)
    line: int = 0
    rows: int = 0
