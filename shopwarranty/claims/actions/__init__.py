"""Everything that changes claims."""

from shopwarranty.claims.stages import due_after

from .closing import close, mark_remedied, reopen
from .deciding import decide, propose
from .evidence import add_fact, match_item, set_aside_fact
from .opening import Reported, acknowledge, assess, correct_first_report, open_claim
from .telling import tell

__all__ = [
    "Reported",
    "acknowledge",
    "add_fact",
    "assess",
    "close",
    "correct_first_report",
    "decide",
    "due_after",
    "mark_remedied",
    "match_item",
    "open_claim",
    "propose",
    "reopen",
    "set_aside_fact",
    "tell",
]
