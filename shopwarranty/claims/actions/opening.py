"""A claim begins: received with its number, acknowledged, taken into assessment."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from shopwarranty.defects.models import Defect
from shopwarranty.inspections.models import Visit
from shopwarranty.jobs.models import Holding, Party, Photo, Place, Vehicle
from shopwarranty.shops.history import Actor, next_number, record_change
from shopwarranty.warranty.models import Certificate

from ..models import Claim, ClaimedDefect, ClaimPhoto
from ..promise import certificate_on
from ..refusals import Elsewhere, NothingReported, ReasonNeeded, ReportedLater
from ..stage_days import due_here
from .moving import move
from .telling import tell_received

State = Claim.State


@dataclass(frozen=True, slots=True)
class Reported:
    """One thing that is reported: in the holder's words, and where it is as far as that is known."""

    words: str = ""
    place: Place | None = None
    defect: Defect | None = None


@transaction.atomic
def open_claim(
    *,
    vehicle: Vehicle,
    items: Sequence[Reported],
    actor: Actor,
    now: datetime,
    channel: str = Claim.Channel.IN_PERSON,
    first_reported_at: datetime | None = None,
    claimant: Party | None = None,
    certificate: Certificate | None = None,
    visit: Visit | None = None,
    wanted: str = "",
    words: str = "",
    is_safety: bool | None = None,
    is_spreading: bool | None = None,
    photos: Sequence[Photo] = (),
    uid: uuid.UUID | None = None,
) -> Claim:
    """A claim with its number; the same `uid` twice opens it once.

    `first_reported_at` decides what was in cover and may lie before today (told by telephone, by a holder's
    page, found at a visit); now, when not given. The claimant is the holder unless somebody else is named.
    Raises NothingReported, ReportedLater or Elsewhere.
    """
    if uid is not None and (there := Claim.objects.filter(uid=uid).first()):
        return there
    guard(vehicle, items, certificate, photos, visit)
    first = reported_at(first_reported_at, now)
    claim: Claim = Claim.objects.create(
        uid=uid or uuid.uuid4(),
        number=f"C{next_number('claim'):04d}{vehicle.shop.number_series}",
        vehicle=vehicle,
        certificate=certificate or certificate_on(vehicle, first),
        claimant=claimant or holder_of(vehicle),
        first_reported_at=first,
        received_at=now,
        channel=channel,
        visit=visit,
        opened_by=actor.member,
        wanted=wanted.strip(),
        words=words.strip(),
        is_safety=is_safety,
        is_spreading=is_spreading,
        state_since=now,
        due_on=due_here(State.RECEIVED, now, vehicle.shop),
    )
    write_down(claim, items, photos)
    after = {"number": claim.number, "first reported": first, "channel": channel}
    record_change(row=claim, act="claim received", actor=actor, at=now, after=after)
    return claim


def write_down(claim: Claim, items: Sequence[Reported], photos: Sequence[Photo]) -> None:
    """What was reported, each with its place where one is known, and the photos that came with it."""
    for item in items:
        place = item.defect.place if item.defect else item.place
        ours = True if place else None
        ClaimedDefect.objects.create(
            claim=claim, place=place, defect=item.defect, words=item.words.strip(), is_ours=ours
        )
    ClaimPhoto.objects.bulk_create(ClaimPhoto(claim=claim, photo=photo) for photo in photos)


def guard(
    vehicle: Vehicle,
    items: Sequence[Reported],
    certificate: Certificate | None,
    photos: Sequence[Photo],
    visit: Visit | None,
) -> None:
    if not items or any(not (item.words.strip() or item.place or item.defect) for item in items):
        raise NothingReported
    places = [item.defect.place if item.defect else item.place for item in items]
    of = {place.piece.panel_work.job.vehicle_id for place in places if place}
    of |= {photo.vehicle_id for photo in photos}
    of |= {certificate.vehicle_id} if certificate else set()
    of |= {visit.job.vehicle_id} if visit else set()
    if of - {vehicle.pk}:
        raise Elsewhere


def reported_at(said: datetime | None, now: datetime) -> datetime:
    if said is not None and said > now:
        raise ReportedLater
    return said or now


def holder_of(vehicle: Vehicle) -> Party | None:
    rows = vehicle.holdings.filter(role=Holding.Role.HOLDER, until__isnull=True).select_related("party")
    found = rows.first()
    return found.party if found else None


@transaction.atomic
def acknowledge(*, claim: Claim, actor: Actor, now: datetime, how: str = "") -> None:
    """By mail with the number and the next step; where nobody can be written to, `how` says how it was done.

    Raises ReasonNeeded for an empty `how` where no mail can go, or NotAtThisStage.
    """
    if tell_received(claim, actor=actor, now=now) is None and not how.strip():
        raise ReasonNeeded
    move(claim, State.ACKNOWLEDGED, actor=actor, now=now, why=how.strip())


@transaction.atomic
def assess(
    *,
    claim: Claim,
    is_safety: bool | None,
    is_spreading: bool | None,
    note: str,
    actor: Actor,
    now: datetime,
) -> None:
    """The first look at it: is anybody in danger, does it spread. Raises NotAtThisStage."""
    more = {"is_safety": is_safety, "is_spreading": is_spreading}
    move(claim, State.IN_ASSESSMENT, actor=actor, now=now, why=note.strip(), **more)


@transaction.atomic
def correct_first_report(*, claim: Claim, at: datetime, why: str, actor: Actor, now: datetime) -> None:
    """It was reported earlier, or not so early; both moments stay in the history.

    Raises ReasonNeeded or ReportedLater.
    """
    if not why.strip():
        raise ReasonNeeded
    if at > claim.received_at:
        raise ReportedLater
    before, after = {"first reported": claim.first_reported_at}, {"first reported": at}
    Claim.objects.filter(pk=claim.pk).update(first_reported_at=at)
    claim.first_reported_at = at
    record_change(
        row=claim, act="first report", actor=actor, at=now, before=before, after=after, why=why.strip()
    )
