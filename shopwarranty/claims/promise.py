"""Which promise counts: the certificate and the cover lines in force on the day of the first report."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Q
from django.utils.translation import gettext as _

from shopwarranty.jobs.models import Vehicle
from shopwarranty.shops.models import Shop
from shopwarranty.warranty.cover import in_cover
from shopwarranty.warranty.models import Certificate, Cover
from shopwarranty.warranty.snapshot_parts import Snapshot, read_snapshot
from shopwarranty.warranty.transfers import ended_by_sale

from .models import ClaimedDefect


@dataclass(frozen=True, slots=True)
class LineInForce:
    """One cover line for the piece. `about_kind` None: what is wrong is not known, or the line names none."""

    line_id: int
    title: str
    warrantor: str
    remedy: str
    first_day: date
    last_day: date
    in_time: bool
    about_kind: bool | None

    @property
    def covers(self) -> bool:
        return self.in_time and self.about_kind is not False


@dataclass(frozen=True, slots=True)
class Promise:
    """`certificate` None: no promise of ours was in force. `sold_on`: cover had ended then, by its terms."""

    certificate: Certificate | None
    snapshot: Snapshot | None
    lines: tuple[LineInForce, ...] = ()
    sold_on: date | None = None

    @property
    def covering(self) -> tuple[LineInForce, ...]:
        return () if self.sold_on else tuple(line for line in self.lines if line.covers)


NO_PROMISE = Promise(None, None)


def certificates_on(vehicle: Vehicle, moment: datetime) -> list[Certificate]:
    """In force at that moment. What was reported before a late first edition counts under that one."""
    rows = list(
        Certificate.objects.filter(vehicle=vehicle).select_related("shop", "job").order_by("issued_at")
    )
    in_force = [row for row in rows if row.issued_at <= moment and not gone(row, moment)]
    jobs = {row.job_id for row in in_force}
    began = {row.job_id for row in rows if row.issued_at <= moment}
    first_ones = [row for row in rows if row.job_id not in jobs | began and row.edition == 1]
    return [*in_force, *first_ones]


def gone(row: Certificate, moment: datetime) -> bool:
    ended = row.replaced_at or row.withdrawn_at
    return ended is not None and ended <= moment


def certificate_on(vehicle: Vehicle, moment: datetime) -> Certificate | None:
    """The one in force, when there is exactly one; with several, the place says which."""
    found = certificates_on(vehicle, moment)
    return found[0] if len(found) == 1 else None


def promise_for(item: ClaimedDefect) -> Promise:
    """What was promised for this place on the day of the first report. A fixed number of queries."""
    claim, moment = item.claim, item.claim.first_reported_at
    found = certificates_on(claim.vehicle, moment)
    if item.place is not None:
        job = item.place.piece.panel_work.job_id
        found = [row for row in found if row.job_id == job]
    if not found or item.is_ours is False:
        return NO_PROMISE
    certificate = found[0]
    snapshot = read_snapshot(certificate.snapshot)
    day = moment.astimezone(claim.shop.zone).date()
    sold = ended_by_sale([certificate]).get(certificate.pk)
    sold_on = sold if sold is not None and day > sold else None
    return Promise(certificate, snapshot, lines_for(item, certificate, snapshot, claim.shop), sold_on)


def lines_for(
    item: ClaimedDefect, certificate: Certificate, snapshot: Snapshot, shop: Shop
) -> tuple[LineInForce, ...]:
    if item.place is None:
        return ()
    shown = {promise.line_id: promise for promise in snapshot.promises}
    rows = Cover.objects.filter(certificate=certificate, piece=item.place.piece_id).select_related("line")
    kind = item.defect.kind if item.defect else None
    moment = item.claim.first_reported_at
    return tuple(
        LineInForce(
            line_id=row.line_id,
            title=row.line.title,
            warrantor=shown[row.line_id].warrantor if row.line_id in shown else shop.name,
            remedy=row.line.remedy,
            first_day=row.starts_on,
            last_day=row.last_day,
            in_time=in_cover(row.last_day, moment, shop.zone),
            about_kind=kind in row.line.defect_kinds if kind and row.line.defect_kinds else None,
        )
        for row in rows.order_by("line__position", "pk")
    )


def clauses_of(promise: Promise) -> tuple[str, ...]:
    """Exclusions and duties as they stand on the certificate; a duty excludes only the damage it caused."""
    if promise.snapshot is None:
        return ()
    terms = promise.snapshot.terms
    return tuple(dict.fromkeys((*terms.exclusions, *terms.duties, *terms.aftercare)))


def open_places(vehicle: Vehicle) -> Q:
    """Places of film that lies on the vehicle, or lay there."""
    return Q(piece__panel_work__job__vehicle=vehicle, piece__panel_work__finished_at__isnull=False)


def listed_words() -> str:
    """What the certificate itself says about film that is not on it."""
    return _("Only what is listed here is covered; panels without film are not.")
