"""Everything that changes checks, bookings, visits and findings."""

from .bookings import (
    book_beyond,
    book_check,
    cancel_booking,
    mark_not_kept,
    move_beyond,
    move_booking,
)
from .contacts import note_contact
from .findings import correct_finding, say_finding, sweep_panel, take_back, take_back_sweep
from .plans import add_usual_check_plans, plan_checks
from .settling import settle_overdue, take_up_again, waive_all, waive_check
from .visits import drop_visit, finish_visit, start_visit

__all__ = [
    "add_usual_check_plans",
    "book_beyond",
    "book_check",
    "cancel_booking",
    "correct_finding",
    "drop_visit",
    "finish_visit",
    "mark_not_kept",
    "move_beyond",
    "move_booking",
    "note_contact",
    "plan_checks",
    "say_finding",
    "settle_overdue",
    "start_visit",
    "sweep_panel",
    "take_back",
    "take_back_sweep",
    "take_up_again",
    "waive_all",
    "waive_check",
]
