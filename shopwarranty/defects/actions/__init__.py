"""Everything that changes defects, sightings and remedies."""

from .judging import judge_cause, verify
from .looking import (
    PlaceSaid,
    SightSaid,
    correct_place,
    finish_look,
    found_unrecorded,
    note_not_ours,
    save_panel,
    say_place,
    with_lines_kept,
)
from .own_kinds import add_defect_kind, count_as_failure, retire_defect_kind
from .remedies import How, record_remedy
from .sightings import add_photo, fails_again, see_defect, take_back_sightings
from .spots import answer_spot, draw_spots, forgo_spots, keep_panel_look
from .undoing import PlaceStood, panel_stands, undo_press

__all__ = [
    "How",
    "PlaceSaid",
    "PlaceStood",
    "SightSaid",
    "add_defect_kind",
    "add_photo",
    "answer_spot",
    "correct_place",
    "count_as_failure",
    "draw_spots",
    "fails_again",
    "finish_look",
    "forgo_spots",
    "found_unrecorded",
    "judge_cause",
    "keep_panel_look",
    "note_not_ours",
    "panel_stands",
    "record_remedy",
    "retire_defect_kind",
    "save_panel",
    "say_place",
    "see_defect",
    "take_back_sightings",
    "undo_press",
    "verify",
    "with_lines_kept",
]
