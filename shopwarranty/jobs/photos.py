"""Keeping photos: what was sent becomes clean bytes in storage and then a row."""

import logging
import threading
import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from shopwarranty.shops import stored_bytes
from shopwarranty.shops.having import shops_having
from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import every_shop

from .clean_photo import CleanPhoto, PhotoRefused, clean_photo, thumbnail_of
from .models import Job, PanelWork, Photo, Place, Vehicle

log = logging.getLogger(__name__)
OLDEST = timedelta(days=40 * 365)
A_PASS = 200
# A picture unpacked takes hundreds of megabytes: a process works on one at a time, whoever sends how many.
ONE_AT_A_TIME = threading.BoundedSemaphore(1)


@dataclass(frozen=True, slots=True)
class Subject:
    """What a photo shows, as far as known."""

    vehicle: Vehicle
    job: Job | None = None
    panel_work: PanelWork | None = None
    place: Place | None = None

    @classmethod
    def of_job(cls, job: Job) -> "Subject":
        return cls(job.vehicle, job)

    @classmethod
    def of_panel(cls, panel_work: PanelWork) -> "Subject":
        return cls(panel_work.job.vehicle, panel_work.job, panel_work)

    @classmethod
    def of_place(cls, place: Place) -> "Subject":
        panel_work = place.piece.panel_work
        return cls(panel_work.job.vehicle, panel_work.job, panel_work, place)


@dataclass(frozen=True, slots=True)
class Told:
    """What came along with the bytes about when it was taken: typed by somebody, or by the phone's file."""

    typed: datetime | None = None
    by_phone: datetime | None = None


def add_photo(
    *,
    sent: bytes,
    subject: Subject,
    stage: str,
    actor: Actor,
    now: datetime,
    uid: uuid.UUID | None = None,
    told: Told | None = None,
) -> Photo:
    """Raises PhotoRefused. The same uid twice stores once. Pictures are worked on outside the transaction."""
    if uid and (there := Photo.objects.filter(uid=uid).first()):
        return there
    with ONE_AT_A_TIME:
        clean = clean_photo(sent, max_bytes=settings.MAX_UPLOAD_BYTES, max_pixels=settings.MAX_PHOTO_PIXELS)
    taken_at, taken_from = when_taken(clean, told or Told(), now, subject.vehicle.shop.zone)
    kept = stored_bytes.keep(clean.content)
    with transaction.atomic():
        photo, _new = Photo.objects.get_or_create(
            uid=uid or uuid.uuid4(),
            defaults={
                "vehicle": subject.vehicle,
                "job": subject.job,
                "panel_work": subject.panel_work,
                "place": subject.place,
                "stage": stage,
                "sha256": kept.sha256,
                "length": kept.length,
                "original_sha256": clean.original_sha256,
                "width": clean.width,
                "height": clean.height,
                "taken_at": taken_at,
                "taken_from": taken_from,
                "added_at": now,
                "added_by": actor.member,
            },
        )
    return photo


def when_taken(clean: CleanPhoto, told: Told, now: datetime, zone: ZoneInfo) -> tuple[datetime | None, str]:
    """The camera's clock where it can be right, else what was typed, else the phone's file.

    Where none can be right, only "not later than the upload".
    """
    camera = clean.taken_at
    if camera is not None and camera.tzinfo is None:
        camera = camera.replace(tzinfo=zone)
    known = (
        (camera, Photo.TakenFrom.CAMERA),
        (told.typed, Photo.TakenFrom.TYPED),
        (told.by_phone, Photo.TakenFrom.PHONE),
    )
    for moment, source in known:
        if moment is not None and now - OLDEST < moment <= now + timedelta(minutes=10):
            return moment, source
    return None, Photo.TakenFrom.UPLOAD


def without_thumbnail() -> "QuerySet[Shop]":
    return shops_having(Photo.objects.filter(thumbnail_sha256=""))


