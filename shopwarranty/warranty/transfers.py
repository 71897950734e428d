"""The vehicle goes to somebody else: what becomes of its certificates, by the words they were issued with.

End dates never move. Where the terms let cover pass, the new holder gets an edition of his own, and what
names the old one is hidden from him. Where they do not, the sale is recorded and the certificate stays
a paper whose cover ended by its own terms; rights under law are not touched, and every answer says so.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from shopwarranty.jobs.actions import end_holding, hold_vehicle
from shopwarranty.jobs.models import HolderLink, Holding, Job, Party, Vehicle
from shopwarranty.shops.history import Actor, record_change

from .actions import issue_prepared
from .models import Certificate, PlanVersion, Transfer
from .preparing import PreparedCertificate, prepare_edition
from .public_code import new_code
from .refusals import ConsentNeeded, DayOutOfOrder, NothingToTransfer, NotInForce, SameHolder
from .telling import tell_issued, tell_sold, unsay_waiting

State = Certificate.State
Policy = PlanVersion.Transfer


@dataclass(frozen=True, slots=True)
class Sale:
    """To whom and when; `agreed`: the new holder gave name and address, or agrees that we keep them."""

    to_party: Party
    on: date
    agreed: bool
    odometer: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Outlook:
    """One certificate of the vehicle, and whether its own terms let cover pass to the new holder."""

    certificate: Certificate
    passes: bool


def outlook(vehicle: Vehicle) -> tuple[Outlook, ...]:
    """What a sale would do to each certificate in force of a vehicle that was handed over. Three queries."""
    rows = Certificate.objects.filter(vehicle=vehicle, state=State.ISSUED).exclude(job__state=Job.State.OPEN)
    standing = list(rows.select_related("job", "holder", "shop", "plan_version").order_by("pk"))
    ended, passed = ended_by_sale(standing), passed_before(standing)
    return tuple(
        Outlook(row, may_pass(row, passed_on=row.number in passed)) for row in standing if row.pk not in ended
    )


def may_pass(certificate: Certificate, *, passed_on: bool) -> bool:
    """By the words of the certificate itself, whatever its plan says by now."""
    policy = certificate.snapshot["terms"]["transfer"]
    return policy == Policy.FREE or (policy == Policy.ONCE and not passed_on)


def passed_before(rows: Iterable[Certificate]) -> frozenset[str]:
    """Numbers whose cover went to a new holder once already, with whichever edition."""
    numbers = [row.number for row in rows]
    found = Transfer.objects.filter(certificate__number__in=numbers, allowed_by_terms=True)
    return frozenset(found.values_list("certificate__number", flat=True))


def ended_by_sale(rows: Iterable[Certificate]) -> dict[int, date]:
    """Certificates whose cover ended, by their own terms, when the vehicle was sold; with the day."""
    found = Transfer.objects.filter(certificate__in=[row.pk for row in rows], allowed_by_terms=False)
    return dict(found.values_list("certificate", "on"))


def transfer_vehicle(
    *, vehicle: Vehicle, sale: Sale, actor: Actor, now: datetime, code: Callable[[], str] = new_code
) -> tuple[Certificate, ...]:
    """The sale, for every certificate of the vehicle in force; gives the certificates as they stand now.

    Raises ConsentNeeded, DayOutOfOrder, SameHolder, NothingToTransfer, or NotInForce when somebody was
    quicker. Nothing is written then.
    """
    found = outlook(vehicle)
    guard(vehicle, found, sale, now)
    prepared = {
        each.certificate.pk: prepare_edition(
            certificate=each.certificate, now=now, holder=sale.to_party, code=code
        )
        for each in found
        if each.passes
    }
    with transaction.atomic():
        if {(each.certificate.pk, each.passes) for each in outlook(vehicle)} != {
            (each.certificate.pk, each.passes) for each in found
        }:
            raise NotInForce
        new_holder(vehicle, sale, actor, now)
        return tuple(
            settle(each.certificate, prepared.get(each.certificate.pk), sale, actor, now) for each in found
        )


def guard(vehicle: Vehicle, found: tuple[Outlook, ...], sale: Sale, now: datetime) -> None:
    if not found:
        raise NothingToTransfer
    if not sale.agreed:
        raise ConsentNeeded
    if any(each.certificate.holder_id == sale.to_party.pk for each in found):
        raise SameHolder
    today = now.astimezone(vehicle.shop.zone).date()
    earliest = max((each.certificate.job.handed_over_on or date.min for each in found), default=date.min)
    if not earliest <= sale.on <= today:
        raise DayOutOfOrder


def new_holder(vehicle: Vehicle, sale: Sale, actor: Actor, now: datetime) -> None:
    """Whoever sold it is no contact any more, and his private addresses of the vehicle open nothing."""
    role, why = Holding.Role.HOLDER, _("the vehicle was sold")
    standing = vehicle.holdings.filter(until__isnull=True)
    before = standing.filter(role=role).first()
    hold_vehicle(
        vehicle=vehicle, party=sale.to_party, role=role, since=sale.on, actor=actor, now=now, why=why
    )
    if before is None or before.party_id == sale.to_party.pk:
        return
    for holding in (
        standing.filter(party=before.party_id).exclude(role=role).select_related("vehicle", "party")
    ):
        end_holding(holding=holding, until=sale.on, actor=actor, now=now, why=why)
    links = HolderLink.objects.filter(vehicle=vehicle, revoked_at__isnull=True).exclude(party=sale.to_party)
    links.update(revoked_at=now)


def settle(
    certificate: Certificate, prepared: PreparedCertificate | None, sale: Sale, actor: Actor, now: datetime
) -> Certificate:
    passes = prepared is not None
    transfer = Transfer.objects.create(
        certificate=certificate,
        from_party=certificate.holder,
        to_party=sale.to_party,
        on=sale.on,
        consented_at=now,
        allowed_by_terms=passes,
        odometer=sale.odometer,
        note=sale.note,
        member=actor.member,
        at=now,
    )
    after = {"transfer": transfer.pk, "on": sale.on, "cover passes": passes}
    record_change(row=certificate, act="sold", actor=actor, at=now, after=after, why=sale.note)
    hidden = Certificate.objects.filter(number=certificate.number, holder_hidden_at__isnull=True)
    hidden.exclude(holder=sale.to_party).update(holder_hidden_at=now)
    if prepared is None:
        unsay_waiting(certificate, now=now)
        tell_sold(certificate, on=sale.on, now=now)
        return certificate
    issued = issue_prepared(prepared=prepared, actor=actor, now=now, why=_("the vehicle was sold"))
    tell_issued(issued, now=now)
    return issued
