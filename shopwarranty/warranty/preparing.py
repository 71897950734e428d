"""Certificates before anybody has them: number, snapshot, checks, PDF. Slow, and outside any transaction."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from django.conf import settings
from django.utils.translation import get_language, override
from django.utils.translation import gettext as _

from shopwarranty.jobs.models import Job, Party, Vehicle
from shopwarranty.jobs.record import load_record, party_record
from shopwarranty.jobs.record_parts import JobRecord
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.history import next_number
from shopwarranty.shops.models import Shop
from shopwarranty.warranty.cover import CoverDates
from shopwarranty.warranty.disclosures import profile_of
from shopwarranty.warranty.numbers import make_number

from . import snapshot_parts as parts
from .certificate_checks import check, unread_texts
from .certificate_pdf import render
from .models import Certificate, PlanVersion
from .promises import NOTHING_EARLIER, Earlier
from .public_code import new_code
from .refusals import (
    LawAsksFor,
    NoPublicAddress,
    NotACustomersVehicle,
    NothingDiffers,
    PlanNotPublished,
    TextsUnread,
    VinToRead,
)
from .signing import sign
from .snapshot import Built, Terms, build_snapshot

LOCAL = "http://localhost:8000"


@dataclass(frozen=True, slots=True)
class PreparedCertificate:
    """Snapshot and stored PDF of a certificate nobody has yet; `predecessor` is what it would replace."""

    built: Built
    job_id: int
    holder_id: int
    pdf: stored_bytes.StoredBytes
    predecessor: Certificate | None = None

    @property
    def snapshot(self) -> parts.Snapshot:
        return self.built.snapshot


@dataclass(frozen=True, slots=True)
class ReadRecord:
    """A record and the language that its names are in."""

    record: JobRecord
    language: str | None


def record_in_language(job: Job, read: ReadRecord | None) -> JobRecord:
    """What was read already, if its names are in the certificate's language; else read anew."""
    if read is not None and read.language == get_language():
        return read.record
    return load_record(job)


def prepare_certificate(
    *,
    job: Job,
    plan_version: PlanVersion,
    handed_over_on: date,
    now: datetime,
    language: str = "",
    legal_profile: str = "",
    code: Callable[[], str] = new_code,
    read: ReadRecord | None = None,
) -> PreparedCertificate:
    """Reserves a number, builds the snapshot, renders and stores the PDF. Call outside any transaction.

    Language is the plan's and legal profile the shop's unless chosen here. Raises NoHolder, NothingToCertify,
    or one of the refusals of this room. `read`: what was read of the job just now.
    """
    shop = job.shop
    with override(language or plan_version.language):
        record = record_in_language(job, read)
        must_be_certifiable(record, shop, plan_version)
        number = reserve_number(shop, now)
        terms = terms_for(
            shop,
            plan_version,
            number=number,
            code=code(),
            language=language or plan_version.language,
            legal_profile=legal_profile,
            issued_at=now,
            handed_over_on=handed_over_on,
        )
        return finished(record, shop, terms, None)


def preview_of(
    *,
    job: Job,
    plan_version: PlanVersion,
    handed_over_on: date,
    now: datetime,
    language: str = "",
    read: ReadRecord | None = None,
) -> Built:
    """The snapshot as it would be issued now, without number and code. Writes nothing."""
    with override(language or plan_version.language):
        record = record_in_language(job, read)
        terms = terms_for(
            job.shop,
            plan_version,
            number=_("given at issue"),
            code="",
            language=language or plan_version.language,
            legal_profile="",
            issued_at=now,
            handed_over_on=handed_over_on,
        )
        return build_snapshot(record, job.shop, terms)