def make_thumbnails(now: datetime) -> int:
    """A step of the tick: small pictures of photos that have none. A damaged one holds up no other."""
    made = 0
    with every_shop():
        for photo in Photo.objects.filter(thumbnail_sha256="").order_by("-pk")[:A_PASS]:
            made += _make_thumbnail(photo)
    return made


def _make_thumbnail(photo: Photo) -> bool:
    try:
        with ONE_AT_A_TIME:
            small = thumbnail_of(stored_bytes.read(photo.sha256))
    except (stored_bytes.DamagedFile, OSError):
        log.exception("photo %s has no thumbnail: its bytes cannot be read", photo.pk)
        return False
    kept = stored_bytes.keep(small)
    return bool(Photo.objects.filter(pk=photo.pk).update(thumbnail_sha256=kept.sha256))


class TimeNotPossible(Exception):
    """A photo cannot be taken after it was sent in."""


@transaction.atomic
def say_when_taken(*, photo: Photo, taken_at: datetime | None, actor: Actor, now: datetime) -> None:
    """As somebody types it; what the camera said stays in the history. Raises TimeNotPossible."""
    if taken_at is not None and not now - OLDEST < taken_at <= photo.added_at:
        raise TimeNotPossible
    before = {"taken_at": photo.taken_at, "taken_from": photo.taken_from}
    source = Photo.TakenFrom.UPLOAD if taken_at is None else Photo.TakenFrom.TYPED
    photo.taken_at, photo.taken_from, photo.version = taken_at, source, photo.version + 1
    photo.save(update_fields=["taken_at", "taken_from", "version"])
    after = {"taken_at": taken_at, "taken_from": source}
    record_change(row=photo, act="time of photo", actor=actor, at=now, before=before, after=after)


@transaction.atomic
def move_photo(
    *, photo: Photo, panel_work: PanelWork | None, place: Place | None, actor: Actor, now: datetime
) -> None:
    """To where it belongs; the history says where it was."""
    before = {"panel_work": photo.panel_work_id, "place": photo.place_id}
    photo.panel_work, photo.place, photo.version = panel_work, place, photo.version + 1
    photo.save(update_fields=["panel_work", "place", "version"])
    after = {"panel_work": photo.panel_work_id, "place": photo.place_id}
    record_change(row=photo, act="photo moved", actor=actor, at=now, before=before, after=after)


@transaction.atomic
def describe_photo(*, photo: Photo, caption: str, actor: Actor, now: datetime) -> None:
    before = {"caption": photo.caption}
    photo.caption, photo.version = caption, photo.version + 1
    photo.save(update_fields=["caption", "version"])
    record_change(
        row=photo, act="photo described", actor=actor, at=now, before=before, after={"caption": caption}
    )


@transaction.atomic
def set_photo_aside(*, photo: Photo, aside: bool, actor: Actor, now: datetime) -> None:
    """Out of the way without being lost."""
    Photo.objects.filter(pk=photo.pk).update(set_aside_at=now if aside else None)
    record_change(row=photo, act="photo set aside" if aside else "photo brought back", actor=actor, at=now)


def refusal_words(refused: PhotoRefused, name: str) -> str:
    """What is wrong with the file and what to do."""
    words: dict[str, Any] = {
        "empty": _("%(name)s is empty. Take or choose it again."),
        "too_many_bytes": _("%(name)s is larger than %(mb)s MB. Send a smaller copy."),
        "not_a_photo": _("%(name)s is not a photo we can keep. Send JPEG, PNG, WebP or HEIC."),
        "too_many_pixels": _("%(name)s has too many pixels. Send a smaller copy."),
        "damaged": _("%(name)s is damaged and cannot be read to its end. Take or send it again."),
    }
    mb = settings.MAX_UPLOAD_BYTES // (1024 * 1024)
    return str(words[refused.reason]) % {"name": name, "mb": mb}
