"""Empties what is personal and keeps what the work teaches: panels, places, film, conditions, outcomes.

Frozen rows give their personal columns up only while a row of `Erasing` stands, in this transaction alone.
"""

from collections.abc import Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from django.db import transaction
from django.db.models import CharField, Q, Value
from django.db.models.functions import Cast, Concat, Lower
from django.utils import translation
from django.utils.translation import gettext as _

from shopwarranty.claims.models import Claim, ClaimedDefect, ClaimFact, Decision, Letter, MakerClaim, Proposal
from shopwarranty.inspections.models import Booking, Check, ContactAttempt, HolderReport, OneTimeCode, Visit
from shopwarranty.jobs.models import HolderLink, Holding, Job, PanelIntake, Party, Photo, Plate, Vehicle
from shopwarranty.outbox.models import MarkedAddress, Message
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Change, Erasing, Shop
from shopwarranty.shops.scope import required_shop_id
from shopwarranty.trials.models import Consent
from shopwarranty.warranty.models import Certificate, ReasonGiven, Transfer

from ..models import Erasure
from .belonging import Belonging, ids
from .files import throw_away

GONE: Final = "erased"  # stands where a hash stood: no stored file has that name
MAKER_CLAIM_OVER: Final = (MakerClaim.State.CREDITED, MakerClaim.State.REFUSED, MakerClaim.State.DROPPED)
NO_MAIL_ANY_MORE: Final = (Message.State.WAITING, Message.State.SENDING)


@dataclass(frozen=True, slots=True)
class Erased:
    people: int
    certificates: int
    photos: int
    messages: int


@transaction.atomic
def erase_rows(*, parties: Collection[int], actor: Actor, now: datetime) -> Erased:
    """Whoever calls holds them still, knows that nothing keeps them (`standing.standings`), and throws the
    files away once the rows are gone for good."""
    erased, files = empty_rows(parties, actor, now)
    Erasure.objects.filter(party__in=list(parties)[:1]).update(files_left=sorted(files))
    return erased


def throw_away_left() -> int:
    """Files of erased rows, after their transaction; what a crash left over goes the next time. In a shop's
    scope."""
    gone = 0
    for row in Erasure.objects.exclude(files_left=[]).only("files_left"):
        gone += throw_away(row.files_left)
        Erasure.objects.filter(pk=row.pk).update(files_left=[])
    return gone


@contextmanager
def opened(now: datetime) -> Iterator[None]:
    row = Erasing.objects.create(at=now)
    yield
    row.delete()


def empty_rows(parties: Collection[int], actor: Actor, now: datetime) -> tuple[Erased, set[str]]:
    about = Belonging.of(parties)
    with opened(now):
        sent, files = empty_messages(about, now)
        papers, certificates = empty_certificates(about, now)
        photos = ids(about.photos())
        files |= papers | empty_photos(about, now) | empty_claims(about) | empty_visits(about)
        empty_contacts(about, now)
        empty_history(about, photos)
        empty_vehicles(about)
    empty_parties(about)
    mark_erased(about, actor, now)
    return Erased(len(about.parties), certificates, len(photos), sent), files


def empty_messages(about: Belonging, now: datetime) -> tuple[int, set[str]]:
    """Their keys stay, so that nothing is told twice."""
    rows = about.messages()
    known = list(rows.values_list("pk", "attachments"))
    files = {file["sha256"] for _pk, attached in known for file in attached}
    found = Message.objects.filter(pk__in=[pk for pk, _attached in known])
    found.filter(state__in=NO_MAIL_ANY_MORE).update(state=Message.State.DROPPED, settled_at=now)
    found.update(to=GONE, to_name="", subject="", text="", html="", attachments=[], headers={}, error="")
    return len(known), files


def empty_certificates(about: Belonging, now: datetime) -> tuple[set[str], int]:
    """Number, dates, panels, film and promises stay; name, address, plate, VIN and the paper go.

    The hashes of what was issued stay too: a paper that the holder kept can still be told from a forgery.
    """
    rows = list(
        Certificate.objects.filter(pk__in=about.certificates).only("snapshot", "pdf_sha256", "vehicle")
    )
    files = {row.pdf_sha256 for row in rows if row.pdf_sha256}
    for row in rows:
        row.snapshot = without_person(row.snapshot, with_vehicle=row.vehicle_id in about.alone)
        row.pdf_sha256, row.pdf_length = "", 0
    Certificate.objects.bulk_update(rows, ["snapshot", "pdf_sha256", "pdf_length"], batch_size=200)
    Certificate.objects.filter(pk__in=about.certificates, holder_hidden_at=None).update(holder_hidden_at=now)
    sales = Transfer.objects.filter(Q(from_party__in=about.parties) | Q(to_party__in=about.parties))
    sales.update(note="", odometer="")
    ReasonGiven.objects.filter(job__in=about.jobs).update(reason=GONE)
    return files, len(rows)


