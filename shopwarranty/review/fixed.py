"""Fixed reviews as stored: the newest one, and the claims it made."""

from __future__ import annotations

from shopwarranty.analysis.held import Claim

from .models import FixedReview
from .selection import Selection


def newest(selection: Selection) -> FixedReview | None:
    """Of this film family and part of the shop in scope; its figures are left in the database. One query."""
    rows = FixedReview.objects.filter(family=selection.family, part=selection.part.value)
    found: FixedReview | None = rows.defer("figures", "alerts").first()
    return found


def claims_in(fixed: FixedReview) -> tuple[Claim, ...]:
    return tuple(Claim(**claim) for claim in fixed.claims)
