"""Photos that come with a claim, or later, through the same cleaning as every photo."""

import hashlib
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.utils.translation import gettext as _

from shopwarranty.jobs import photos
from shopwarranty.jobs.clean_photo import PhotoRefused
from shopwarranty.jobs.models import Photo
from shopwarranty.shops.history import Actor, record_change

from ..models import Claim, ClaimPhoto
from .moving import must_be_at

STANDING = tuple(state for state in Claim.State if state != Claim.State.CLOSED)


@dataclass(frozen=True, slots=True)
class PhotosKept:
    """How many were kept, and for each other file why not, in words."""

    kept: int
    refused: tuple[str, ...]


def add_photos(*, claim: Claim, files: Sequence[UploadedFile], actor: Actor, now: datetime) -> PhotosKept:
    """The same file sent twice is kept once. Raises NotAtThisStage for a closed claim."""
    with transaction.atomic():
        must_be_at(claim, *STANDING)
    kept, refused = 0, []
    for file in files:
        try:
            kept += keep(claim, file.read(), actor, now)
        except PhotoRefused as error:
            refused.append(photos.refusal_words(error, file.name or _("The photo")))
    return PhotosKept(kept, tuple(refused))


def keep(claim: Claim, sent: bytes, actor: Actor, now: datetime) -> bool:
    """Whether it is new to this claim. The picture is worked on outside the transaction."""
    photo = photos.add_photo(
        sent=sent,
        subject=photos.Subject(claim.vehicle),
        stage=Photo.Stage.REPORT,
        actor=actor,
        now=now,
        uid=uuid.uuid5(claim.uid, hashlib.sha256(sent).hexdigest()),
    )
    with transaction.atomic():
        _link, new = ClaimPhoto.objects.get_or_create(claim=claim, photo=photo)
        if new:
            record_change(row=claim, act="photo added", actor=actor, at=now, after={"photo": photo.pk})
    return new