def without_person(snapshot: dict[str, Any], *, with_vehicle: bool) -> dict[str, Any]:
    holder = {**snapshot["holder"], "name": GONE, "address": ""}
    vehicle = {**snapshot["vehicle"], "plate": "", "vin": ""} if with_vehicle else snapshot["vehicle"]
    return {**snapshot, "holder": holder, "vehicle": vehicle}


def empty_photos(about: Belonging, now: datetime) -> set[str]:
    rows = about.photos().exclude(sha256=GONE)
    files = {sha for pair in rows.values_list("sha256", "thumbnail_sha256") for sha in pair if sha}
    rows.update(
        sha256=GONE, thumbnail_sha256=GONE, original_sha256=GONE, marks=[], caption="", set_aside_at=now
    )
    return files


def empty_claims(about: Belonging) -> set[str]:
    """What was claimed, decided and under which clause stays; the words go."""
    claims, items = about.claims, ids(ClaimedDefect.objects.filter(claim__in=about.claims))
    Claim.objects.filter(pk__in=claims).update(wanted="", words="", holder_said="")
    ClaimedDefect.objects.filter(pk__in=items).update(words="")
    ClaimFact.objects.filter(item__in=items).update(words=GONE, seen_where=GONE)
    Decision.objects.filter(item__in=items).exclude(fact="").update(fact=GONE)
    Decision.objects.filter(item__in=items).update(reason=GONE)
    Proposal.objects.filter(item__in=items).update(reason=GONE)
    letters = Letter.objects.filter(claim__in=claims)
    files = set(letters.exclude(pdf_sha256="").values_list("pdf_sha256", flat=True))
    letters.update(to="", text="", pdf_sha256="")
    return files | empty_maker_claims(about)


def empty_maker_claims(about: Belonging) -> set[str]:
    """The paper to a film maker that named the VIN; while its outcome is open it is still needed."""
    over = MakerClaim.objects.filter(with_vin=True, state__in=MAKER_CLAIM_OVER).exclude(pdf_sha256="")
    named = over.filter(pk__in=ids(over.filter(pieces__piece__panel_work__job__in=about.jobs)))
    files = set(named.values_list("pdf_sha256", flat=True))
    named.update(pdf_sha256="")
    return files


def empty_visits(about: Belonging) -> set[str]:
    """On a vehicle that others stand to as well, only what carries this person's name."""
    own = Q(job__vehicle__in=about.vehicles, signed_name__in=about.names())
    visits = Visit.objects.filter(pk__in=ids(Visit.objects.filter(Q(pk__in=about.visits) | own)))
    files = set(visits.exclude(signature_sha256="").values_list("signature_sha256", flat=True))
    visits.update(signed_name="", signature_sha256="", since_when_words="", note="", odometer_km=None)
    waived = Check.objects.filter(job__in=about.jobs, state=Check.State.WAIVED)
    waived.exclude(state_why="").update(state_why=GONE)
    about.reports().update(words="", since_when_words="", set_aside_why="")
    shown = PanelIntake.objects.filter(panel_work__job__vehicle__in=about.vehicles)
    own = Q(panel_work__job__in=about.jobs) | Q(acknowledged_by__in=about.names())
    shown.filter(own).exclude(acknowledged_by="").update(acknowledged_by=GONE)
    return files


def empty_contacts(about: Belonging, now: datetime) -> None:
    """Private addresses end; codes and marks on addresses go."""
    HolderLink.objects.filter(party__in=about.parties, revoked_at=None).update(revoked_at=now)
    OneTimeCode.objects.filter(party__in=about.parties).delete()
    attempts = Q(party__in=about.parties) | Q(vehicle__in=about.alone)
    ContactAttempt.objects.filter(attempts).update(note="")
    Consent.objects.filter(party__in=about.parties).update(words=GONE)
    marked = MarkedAddress.objects.annotate(lower=Lower("address")).filter(lower__in=about.addresses())
    said = Change.objects.filter(table=MarkedAddress._meta.db_table, row__in=ids(marked))
    said.update(before={}, after={}, why="")
    marked.delete()


