"""Which rows are about a person. Everything by sets of ids, so that many are found as quickly as one."""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any, Self

from django.db.models import Q, QuerySet
from django.db.models.functions import Lower

from shopwarranty.claims.models import Claim
from shopwarranty.inspections.models import Booking, Check, HolderReport, OneTimeCode, Visit
from shopwarranty.jobs.models import Holding, Job, Party, Photo, Plate
from shopwarranty.outbox.models import Message
from shopwarranty.warranty.models import Certificate

from ..models import Erasure

Ids = frozenset[int]


@dataclass(frozen=True, slots=True)
class Belonging:
    """`vehicles`: those they stand or stood to; `alone`: of these, those that nobody else stands to."""

    parties: Ids
    vehicles: Ids
    alone: Ids
    jobs: Ids
    certificates: Ids
    claims: Ids
    visits: Ids

    @classmethod
    def of(cls, parties: Collection[int]) -> Self:
        vehicles = ids(Holding.objects.filter(party__in=parties), "vehicle")
        alone = vehicles - ids(others_on(vehicles, parties), "vehicle")
        jobs = ids(Job.objects.filter(vehicle__in=alone))
        claims = ids(Claim.objects.filter(Q(claimant__in=parties) | Q(vehicle__in=alone)))
        return cls(
            parties=frozenset(parties),
            vehicles=vehicles,
            alone=alone,
            jobs=jobs,
            certificates=ids(Certificate.objects.filter(Q(holder__in=parties) | Q(vehicle__in=alone))),
            claims=claims,
            visits=ids(Visit.objects.filter(job__in=jobs)),
        )

    def names(self) -> list[str]:
        return list(Party.objects.filter(pk__in=self.parties).values_list("name", flat=True))

    def photos(self) -> QuerySet[Photo]:
        return Photo.objects.filter(vehicle__in=self.alone)

    def plates(self) -> QuerySet[Plate]:
        return Plate.objects.filter(vehicle__in=self.alone)

    def reports(self) -> QuerySet[HolderReport]:
        return HolderReport.objects.filter(Q(party__in=self.parties) | Q(vehicle__in=self.alone))

    def messages(self) -> QuerySet[Message]:
        """Sent to an address that is theirs alone, or about what is theirs alone."""
        return Message.objects.annotate(to_lower=Lower("to")).filter(
            Q(to_lower__in=self.addresses()) | Q(about__in=self._abouts())
        )

    def addresses(self) -> set[str]:
        """Mail addresses in lower case and telephone numbers that are theirs alone."""
        theirs = contacts(Party.objects.filter(pk__in=self.parties))
        return theirs - contacts(not_erased(Party.objects.exclude(pk__in=self.parties)), among=theirs)

    def _abouts(self) -> list[str]:
        checks = Check.objects.filter(job__in=self.jobs)
        codes = OneTimeCode.objects.filter(party__in=self.parties)
        uids = Booking.objects.filter(check_due__in=checks).values_list("uid", flat=True)
        return [
            *(f"certificate:{pk}" for pk in self.certificates),
            *(f"claim:{pk}" for pk in self.claims),
            *(f"check:{pk}" for pk in ids(checks)),
            *(f"one-time-code:{pk}" for pk in ids(codes)),
            *(f"booking:{uid.hex}" for uid in uids.distinct()),
        ]


def ids(rows: QuerySet[Any], field: str = "pk") -> Ids:
    return frozenset(rows.order_by().values_list(field, flat=True))


def others_on(vehicles: Ids, parties: Collection[int]) -> QuerySet[Holding]:
    """Somebody else, whose data are still there, stands or stood to the vehicle."""
    erased = Erasure.objects.filter(erased_at__isnull=False).values("party")
    return Holding.objects.filter(vehicle__in=vehicles).exclude(party__in=parties).exclude(party__in=erased)


def not_erased(rows: QuerySet[Party]) -> QuerySet[Party]:
    return rows.exclude(pk__in=Erasure.objects.filter(erased_at__isnull=False).values("party"))


def contacts(rows: QuerySet[Party], among: set[str] | None = None) -> set[str]:
    found = rows.annotate(mail=Lower("email"))
    if among is not None:
        found = found.filter(Q(mail__in=among) | Q(telephone__in=among))
    return {each for pair in found.values_list("mail", "telephone") for each in pair if each}
