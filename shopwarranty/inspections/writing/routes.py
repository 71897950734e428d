"""Whom a message goes to, and by which way."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from shopwarranty.jobs.models import Holding, Party, Plate
from shopwarranty.outbox.channels import MAIL, TEXT, has_channel
from shopwarranty.shops.models import Shop

from ..models import CheckRules
from .kinds import Kind

NEAREST_FIRST: Final = (Holding.Role.CONTACT, Holding.Role.HOLDER, Holding.Role.OWNER)


@dataclass(frozen=True, slots=True)
class Route:
    party: Party
    channel: str
    to: str
    language: str


def nearest_to(vehicles: Iterable[int]) -> dict[int, Party]:
    """By vehicle: contact, else holder, else owner, whoever stands nearest to an appointment. One query."""
    rows = Holding.objects.filter(vehicle_id__in=set(vehicles), until__isnull=True, role__in=NEAREST_FIRST)
    found: dict[int, dict[str, Party]] = {}
    for row in rows.select_related("party").order_by("since", "pk"):
        found.setdefault(row.vehicle_id, {})[row.role] = row.party
    return {
        vehicle: next(by_role[role] for role in NEAREST_FIRST if role in by_role)
        for vehicle, by_role in found.items()
    }


def plates_of(vehicles: Iterable[int]) -> dict[int, str]:
    rows = Plate.objects.filter(vehicle_id__in=set(vehicles), until__isnull=True).order_by("since", "pk")
    return dict(rows.values_list("vehicle_id", "text"))


def can_be_written_to(party: Party | None) -> bool:
    return party is not None and bool(party.email) and party.email_refused_at is None


def route_to(party: Party | None, shop: Shop, rules: CheckRules, kind: Kind) -> Route | None:
    """None when there is no way to write, or the holder wants no messages of this kind."""
    if party is None or (kind.is_optional and (party.reminders_stopped_at or party.restricted_at)):
        return None
    language = party.language or shop.language
    if can_be_written_to(party):
        return Route(party, MAIL, party.email, language)
    if rules.text_without_mail and party.telephone and has_channel(TEXT):
        return Route(party, TEXT, party.telephone, language)
    return None


def is_on(kind: Kind, rules: CheckRules) -> bool:
    return kind.must_go or kind.key not in rules.silent
