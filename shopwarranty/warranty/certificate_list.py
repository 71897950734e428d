"""Certificates as a desk looks for them: by number, plate, VIN, name; by state and printed term."""

from datetime import date
from typing import Any

from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy as _

from shopwarranty.jobs.models import Plate
from shopwarranty.jobs.plates import searched_form

from .models import Certificate, Transfer
from .transfers import ended_by_sale

SHOWN = (
    ("", _("In force")),
    ("ended", _("Ended by its terms")),
    ("replaced", _("Replaced")),
    ("withdrawn", _("Withdrawn")),
    ("all", _("All")),
)


def certificates(*, words: str, shown: str, today: date) -> "QuerySet[Certificate]":
    rows = Certificate.objects.select_related("vehicle", "holder", "job").defer("snapshot")
    return rows.filter(state_filter(shown, today)).filter(word_filter(words.strip()))


def state_filter(shown: str, today: date) -> Q:
    issued = Q(state=Certificate.State.ISSUED)
    sold = Q(pk__in=Transfer.objects.filter(allowed_by_terms=False).values("certificate"))
    by_name: dict[str, Q] = {
        "": issued & Q(last_day__gte=today) & ~sold,
        "ended": issued & (Q(last_day__lt=today) | sold),
        "replaced": Q(state=Certificate.State.REPLACED),
        "withdrawn": Q(state=Certificate.State.WITHDRAWN),
    }
    return by_name.get(shown, Q())


def word_filter(words: str) -> Q:
    compact = searched_form(words)
    if not compact:
        return Q(holder__name__icontains=words) if words else Q()
    plates = Plate.objects.filter(searched__startswith=compact).values("vehicle")
    return (
        Q(number__icontains=words)
        | Q(vehicle__in=plates)
        | Q(vehicle__vin__startswith=compact)
        | Q(vehicle__vin__endswith=compact)
        | Q(holder__name__icontains=words)
    )


def with_standing(rows: Any, today: date) -> Any:
    """Sets `standing` and `standing_words` on each row, as the chip shows them."""
    sold = ended_by_sale(rows)
    for row in rows:
        row.standing, row.standing_words = standing_of(row, today, sold=row.pk in sold)
    return rows


def standing_of(certificate: Certificate, today: date, *, sold: bool = False) -> tuple[str, Any]:
    """Which mark, and its words. That the printed term ended is worked out, never stored."""
    if certificate.state != Certificate.State.ISSUED:
        return certificate.state, certificate.get_state_display()
    if sold:
        return "plain", _("ended with the sale, by its terms")
    if certificate.last_day < today:
        return "plain", _("printed term ended")
    return "issued", _("in force")
