"""A copy of a photo with marks in it. The photo it was made from stays as it is."""

import uuid
from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from shopwarranty.shops import stored_bytes
from shopwarranty.shops.history import Actor, record_change

from .models import Photo
from .photo_marks import AT_MOST, Mark, NotAMark, marked
from .photos import ONE_AT_A_TIME


def add_marked_copy(
    *, photo: Photo, marks: Sequence[Mark], actor: Actor, now: datetime, uid: uuid.UUID | None = None
) -> Photo:
    """The marks go on the first picture, never on a marked one: marks of a copy are drawn anew.

    Raises NotAMark for none or too many, and DamagedFile. The same uid twice is the same copy.
    """
    if not 0 < len(marks) <= AT_MOST:
        raise NotAMark
    if uid and (there := Photo.objects.filter(uid=uid).first()):
        return there
    source = photo.marked_from or photo
    with ONE_AT_A_TIME:
        content, width, height = marked(stored_bytes.read(source.sha256), marks)
    kept = stored_bytes.keep(content)
    return _row(source, marks, kept, (width, height), actor, now, uid or uuid.uuid4())


@transaction.atomic
def _row(
    source: Photo,
    marks: Sequence[Mark],
    kept: stored_bytes.StoredBytes,
    size: tuple[int, int],
    actor: Actor,
    now: datetime,
    uid: uuid.UUID,
) -> Photo:
    same = ("vehicle", "job", "panel_work", "place", "stage", "taken_at", "taken_from", "caption")
    copied = {name: getattr(source, name) for name in same}
    copy, new = Photo.objects.get_or_create(
        uid=uid,
        defaults={
            **copied,
            "sha256": kept.sha256,
            "length": kept.length,
            "original_sha256": source.original_sha256,
            "width": size[0],
            "height": size[1],
            "added_at": now,
            "added_by": actor.member,
            "marked_from": source,
            "marks": [mark.as_row for mark in marks],
        },
    )
    if new:
        kinds = [mark.kind for mark in marks]
        record_change(row=copy, act="photo marked", actor=actor, at=now, after={"marks": kinds})
    return copy
