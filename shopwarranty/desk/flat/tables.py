"""The tables that an import fills, in an order in which no row comes before one it points to."""

from collections.abc import Sequence
from typing import Final

from django.db import connection

from shopwarranty.defects.models import Defect, Remedy, ShopDefectKind, Sighting
from shopwarranty.films.models import Cut, FilmProduct, Lot, Roll
from shopwarranty.inspections.models import Check, CheckPlan, Finding, Visit
from shopwarranty.jobs.models import (
    FieldValue,
    FilmPiece,
    Holding,
    Job,
    LayingEvent,
    Method,
    MethodVersion,
    PanelIntake,
    PanelMember,
    PanelWork,
    Party,
    Place,
    Plate,
    Reading,
    RemovedItem,
    ShopField,
    ShopPanel,
    Vehicle,
)
from shopwarranty.shops.many_rows import Table
from shopwarranty.shops.models import Change, Member
from shopwarranty.shops.rows import ShopOwned
from shopwarranty.trade import technique


def with_basis(level: technique.Level) -> tuple[str, ...]:
    """Technique fields of a level, each with the column that says how it is known."""
    return tuple(name for field in technique.fields(level) for name in (field.key, f"{field.key}_basis"))


JOB_TECHNIQUE: Final = with_basis(technique.Level.JOB)
PANEL_TECHNIQUE: Final = with_basis(technique.Level.PANEL)
PLACE_TECHNIQUE: Final = with_basis(technique.Level.PLACE)

COLUMNS: Final[dict[type[ShopOwned], tuple[str, ...]]] = {
    Member: ("name", "is_installer", "joined_at"),
    Method: ("name",),
    MethodVersion: ("method_id", "number", "valid_from", "note"),
    FilmProduct: ("maker", "name", "family"),
    Lot: ("product_id", "number"),
    Roll: ("product_id", "lot_id", "lot_unknown_reason", "label"),
    ShopField: ("key", "name", "level", "kind", "unit", "choices"),
    ShopPanel: ("key", "name", "edges"),
    ShopDefectKind: ("key", "name", "is_failure"),
    CheckPlan: ("key", "name", "retired_at"),
    Vehicle: (
        *("owned", "make", "model", "year", "colour", "body_style", "use", "vin", "vin_kind", "vin_reason"),
    ),
    Party: ("name", "kind", "is_consumer", "email", "telephone", "address", "language"),
    Plate: ("vehicle_id", "text", "searched", "since", "until"),
    Holding: ("vehicle_id", "party_id", "role", "since", "until"),
    Job: (
        *("ref", "vehicle_id", "kind", "method_version_id", "no_method_reason", "state"),
        *("planned_handover_on", "handed_over_at", "handed_over_on", "quoted_months", "confirmed_at"),
        *("makers_procedure", "sensors_clear", "blades_returned", "note"),
        *("imported_at", "started_at", "entered_at", *JOB_TECHNIQUE),
    ),
    PanelWork: (
        *("job_id", "panel", "walk", "confirmed_at", "finished_at", "removed_on", "removed_why", "note"),
        *("forming_heat_typed", *PANEL_TECHNIQUE),
    ),
    PanelIntake: (
        *("panel_work_id", "substrate", "painted_on", "marks", "acknowledged_at", "acknowledged_by", "at"),
    ),
    PanelMember: ("panel_work_id", "member_id", "is_lead", "part"),
    RemovedItem: ("panel_work_id", "name", "outcome", "settled_at"),
    Reading: (
        *("job_id", "panel_work_id", "at", "air_c", "air_c_basis", "air_typed"),
        *("surface_c", "surface_c_basis", "surface_typed", "humidity", "humidity_basis"),
        *("instrument", "entered_at"),
    ),
    Cut: (*("roll_id", "kind", "along_mm", "across_mm", "off_roll_mm", "long_side_across", "cut_at"),),
    FilmPiece: (
        *("panel_work_id", "number", "layer", "name", "product_id", "lot_id", "lot_unknown_reason"),
        *("roll_id", "cut_id", "supplied_by_owner", "ended_on", "ended_why"),
    ),
    Place: (
        *("piece_id", "walk", "other_piece_id", "key", "kind", "name", "added_on"),
        *("post_heat_typed", "wrap_in_typed", *PLACE_TECHNIQUE),
    ),
    LayingEvent: ("panel_work_id", "place_id", "kind", "at", "note"),
    FieldValue: ("field_id", "job_id", "panel_work_id", "place_id", "value", "basis"),
    Check: (
        *("job_id", "plan_id", "due_on", "window_from", "window_to", "state", "state_why", "settled_at"),
    ),
    Visit: (
        *("job_id", "check_due_id", "state", "origin", "is_handover_look", "by_photo", "since_when"),
        *("since_when_words", "happened_on", "started_at", "finished_at", "entered_at", "odometer_km"),
        *("member_id", "signed_name", "note"),
    ),
    Finding: ("visit_id", "place_id", "result", "why_not", "said", "at", "order"),
    Defect: (
        *("number", "place_id", "kind", "kind_words", "found_on", "at_handover", "recurrence_of_id", "state"),
        *("cause", "cause_sure", "cause_judged_at", "verified"),
    ),
    Sighting: ("defect_id", "finding_id", "extent_mm", "depth_mm", "count", "severity", "note"),
    Remedy: (
        *("defect_id", "kind", "done_on", "done_at", "member_id", "visit_id", "by_whom_else", "minutes"),
        *("new_piece_id", "cost", "is_goodwill", "post_heat_c", "post_heat_c_basis", "passes"),
        *("passes_basis", "note"),
    ),
    Change: ("at", "member_id", "device_id", "who", "act", "table", "row", "after"),
}


class Tables:
    """One table for each model. `flush` writes what was added, and nothing before."""

    def __init__(self) -> None:
        self.of = {model: Table(model, names) for model, names in COLUMNS.items()}

    def __getitem__(self, model: type[ShopOwned]) -> Table:
        return self.of[model]

    def flush(self, models: Sequence[type[ShopOwned]] | None = None) -> None:
        for model in self.of if models is None else models:
            self.of[model].flush()

    def tell_planner(self) -> None:
        """PostgreSQL plans by figures it has not gathered yet of rows that were only just written."""
        if connection.vendor == "postgresql":
            names = ", ".join(connection.ops.quote_name(model._meta.db_table) for model in self.of)
            with connection.cursor() as cursor:
                cursor.execute(f"ANALYZE {names}")
