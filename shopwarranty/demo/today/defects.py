"""What was decided about single defects in the last weeks: film replaced, one not found again."""

from datetime import time
from decimal import Decimal

from shopwarranty.defects.actions import How, record_remedy, verify
from shopwarranty.defects.models import Defect, Sighting
from shopwarranty.jobs.actions import FilmChoice

from .moment import Day


def replace_a_piece(day: Day) -> None:
    """New film on one panel: the old piece ends, and its places begin again."""
    grave = Sighting.objects.filter(severity__gte=3).values("defect")
    rows = Defect.objects.filter(state="open", pk__in=grave, found_on__lt=day.ago(12).date())
    defect = rows.select_related("place__piece__roll").order_by("-found_on", "pk")[0]
    product = defect.place.piece.product
    roll = next(
        row
        for row in reversed(day.written.rolls)
        if row.product_id == (product.pk if product else 0) and row.finished_on is None
    )
    record_remedy(
        defect=defect,
        kind="replace_piece",
        done_on=day.ago(11).date(),
        actor=day.actor("juno"),
        now=day.ago(11, time(15, 20)),
        how=How(
            minutes=95,
            cost=Decimal("214.00"),
            film=FilmChoice(roll=roll),
            note="laid anew, recess heated apart",
        ),
    )


def not_found_again(day: Day) -> None:
    """A trace that nobody could see a second time: listed, and out of every rate."""
    traces = Sighting.objects.filter(severity=1).values("defect")
    defect = Defect.objects.filter(state="open", pk__in=traces).order_by("-found_on", "pk")[0]
    verify(defect=defect, found_again=False, actor=day.actor("owner"), now=day.ago(3), why="Light was wrong.")
