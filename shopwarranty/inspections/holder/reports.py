"""What a holder sends in about an edge, kept apart until the desk has looked at it, and what comes of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from hashlib import sha256
from typing import Final
from uuid import UUID, uuid5

from django.core.files.uploadedfile import UploadedFile
from django.db import IntegrityError, transaction
from django.db.models import Count, Sum
from django.utils.translation import gettext as _

from shopwarranty.jobs import photos
from shopwarranty.jobs.clean_photo import PhotoRefused
from shopwarranty.jobs.models import HolderLink, Job, PanelWork, Photo, Place
from shopwarranty.shops.history import Actor, StaleState, move_state

from ..actions import start_visit
from ..actions.refusals import CheckRefusal, ReasonNeeded
from ..models import HolderReport, ReportPhoto, Visit

MOST_PHOTOS: Final = 20
MOST_BYTES: Final = 60 * 1024 * 1024
PHOTOS_AT_ONCE: Final = 6
REPORTS_A_DAY: Final = 10
State = HolderReport.State


class TooManyReports(Exception):
    """More in a day than anybody has edges to tell of."""


class NoRoom(Exception):
    """No more photos by this link."""


class ReportSettled(CheckRefusal):
    """Somebody has accepted it or put it aside already."""


class NoJobNamed(CheckRefusal):
    """The vehicle has several jobs, and nobody said which film it is about."""


@dataclass(frozen=True, slots=True)
class Told:
    """What the holder says. `since`, `until`: the days between which it began, as far as he can say."""

    panel: str = ""
    place: Place | None = None
    words: str = ""
    since: date | None = None
    until: date | None = None
    since_words: str = ""


@dataclass(frozen=True, slots=True)
class PhotosKept:
    """How many were kept, and for each other file why not, in words."""

    kept: int
    refused: tuple[str, ...]


def send_report(*, link: HolderLink, told: Told, sent_as: UUID, now: datetime) -> HolderReport:
    """Kept once however often the form is sent. Raises TooManyReports."""
    there = HolderReport.objects.filter(sent_as=sent_as, link=link).first()
    if there is not None:
        return there
    job = told.place.piece.panel_work.job if told.place else _job_with(link, told.panel)
    try:
        with transaction.atomic():
            _must_have_room(link, now)
            report: HolderReport = HolderReport.objects.create(
                vehicle=link.vehicle,
                job=job,
                party=link.party,
                link=link,
                sent_as=sent_as,
                panel=told.panel,
                place=told.place,
                words=told.words,
                since_when=told.since,
                since_until=told.until,
                since_when_words=told.since_words,
                sent_at=now,
            )
    except IntegrityError:
        return HolderReport.objects.get(sent_as=sent_as, link=link)
    return report


def _must_have_room(link: HolderLink, now: datetime) -> None:
    """Counted with the link held, so that several sent at once do not get past the count."""
    _hold(link)
    of_today = HolderReport.objects.filter(link=link, sent_at__gt=now - timedelta(days=1))
    if of_today.count() >= REPORTS_A_DAY:
        raise TooManyReports


def _hold(link: HolderLink | None) -> None:
    if link is not None:
        HolderLink.objects.select_for_update().get(pk=link.pk)


def _job_with(link: HolderLink, panel: str) -> Job | None:
    """The job that put film on the panel, if it is only one; of the vehicle, if it has only one."""
    jobs = Job.objects.filter(vehicle=link.vehicle)
    with_panel = jobs.filter(panels__panel=panel) if panel else jobs
    found = list(with_panel.distinct()[:2])
    return found[0] if len(found) == 1 else None


def add_photos(*, report: HolderReport, files: Sequence[UploadedFile], now: datetime) -> PhotosKept:
    """Through the same cleaning as every photo. They belong to the vehicle alone until somebody accepts.

    Capped per link, in number and in bytes as kept.
    """
    kept, refused = 0, []
    for number, file in enumerate(files):
        name = file.name or _("The photo")
        try:
            if number >= PHOTOS_AT_ONCE or not has_room(report.link, file.size or 0):
                raise NoRoom
            _keep(report, number, file.read(), now)
            kept += 1
        except NoRoom:
            refused.append(_no_room_words(name))
        except PhotoRefused as error:
            refused.append(photos.refusal_words(error, name))
    return PhotosKept(kept, tuple(refused))


def _no_room_words(name: str) -> str:
    words = _("%(name)s was not kept: there is no room for more photos here. Call us, and we find a way.")
    return words % {"name": name}


def has_room(link: HolderLink | None, length: int) -> bool:
    """Whether one more photo of that many bytes may come by this link."""
    of_link = ReportPhoto.objects.filter(report__link=link)
    taken = of_link.aggregate(size=Sum("photo__length"), count=Count("pk"))
    return bool(taken["count"] < MOST_PHOTOS and (taken["size"] or 0) + length <= MOST_BYTES)


def _keep(report: HolderReport, number: int, sent: bytes, now: datetime) -> None:
    """Cleaned without holding anything; then counted once more with the link held, for several at once.

    The same file of the same form is the same photo, should the form come twice.
    """
    nobody = Actor(who="")
    subject = photos.Subject(report.vehicle)
    uid = uuid5(report.sent_as, f"{number} {sha256(sent).hexdigest()}") if report.sent_as else None
    photo = photos.add_photo(
        sent=sent, subject=subject, stage=Photo.Stage.REPORT, actor=nobody, now=now, uid=uid
    )
    with transaction.atomic():
        _hold(report.link)
        if ReportPhoto.objects.filter(report=report, photo=photo).exists():
            return
        fits = has_room(report.link, photo.length)
        if fits:
            ReportPhoto.objects.create(report=report, photo=photo)
        else:
            Photo.objects.filter(pk=photo.pk).update(set_aside_at=now)
    if not fits:
        raise NoRoom


@transaction.atomic
def accept_report(
    *, report: HolderReport, job: Job | None, actor: Actor, now: datetime, today: date
) -> Visit:
    """It becomes a visit by photo, in which each place is answered by itself and no other is ever clean.

    The photos now belong to the job and its panel. Raises ReportSettled, NoJobNamed, or what `start_visit`
    raises.
    """
    of = report.job or job
    if of is None or of.vehicle_id != report.vehicle_id:
        raise NoJobNamed
    zone = report.shop.zone
    visit = start_visit(
        job=of,
        origin=Visit.Origin.DEFECT,
        actor=actor,
        now=now,
        today=today,
        happened_on=report.sent_at.astimezone(zone).date(),
        by_photo=True,
        since_when=report.since_when,
        since_when_words=report.since_when_words,
        note=report.words,
    )
    _settle(report, State.ACCEPTED, actor, now, visit=visit, job=of)
    _hand_on_photos(report, of)
    return visit


@transaction.atomic
def set_report_aside(*, report: HolderReport, why: str, actor: Actor, now: datetime) -> None:
    """Read, and nothing for us to look at. Kept with its photos. Raises ReasonNeeded or ReportSettled."""
    if not why.strip():
        raise ReasonNeeded
    _settle(report, State.SET_ASIDE, actor, now, why=why, set_aside_why=why.strip()[:160])


@transaction.atomic
def take_report_up_again(*, report: HolderReport, actor: Actor, now: datetime) -> None:
    try:
        move_state(
            report,
            old=State.SET_ASIDE,
            new=State.WAITING,
            actor=actor,
            at=now,
            settled_at=None,
            settled_by=None,
            set_aside_why="",
        )
    except StaleState as stale:
        raise ReportSettled from stale


def _settle(
    report: HolderReport, state: str, actor: Actor, now: datetime, why: str = "", **more: object
) -> None:
    try:
        move_state(
            report,
            old=State.WAITING,
            new=state,
            actor=actor,
            at=now,
            why=why,
            settled_at=now,
            settled_by=actor.member,
            **more,
        )
    except StaleState as stale:
        raise ReportSettled from stale


def _hand_on_photos(report: HolderReport, job: Job) -> None:
    work = PanelWork.objects.filter(job=job, panel=report.panel).first() if report.panel else None
    sent = Photo.objects.filter(pk__in=report.photos.values("photo"))
    sent.update(job=job, panel_work=work, place=report.place)


def panel_work_of(report: HolderReport, visit: Visit) -> PanelWork | None:
    """Where the desk goes on: the panel the holder named."""
    if report.place_id is not None and report.place is not None:
        return report.place.piece.panel_work
    return PanelWork.objects.filter(job=visit.job, panel=report.panel).first() if report.panel else None