def empty_history(about: Belonging, photos: Collection[int]) -> None:
    """Who did what when stays; what was written before and after goes."""
    holdings = Holding.objects.filter(Q(party__in=about.parties) | Q(vehicle__in=about.alone))
    rows: tuple[tuple[Any, Collection[int]], ...] = (
        (Party, about.parties),
        (Vehicle, about.alone),
        (Plate, ids(about.plates())),
        (Holding, ids(holdings)),
        (Certificate, about.certificates),
        (Claim, about.claims),
        (Visit, about.visits),
        (Job, about.jobs),
        (Photo, photos),
        (HolderLink, ids(HolderLink.objects.filter(party__in=about.parties))),
        (HolderReport, ids(about.reports())),
        (Consent, ids(Consent.objects.filter(party__in=about.parties))),
        (ClaimedDefect, ids(ClaimedDefect.objects.filter(claim__in=about.claims))),
        (ClaimFact, ids(ClaimFact.objects.filter(item__claim__in=about.claims))),
        (PanelIntake, ids(PanelIntake.objects.filter(panel_work__job__in=about.jobs))),
        (Check, ids(Check.objects.filter(job__in=about.jobs))),
        (Booking, ids(Booking.objects.filter(check_due__job__in=about.jobs))),
    )
    wanted = Q()
    for model, pks in rows:
        wanted |= Q(table=model._meta.db_table, row__in=pks)
    Change.objects.filter(wanted).update(before={}, after={}, why="")
    names = about.names()
    shared = Change.objects.filter(table=Vehicle._meta.db_table, row__in=about.vehicles - about.alone)
    named = Q(before__party__in=names) | Q(after__party__in=names)
    shared.filter(named).update(before={}, after={}, why="")
    signed = Q(before__acknowledged_by__in=names) | Q(after__acknowledged_by__in=names)
    shown = Change.objects.filter(signed, table=PanelIntake._meta.db_table)
    shown.update(before={}, after={}, why="")
    Change.objects.filter(member=None, who__in=names).update(who=GONE)


def empty_vehicles(about: Belonging) -> None:
    """Make, model and body style stay: they say which panels there were. VIN and plate go."""
    vehicles = Vehicle.objects.filter(pk__in=about.alone)
    with_vin = vehicles.exclude(vin="")
    with_vin.update(vin="", vin_kind=Vehicle.VinKind.NONE, vin_reason=GONE)
    vehicles.update(note="")
    about.plates().update(text=GONE, searched="")
    Job.objects.filter(pk__in=about.jobs).update(note="")
    named = Q(pk__in=[])
    for name in about.names():
        named |= Q(note__icontains=name)
    shared = about.vehicles - about.alone
    Job.objects.filter(named, vehicle__in=shared).update(note="")
    Visit.objects.filter(pk__in=ids(Visit.objects.filter(named, job__vehicle__in=shared))).update(note="")


def empty_parties(about: Belonging) -> None:
    with translation.override(Shop.objects.get(pk=required_shop_id()).language):
        words = _("Erased person")
    Party.objects.filter(pk__in=about.parties).update(
        name=Concat(Value(f"{words} "), Cast("pk", CharField())),
        email="",
        telephone="",
        address="",
        note="",
        language="",
        marketing_agreed_at=None,
        represented_by=None,
        represented_from=None,
    )


def mark_erased(about: Belonging, actor: Actor, now: datetime) -> None:
    """Also those whose time was over and who never asked. Each act stands in the history."""
    known = set(Erasure.objects.filter(party__in=about.parties).values_list("party", flat=True))
    Erasure.objects.bulk_create(Erasure(party_id=pk, at=now) for pk in about.parties - known)
    rows = Erasure.objects.filter(party__in=about.parties)
    rows.update(erased_at=now, why_kept=[], asked_how="", erase_on=None)
    Party.objects.filter(pk__in=about.parties, restricted_at=None).update(restricted_at=now)
    Change.objects.bulk_create(
        Change(
            at=now, member=actor.member, who=actor.who, act="personal data erased",
            table=Party._meta.db_table, row=pk,
        )
        for pk in sorted(about.parties)
    )  # fmt: skip
