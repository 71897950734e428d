"""One field finds a vehicle by plate, VIN or name, a job, a certificate, a lot or a roll."""

from dataclasses import dataclass
from typing import Any

from django.db.models import Q
from django.urls import reverse
from django.utils.translation import gettext as _

from shopwarranty.films.models import Lot, Roll
from shopwarranty.jobs.models import Job, Plate, Vehicle
from shopwarranty.warranty.models import Certificate

AT_MOST = 20


@dataclass(frozen=True, slots=True)
class Hit:
    kind: str
    title: str
    detail: str
    url: str
    exact: bool = False


def squeezed(text: str) -> str:
    """Letters and digits only, upper case: how plates and VINs are compared."""
    return "".join(character for character in text.upper() if character.isalnum())


def search(slug: str, words: str) -> list[Hit]:
    """At most AT_MOST hits of each kind, exact ones first; a fixed number of queries."""
    words = words.strip()
    if not squeezed(words):
        return []
    finders = (vehicles, certificates, jobs, lots, rolls)
    hits = [hit for finder in finders for hit in finder(slug, words)]
    return sorted(hits, key=lambda hit: not hit.exact)


def vehicles(slug: str, words: str) -> list[Hit]:
    compact = squeezed(words)
    by_plate = Plate.objects.filter(searched__startswith=compact).values("vehicle")
    rows = Vehicle.objects.with_plate_and_holder().filter(merged_into__isnull=True)
    found = rows.filter(
        Q(pk__in=by_plate)
        | Q(vin__startswith=compact)
        | Q(vin__endswith=compact)
        | Q(holdings__party__name__icontains=words)
    ).distinct()[:AT_MOST]
    return [vehicle_hit(slug, row, compact) for row in found.prefetch_related("plates")]


def vehicle_hit(slug: str, row: Any, compact: str) -> Hit:
    """An old plate is shown with its dates: the same one may sit on another vehicle by now."""
    plates = [plate for plate in row.plates.all() if plate.searched.startswith(compact)]
    past = [f"{p.text} ({p.since} – {p.until})" for p in plates if p.until]
    parts = [row.plate_now or _("no plate"), row.holder_now or _("no holder"), *past]
    exact = row.vin == compact or any(plate.searched == compact for plate in plates)
    return Hit(_("Vehicle"), str(row), ", ".join(parts), reverse("vehicle", args=[slug, row.pk]), exact)


def certificates(slug: str, words: str) -> list[Hit]:
    rows = Certificate.objects.select_related("vehicle").filter(number__icontains=words.strip())[:AT_MOST]
    return [
        Hit(
            _("Certificate"),
            row.number,
            f"{row.vehicle}, {row.get_state_display()}",
            reverse("certificate", args=[slug, row.pk]),
            row.number == words.upper(),
        )
        for row in rows
    ]


def jobs(slug: str, words: str) -> list[Hit]:
    rows: Any = Job.objects.with_vehicle().filter(ref__istartswith=words)[:AT_MOST]
    return [
        Hit(
            _("Job"),
            row.ref,
            f"{row.vehicle}, {row.plate_now or _('no plate')}",
            reverse("job", args=[slug, row.pk]),
            row.ref.lower() == words.lower(),
        )
        for row in rows
    ]


def lots(slug: str, words: str) -> list[Hit]:
    rows = Lot.objects.select_related("product").filter(number__icontains=words)[:AT_MOST]
    return [
        Hit(_("Lot"), row.number, str(row.product), reverse("lot", args=[slug, row.pk]), row.number == words)
        for row in rows
    ]


def rolls(slug: str, words: str) -> list[Hit]:
    rows = Roll.objects.select_related("product").filter(label__istartswith=words)[:AT_MOST]
    return [
        Hit(
            _("Roll"),
            row.label,
            str(row.product),
            reverse("roll", args=[slug, row.pk]),
            row.label.lower() == words.lower(),
        )
        for row in rows
    ]
