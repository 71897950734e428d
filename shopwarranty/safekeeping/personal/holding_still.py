"""While it is decided whether somebody is erased, and done, nobody writes about them: who would, waits.

On PostgreSQL a new row takes a lock on the person, vehicle or job that it names, and so waits for these here;
SQLite has one writer at a time. What waited is then about an erased person, and is looked at as such.
"""

from collections.abc import Collection

from shopwarranty.jobs.models import Holding, Job, Party, Vehicle


def hold_still(parties: Collection[int]) -> None:
    """Until the end of the caller's transaction; always in this order, so that no two wait for each other."""
    vehicles = Vehicle.objects.filter(pk__in=Holding.objects.filter(party__in=parties).values("vehicle"))
    for rows in (
        Party.objects.filter(pk__in=parties),
        vehicles,
        Job.objects.filter(vehicle__in=vehicles.values("pk")),
    ):
        list(rows.select_for_update().order_by("pk").values_list("pk", flat=True))
