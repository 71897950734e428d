"""Everything that changes claims."""

from shopwarranty.claims.stages import due_after

from .closing import close, mark_remedied, reopen
from .deciding import decide, propose
from .evidence import add_fact, match_item, set_aside_fact
from .from_report import claim_from_report
from .opening import Reported, acknowledge, assess, correct_first_report, open_claim
from .photos import add_photos
from .telling import tell

__all__ = [
    "Reported",
    "acknowledge",
    "add_fact",
    "add_photos",
    "assess",
    "claim_from_report",
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
