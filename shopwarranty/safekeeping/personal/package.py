"""Everything a shop keeps about one person, as one ZIP: a JSON file, certificates, letters and photos.

Notes about the work are in it; names of the shop's people and of other customers are not.
"""

import json
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import IO, Any, Final

from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import Q, QuerySet

from shopwarranty.claims.models import Claim, Decision, Letter
from shopwarranty.inspections.models import Booking, Check, ContactAttempt, HolderReport, Visit
from shopwarranty.jobs.models import HolderLink, Holding, Job, Party, Vehicle
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.models import Change
from shopwarranty.trials.models import Consent
from shopwarranty.warranty.models import Certificate, Transfer

from ..models import Erasure
from .belonging import Belonging
from .erasing import GONE

FORMAT: Final = "shopwarranty-person-1"


@dataclass(frozen=True, slots=True)
class Section:
    """One kind of record: the rows, and the columns that go out."""

    name: str
    rows: QuerySet[Any]
    columns: str

    def listed(self) -> list[dict[str, Any]]:
        return list(self.rows.order_by("pk").values(*self.columns.split()))


@dataclass(frozen=True, slots=True)
class File:
    name: str
    sha256: str


def write_package(*, party: Party, file: IO[bytes], now: datetime) -> int:
    """Gives how many files it holds beside the JSON. A damaged one is named in the JSON."""
    about = Belonging.of([party.pk])
    damaged: list[str] = []
    count = 0
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as package:
        for each in files(about):
            try:
                package.writestr(each.name, stored_bytes.read(each.sha256), zipfile.ZIP_STORED)
                count += 1
            except stored_bytes.DamagedFile:
                damaged.append(each.name)
        said = {
            "format": FORMAT,
            "shop": party.shop.name,
            "taken_out_at": now,
            **{section.name: section.listed() for section in sections(about)},
            "files_that_cannot_be_read": damaged,
        }
        text = json.dumps(said, cls=DjangoJSONEncoder, indent=1, ensure_ascii=False)
        package.writestr("person.json", text)
    return count


def sections(about: Belonging) -> Iterator[Section]:
    yield from what_they_are(about)
    yield from what_was_promised(about)
    yield from what_was_looked_at(about)
    yield from what_was_written(about)


def what_they_are(about: Belonging) -> Iterator[Section]:
    parties = about.parties
    contact = "kind name email telephone address language is_consumer note"
    since = "reminders_stopped_at marketing_agreed_at email_refused_at restricted_at"
    yield Section("person", Party.objects.filter(pk__in=parties), f"{contact} {since}")
    holdings = Holding.objects.filter(party__in=parties)
    yield Section("stood_to_vehicles", holdings, "vehicle_id role since until")
    vehicles = Vehicle.objects.filter(pk__in=about.vehicles)
    yield Section("vehicles", vehicles, "id make model year colour body_style vin vin_kind")
    yield Section("plates", about.plates(), "vehicle_id text since until")
    links = HolderLink.objects.filter(party__in=parties)
    yield Section("private_addresses", links, "vehicle_id made_at expires_at revoked_at last_used_at")
    yield Section(
        "erasure", Erasure.objects.filter(party__in=parties), "asked_on asked_how erase_on why_kept"
    )


def what_was_promised(about: Belonging) -> Iterator[Section]:
    jobs = Job.objects.filter(pk__in=about.jobs)
    yield Section("jobs", jobs, "id ref vehicle_id state started_at handed_over_on note")
    papers = Certificate.objects.filter(pk__in=about.certificates)
    yield Section("certificates", papers, "number edition code state issued_on starts_on last_day snapshot")
    sales = Transfer.objects.filter(Q(from_party__in=about.parties) | Q(to_party__in=about.parties))
    yield Section("transfers", sales, "certificate__number on allowed_by_terms odometer note")
    consents = Consent.objects.filter(party__in=about.parties)
    yield Section("consents", consents, "trial__number words withdrawn_at")


def what_was_looked_at(about: Belonging) -> Iterator[Section]:
    checks = Check.objects.filter(job__in=about.jobs)
    yield Section("checks", checks, "id job_id due_on window_from window_to state state_why")
    bookings = Booking.objects.filter(check_due__in=checks)
    yield Section("bookings", bookings, "check_due_id starts_local zone minutes state by_holder booked_at")
    visits = Visit.objects.filter(pk__in=about.visits)
    more = "since_when since_when_words odometer_km signed_name note"
    yield Section("visits", visits, f"id job_id origin happened_on state {more}")
    yield Section("photos", about.photos(), "id job_id stage taken_at added_at caption")
    reports = HolderReport.objects.filter(party__in=about.parties)
    yield Section("reports", reports, "job_id panel words since_when since_when_words state sent_at")


def what_was_written(about: Belonging) -> Iterator[Section]:
    columns = "number state first_reported_at received_at channel wanted words holder_said"
    yield Section("claims", Claim.objects.filter(pk__in=about.claims), columns)
    decisions = Decision.objects.filter(item__claim__in=about.claims)
    yield Section("decisions", decisions, "item__claim__number answer clause fact reason decided_at")
    letters = Letter.objects.filter(claim__in=about.claims)
    yield Section("letters", letters, "claim__number about to text sent_at")
    attempts = ContactAttempt.objects.filter(party__in=about.parties)
    yield Section("calls", attempts, "at how result note")
    yield Section("messages", about.messages(), "channel to subject text state put_at settled_at")
    changes = Change.objects.filter(table=Party._meta.db_table, row__in=about.parties)
    yield Section("history", changes, "at act before after why")


def files(about: Belonging) -> Iterator[File]:
    papers = Certificate.objects.filter(pk__in=about.certificates).exclude(pdf_sha256="")
    for number, edition, sha256 in papers.values_list("number", "edition", "pdf_sha256"):
        yield File(f"certificates/{number}-{edition}.pdf", sha256)
    letters = Letter.objects.filter(claim__in=about.claims).exclude(pdf_sha256="")
    for pk, number, sha256 in letters.values_list("pk", "claim__number", "pdf_sha256"):
        yield File(f"letters/{number}-{pk}.pdf", sha256)
    signed = Visit.objects.filter(pk__in=about.visits).exclude(signature_sha256="")
    for pk, sha256 in signed.values_list("pk", "signature_sha256"):
        yield File(f"signatures/{pk}.jpg", sha256)
    for pk, sha256 in about.photos().exclude(sha256=GONE).order_by("pk").values_list("pk", "sha256"):
        yield File(f"photos/{pk}.jpg", sha256)


__all__ = ["FORMAT", "write_package"]
