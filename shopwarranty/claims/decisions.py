"""The decisions that stand: the latest about each claimed defect."""

from .models import Claim, Decision


def standing_decisions(claim: Claim) -> list[Decision]:
    """In the order of the claim's items. One query."""
    rows = Decision.objects.filter(item__claim=claim).select_related(
        "item__defect", "item__place__piece__panel_work__job__vehicle", "line", "decided_by"
    )
    latest: dict[int, Decision] = {}
    for row in rows.order_by("item", "decided_at", "pk"):
        latest[row.item_id] = row
    return list(latest.values())
