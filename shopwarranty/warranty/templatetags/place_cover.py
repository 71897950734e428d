"""Which promises cover the film at a place, for the pages of higher rooms that tell its story."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django import template
from django.utils.translation import gettext as _

from shopwarranty.jobs.models import Place
from shopwarranty.warranty.models import Certificate, Cover
from shopwarranty.warranty.transfers import ended_by_sale

register = template.Library()


@dataclass(frozen=True, slots=True)
class CoverShown:
    """One cover line of the certificate that stands, or stood last, for this film."""

    certificate: Certificate
    title: str
    remedy: str
    last_day: date
    state: str
    words: str


@register.inclusion_tag("warranty/place_cover.html", takes_context=True)
def place_cover(context: dict[str, Any], place: Place) -> dict[str, Any]:
    """Two queries. Replaced editions are left out: the one that took their place says the same dates."""
    today = context["request"].today
    return {"lines": cover_shown(place, today), "shop": context["shop"]}


def cover_shown(place: Place, today: date) -> list[CoverShown]:
    rows = Cover.objects.filter(piece=place.piece_id).exclude(certificate__state=Certificate.State.REPLACED)
    found = list(rows.select_related("certificate", "line").order_by("-certificate", "line__position", "pk"))
    sold = ended_by_sale([row.certificate for row in found])
    return [shown(row, today, sold.get(row.certificate_id)) for row in found]


def shown(row: Cover, today: date, sold_on: date | None) -> CoverShown:
    state, words = "issued", _("in cover")
    if row.certificate.state == Certificate.State.WITHDRAWN:
        state, words = "withdrawn", row.certificate.get_state_display()
    elif sold_on is not None:
        state, words = "plain", _("ended with the sale, by its terms")
    elif row.last_day < today:
        state, words = "plain", _("printed term ended")
    return CoverShown(row.certificate, row.line.title, row.line.remedy, row.last_day, state, words)