def prepare_edition(
    *,
    certificate: Certificate,
    now: datetime,
    handed_over_on: date | None = None,
    plan_version: PlanVersion | None = None,
    holder: Party | None = None,
    code: Callable[[], str] = new_code,
) -> PreparedCertificate:
    """The next edition of a certificate: a correction, or panels finished later. Same number, new code.

    Film pieces that were covered keep their dates unless the handover day itself moves; new ones are covered
    from today. It names `holder`, else whoever holds the vehicle. Raises NothingDiffers when it would say the
    same again.
    """
    shop, job = certificate.shop, certificate.job
    old = parts.read_snapshot(certificate.snapshot)
    moved = handed_over_on is not None and handed_over_on != old.handed_over_on
    with override(certificate.language):
        record = named(load_record(job), holder)
        version = plan_version or certificate.plan_version
        must_be_certifiable(record, shop, version)
        day = handed_over_on or old.handed_over_on
        terms = terms_for(
            shop,
            version,
            number=certificate.number,
            code=code(),
            language=certificate.language,
            legal_profile=certificate.legal_profile,
            issued_at=now,
            handed_over_on=day,
        )
        terms = replace(
            terms,
            edition=certificate.edition + 1,
            replaces=parts.Earlier(certificate.number, certificate.edition, certificate.issued_on),
            starts_on=day if moved else max(day, terms.issued_at.astimezone(shop.zone).date()),
            earlier=NOTHING_EARLIER if moved else earlier_of(certificate),
        )
        built = build_snapshot(record, shop, terms)
        if says_the_same(old, built.snapshot):
            raise NothingDiffers
        return finished(record, shop, terms, certificate, built)


def named(record: JobRecord, holder: Party | None) -> JobRecord:
    return record if holder is None else replace(record, holder=party_record(holder))


def says_the_same(old: parts.Snapshot, new: parts.Snapshot) -> bool:
    """But for what every edition has of its own: code, address, edition, moment."""
    own: dict[str, Any] = {"code": "", "url": "", "edition": 0, "replaces": None}
    own |= {"issued_at": old.issued_at, "issued_on": old.issued_on}
    return replace(old, **own) == replace(new, **own)


def earlier_of(certificate: Certificate) -> Earlier:
    rows = certificate.covers.values_list("piece", "line", "starts_on", "last_day")
    return Earlier({(piece, line): CoverDates(first, last) for piece, line, first, last in rows})


def must_be_certifiable(record: JobRecord, shop: Shop, plan_version: PlanVersion) -> None:
    if record.kind != Job.Kind.CUSTOMER or record.vehicle.owned != Vehicle.Owned.CUSTOMER:
        raise NotACustomersVehicle
    if record.vehicle.vin_kind == Vehicle.VinKind.TO_READ:
        raise VinToRead
    if plan_version.published_at is None:
        raise PlanNotPublished
    public_base(shop)


def public_base(shop: Shop) -> str:
    """Where the code leads to. Only a demonstration may do without https. Raises NoPublicAddress."""
    address = (shop.public_url or settings.PUBLIC_URL).rstrip("/")
    if address.startswith("https://"):
        return address
    if shop.is_demo:
        return address or LOCAL
    raise NoPublicAddress


def reserve_number(shop: Shop, now: datetime) -> str:
    """The next number of the year in the shop's zone; a restored shop counts in a series of its own."""
    year = now.astimezone(shop.zone).year
    running = next_number(f"certificate:{year % 100:02d}{shop.number_series}")
    return make_number(prefix=shop.certificate_prefix, year=year, running=running, series=shop.number_series)


def terms_for(
    shop: Shop,
    plan_version: PlanVersion,
    *,
    number: str,
    code: str,
    language: str,
    legal_profile: str,
    issued_at: datetime,
    handed_over_on: date,
) -> Terms:
    return Terms(
        number=number,
        code=code,
        url=f"{public_base(shop)}/certificate/{number}/{code}/" if code else "",
        plan_version=plan_version,
        profile=profile_of(legal_profile or shop.legal_profile, country=shop.country),
        language=language,
        issued_at=issued_at,
        handed_over_on=handed_over_on,
        starts_on=handed_over_on,
    )


def finished(
    record: JobRecord,
    shop: Shop,
    terms: Terms,
    predecessor: Certificate | None,
    built: Built | None = None,
) -> PreparedCertificate:
    """Checks the real text, then prints it. File first: a row never names bytes that are not there."""
    built = built or build_snapshot(record, shop, terms)
    blocking = tuple(item for item in check(built.snapshot) if item.blocks)
    if blocking:
        raise LawAsksFor(blocking)
    unread = unread_texts(built.snapshot)
    if unread and not shop.is_demo:
        raise TextsUnread(unread)
    assert record.holder is not None
    printed = render(built.snapshot, logo=logo_of(shop))
    pdf = stored_bytes.keep(sign(printed, shop=shop, now=terms.issued_at))
    return PreparedCertificate(built, record.id, record.holder.id, pdf, predecessor)


def logo_of(shop: Shop) -> bytes:
    return stored_bytes.read(shop.logo_sha256) if shop.logo_sha256 else b""
