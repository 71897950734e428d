"""Why a person's data must stay, and until when. The same few queries for one person or for thousands."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from django.db.models import Q
from django.utils.translation import gettext as _

from shopwarranty.claims.models import Claim
from shopwarranty.jobs.models import Holding, Job
from shopwarranty.shops.models import Shop
from shopwarranty.warranty.models import Certificate, Transfer
from shopwarranty.web.formats import full_date

from ..models import Retention
from .keeping import USUAL, Limitation

CERTIFICATE, JOB, CLAIM, OPEN_JOB, OPEN_CLAIM = "certificate", "job", "claim", "open_job", "open_claim"


@dataclass(frozen=True, slots=True)
class Reason:
    """`what` keeps a record, named as the shop names it; `last_day` is None while nobody can say."""

    what: str
    name: str
    last_day: date | None

    def as_json(self) -> list[str | None]:
        return [self.what, self.name, self.last_day.isoformat() if self.last_day else None]

    @classmethod
    def from_json(cls, said: list[str | None]) -> "Reason":
        what, name, day = said
        return cls(str(what), str(name), date.fromisoformat(day) if day else None)

    def words(self, shop: Shop) -> str:
        until = full_date(self.last_day, shop) if self.last_day else ""
        return self._sentences()[self.what] % {"name": self.name, "day": until}

    @staticmethod
    def _sentences() -> dict[str, str]:
        return {
            CERTIFICATE: _("Certificate %(name)s: what it promises can be claimed until %(day)s."),
            JOB: _("Job %(name)s: rights under law about the work can be claimed until %(day)s."),
            CLAIM: _("Claim %(name)s: its outcome can be contested until %(day)s."),
            OPEN_JOB: _("Job %(name)s is not handed over yet."),
            OPEN_CLAIM: _("Claim %(name)s is not closed yet."),
        }


@dataclass(frozen=True, slots=True)
class Standing:
    reasons: tuple[Reason, ...] = ()

    @property
    def is_open(self) -> bool:
        """Something is still going on, so that no day can be named."""
        return any(reason.last_day is None for reason in self.reasons)

    @property
    def last_day(self) -> date | None:
        """The last day on which the data are needed; None: not needed, or still open."""
        days = [reason.last_day for reason in self.reasons if reason.last_day]
        return None if self.is_open or not days else max(days)


NOTHING: Final = Standing()


def limitation_of(shop: Shop) -> Limitation:
    row = Retention.objects.first()
    return Limitation(row.years_after, row.from_year_end) if row else USUAL[shop.legal_profile]


def standings(parties: Collection[int], shop: Shop, today: date) -> dict[int, Standing]:
    """By person; only what still keeps their data. In the shop's scope."""
    limit = limitation_of(shop)
    found: dict[int, list[Reason]] = {}
    for party, reason in (*promises(parties, limit), *claims(parties, limit, shop), *jobs(parties, limit)):
        if reason.last_day is None or reason.last_day >= today:
            found.setdefault(party, []).append(reason)
    return {party: Standing(tuple(reasons)) for party, reasons in found.items()}


def promises(parties: Collection[int], limit: Limitation) -> Iterator[tuple[int, Reason]]:
    """Certificates made out to them, and those that passed from or to them."""
    certificates = Certificate.objects.filter(holder__in=parties)
    for party, name, day in certificates.order_by("pk").values_list("holder", "number", "last_day"):
        yield party, Reason(CERTIFICATE, name, limit.last_day(day))
    sales = Transfer.objects.filter(Q(from_party__in=parties) | Q(to_party__in=parties))
    for one, other, name, day in sales.values_list(
        "from_party", "to_party", "certificate__number", "certificate__last_day"
    ):
        for party in {one, other} & set(parties):
            yield party, Reason(CERTIFICATE, name, limit.last_day(day))


def claims(parties: Collection[int], limit: Limitation, shop: Shop) -> Iterator[tuple[int, Reason]]:
    rows = Claim.objects.filter(Q(claimant__in=parties) | Q(certificate__holder__in=parties))
    fields = ("claimant", "certificate__holder", "number", "state", "state_since")
    for claimant, holder, name, state, since in rows.values_list(*fields):
        closed = state == Claim.State.CLOSED
        last_day = limit.last_day(since.astimezone(shop.zone).date()) if closed else None
        for party in {claimant, holder} & set(parties):
            yield party, Reason(CLAIM if closed else OPEN_CLAIM, name, last_day)
    yield from open_claims_of_nobody(parties)


def open_claims_of_nobody(parties: Collection[int]) -> Iterator[tuple[int, Reason]]:
    """Whoever stands or stood to the vehicle may be the one whom its outcome concerns."""
    rows = Claim.objects.filter(claimant=None, certificate=None).exclude(state=Claim.State.CLOSED)
    held = rows.filter(vehicle__holdings__party__in=parties).order_by("pk")
    for party, name in held.values_list("vehicle__holdings__party", "number").distinct():
        if party in parties:
            yield party, Reason(OPEN_CLAIM, name, None)


def jobs(parties: Collection[int], limit: Limitation) -> Iterator[tuple[int, Reason]]:
    """Work on a vehicle while they stood to it: handed over, or still going on."""
    held: dict[int, list[Any]] = {}
    for row in Holding.objects.filter(party__in=parties):
        held.setdefault(row.vehicle_id, []).append(row)
    rows = Job.objects.filter(vehicle__in=held)
    for vehicle, name, state, day in rows.values_list("vehicle", "ref", "state", "handed_over_on"):
        going_on = day is None or state == Job.State.OPEN
        for holding in held[vehicle]:
            if within(holding, day):
                last_day = None if day is None else limit.last_day(day)
                yield holding.party_id, Reason(OPEN_JOB if going_on else JOB, name, last_day)


def within(holding: Holding, day: date | None) -> bool:
    """`day` None: still going on, which concerns whoever stands to the vehicle today."""
    if day is None:
        return holding.until is None
    return holding.since <= day and (holding.until is None or day <= holding.until)
