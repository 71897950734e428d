"""One photo: what it shows and when it was taken, marks on a copy of it, and beside another one."""

import math
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from shopwarranty.shops.access import IN_THE_BAY, actor_of, allow
from shopwarranty.shops.stored_bytes import DamagedFile
from shopwarranty.web.notices import tell

from . import photos
from .marked_copies import add_marked_copy
from .models import Photo
from .photo_forms import MarkForm, PhotoForm, Spots, as_text, marks_from
from .photo_marks import Mark, NotAMark
from .shop_catalogue import ShopCatalogue


def photo_or_404(pk: int) -> Photo:
    rows = Photo.objects.filter(job__isnull=False)
    row: Photo = get_object_or_404(rows.select_related("job__vehicle", "added_by", "marked_from"), pk=pk)
    return row


def spots_of(request: Any, photo: Photo) -> Spots:
    assert photo.job is not None
    return Spots(photo.job, ShopCatalogue(request.shop))


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
def one_photo(request: Any, pk: int) -> HttpResponse:
    photo = photo_or_404(pk)
    spots = spots_of(request, photo)
    said = {"shows": spots.value_of(photo), "taken_at": photo.taken_at, "caption": photo.caption}
    form = PhotoForm(request.POST or None, spots=spots, initial=said)
    if request.method == "POST" and form.is_valid() and keep_said(request, photo, spots, form):
        tell(request, _("Kept. The history says what stood there."))
        return redirect("one-photo", request.shop.slug, pk)
    context = {
        "photo": photo,
        "shows": spots.words(photo),
        "form": form,
        "copies": Photo.objects.filter(marked_from=photo, set_aside_at__isnull=True),
        "others": same_spot(photo).exists(),
        "section": "jobs",
    }
    return render(request, "jobs/one_photo.html", context)


def keep_said(request: Any, photo: Photo, spots: Spots, form: PhotoForm) -> bool:
    """Only what was changed, each with its line of history. False when the time cannot be."""
    who: dict[str, Any] = {"photo": photo, "actor": actor_of(request), "now": request.now}
    if "taken_at" in form.changed_data:
        try:
            photos.say_when_taken(taken_at=form.cleaned_data["taken_at"], **who)
        except photos.TimeNotPossible:
            form.add_error("taken_at", _("It was sent in before that. Type an earlier time, or none."))
            return False
    if "shows" in form.changed_data and (found := spots.of(form.cleaned_data["shows"])):
        photos.move_photo(panel_work=found[0], place=found[1], **who)
    if "caption" in form.changed_data:
        photos.describe_photo(caption=form.cleaned_data["caption"], **who)
    return True


def same_spot(photo: Photo) -> Any:
    """Other photos of the same place, or of the same panel where no place is said, the oldest first."""
    rows = Photo.objects.filter(vehicle=photo.vehicle, set_aside_at__isnull=True).exclude(pk=photo.pk)
    if photo.place_id:
        return rows.filter(place=photo.place_id)
    if photo.panel_work_id:
        return rows.filter(panel_work=photo.panel_work_id)
    return rows.filter(panel_work__isnull=True)


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
def mark_photo(request: Any, pk: int) -> HttpResponse:
    """Marks are collected on the page, one after the other, then drawn on a copy in one go."""
    photo = photo_or_404(pk)
    act = request.POST.get("act", "")
    marks = marks_from(request.POST.get("marks", "")) if request.method == "POST" else first_marks(photo)
    form = MarkForm(request.POST if act == "add" else None, initial={"kind": "arrow"})
    if act == "add" and form.is_valid():
        marks.append(form.mark())
        form = MarkForm(initial={"kind": form.cleaned_data["kind"]})
    elif act == "back" and marks:
        marks.pop()
    elif act == "keep" and (copy := keep_copy(request, photo, marks)):
        tell(request, _("A copy with the marks is kept. The photo itself is unchanged."))
        return redirect("one-photo", request.shop.slug, copy.pk)
    source = photo.marked_from or photo
    context = {
        "photo": photo,
        "source": source,
        "marks": marks,
        "shapes": [Shape.of(mark, source) for mark in marks],
        "marks_text": as_text(marks),
        "form": form,
        "section": "jobs",
    }
    return render(request, "jobs/mark_photo.html", context)


@dataclass(frozen=True, slots=True)
class Shape:
    """A mark as the page draws it over the photo, in the photo's pixels."""

    kind: str
    x1: int
    y1: int
    x2: int
    y2: int

    @classmethod
    def of(cls, mark: Mark, photo: Photo) -> "Shape":
        wide, high = photo.width, photo.height
        points = (mark.x1 * wide, mark.y1 * high, mark.x2 * wide, mark.y2 * high)
        return cls(mark.kind, *(round(one) for one in points))

    @property
    def radius(self) -> int:
        return round(math.dist((self.x1, self.y1), (self.x2, self.y2)))

    @property
    def left(self) -> int:
        return min(self.x1, self.x2)

    @property
    def top(self) -> int:
        return min(self.y1, self.y2)

    @property
    def wide(self) -> int:
        return abs(self.x2 - self.x1)

    @property
    def high(self) -> int:
        return abs(self.y2 - self.y1)


def first_marks(photo: Photo) -> list[Mark]:
    """A marked copy is marked on from its own marks."""
    return [Mark.of(row) for row in photo.marks]


def keep_copy(request: Any, photo: Photo, marks: list[Mark]) -> Photo | None:
    try:
        return add_marked_copy(photo=photo, marks=marks, actor=actor_of(request), now=request.now)
    except NotAMark:
        tell(request, _("There is no mark yet. Add one, then keep the copy."), level=messages.ERROR)
    except DamagedFile:
        tell(request, _("The stored file of this photo cannot be read."), level=messages.ERROR)
    return None


@require_GET
@allow(IN_THE_BAY)
def beside(request: Any, pk: int) -> HttpResponse:
    """Two photos of the same place, the earlier one first."""
    photo = photo_or_404(pk)
    others = list(same_spot(photo).filter(Q(marked_from__isnull=True) | ~Q(marked_from=photo.pk))[:60])
    wanted = request.GET.get("with", "")
    other = next((one for one in others if str(one.pk) == wanted), others[0] if others else None)
    pair = sorted([photo, other], key=when) if other else []
    context = {
        "photo": photo,
        "shows": spots_of(request, photo).words(photo),
        "others": others,
        "other": other,
        "pair": pair,
        "section": "jobs",
    }
    return render(request, "jobs/beside.html", context)


def when(photo: Photo) -> Any:
    return (photo.taken_at or photo.added_at, photo.pk)
