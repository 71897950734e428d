"""Sending photos in and showing them; always as JPEG, only within the shop."""

import uuid
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.shops import stored_bytes
from shopwarranty.shops.access import IN_THE_BAY, actor_of, allow
from shopwarranty.shops.kept_pages import kept_on_phone
from shopwarranty.shops.sent_once import error_words, wants_json
from shopwarranty.web.notices import tell

from . import photos
from .clean_photo import PhotoRefused
from .models import Job, Photo
from .photo_forms import SendForm, Spots
from .shop_catalogue import ShopCatalogue

A_YEAR = 365 * 24 * 3600
A_PAGE = 48


@require_GET
@allow(IN_THE_BAY)
def photo_file(request: Any, pk: int, size: str) -> HttpResponse:
    """The stored bytes. The type is ours, never the sender's; what an address shows never changes.

    While the tick has not made the small picture yet, the large one stands in for it, and is not kept.
    """
    if size not in ("full", "small"):
        raise Http404
    photo = get_object_or_404(Photo.objects.all(), pk=pk)
    waiting = size == "small" and not photo.thumbnail_sha256
    sha256 = photo.sha256 if size == "full" or waiting else photo.thumbnail_sha256
    try:
        content = stored_bytes.read(sha256)
    except stored_bytes.DamagedFile as error:
        raise Http404 from error
    answer = HttpResponse(content, content_type="image/jpeg")
    answer["Cache-Control"] = "private, no-store" if waiting else f"private, max-age={A_YEAR}, immutable"
    how = "attachment" if request.GET.get("save") else "inline"
    answer["Content-Disposition"] = f'{how}; filename="photo-{pk}.jpg"'
    return answer


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
@kept_on_phone()
def job_photos(request: Any, pk: int) -> HttpResponse:
    """All photos of a job by panel, and the place to send more, several at once."""
    job = get_object_or_404(Job.objects.select_related("vehicle", "shop"), pk=pk)
    spots = Spots(job, ShopCatalogue(request.shop))
    form = SendForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        return receive(request, spots, form)
    if request.method == "POST" and wants_json(request):
        return JsonResponse({"kept": 0, "refused": error_words(form)}, status=422)
    rows = Photo.objects.filter(job=job, set_aside_at__isnull=True).select_related("added_by")
    page = Paginator(rows, A_PAGE).get_page(request.GET.get("page"))
    context = {
        "job": job,
        "page": page,
        "photos": [(photo, spots.words(photo)) for photo in page],
        "groups": spots.groups,
        "stages": Photo.Stage.choices,
        "stage": request.GET.get("stage") or Photo.Stage.WORK,
        "chosen": request.POST.get("panel") or request.GET.get("panel", ""),
        "form": form,
        "section": "jobs",
    }
    return render(request, "jobs/photos.html", context)


def receive(request: Any, spots: Spots, form: SendForm) -> HttpResponse:
    """Keeps what can be kept and names each file that cannot. Answers a script with JSON."""
    subject = spots.subject(request.POST.get("panel", ""))
    if subject is None:
        raise Http404
    if is_anothers(request):
        return JsonResponse({"other_member": True}, status=409)
    kept, refused = 0, []
    for file in request.FILES.getlist("photos"):
        try:
            photos.add_photo(
                sent=read_sent(file),
                subject=subject,
                stage=form.stage_said(),
                told=form.told(),
                actor=actor_of(request),
                now=request.now,
                uid=sent_uid(request),
            )
            kept += 1
        except PhotoRefused as error:
            refused.append(photos.refusal_words(error, file.name))
    if wants_json(request):
        return JsonResponse({"kept": kept, "refused": refused}, status=200 if kept else 422)
    say_what_came(request, kept, refused)
    here = reverse("job-photos", args=[request.shop.slug, spots.job.pk])
    return redirect(request.POST["next"] if own_path(request) else here)


def read_sent(file: Any) -> bytes:
    """Raises PhotoRefused before a file that is too large is taken into memory."""
    if file.size > settings.MAX_UPLOAD_BYTES:
        raise PhotoRefused("too_many_bytes")
    return bytes(file.read())


def is_anothers(request: Any) -> bool:
    """Kept on a device by one member while another is signed in there by now: it stays there."""
    said = request.POST.get("entry_member", "")
    return bool(said.isdecimal() and int(said) != request.member.pk)


def sent_uid(request: Any) -> uuid.UUID | None:
    """The id a phone made for the one photo it sends; several files in one form have none."""
    try:
        return uuid.UUID(request.POST.get("uid", "")) if len(request.FILES.getlist("photos")) == 1 else None
    except ValueError:
        return None


def own_path(request: Any) -> bool:
    return str(request.POST.get("next", "")).startswith(f"/s/{request.shop.slug}/")


def say_what_came(request: Any, kept: int, refused: list[str]) -> None:
    if kept:
        tell(request, ngettext("One photo kept.", "%(n)s photos kept.", kept) % {"n": kept})
    for words in refused:
        tell(request, words, level=messages.ERROR)
    if not kept and not refused:
        tell(request, _("No file was chosen. Choose one or more photos, then send."), level=messages.ERROR)


@require_POST
@allow(IN_THE_BAY)
def photo_move(request: Any, pk: int) -> HttpResponse:
    """To the panel or place it shows."""
    photo = get_object_or_404(Photo.objects.filter(job__isnull=False).select_related("job__vehicle"), pk=pk)
    assert photo.job is not None
    found = Spots(photo.job, ShopCatalogue(request.shop)).of(request.POST.get("panel", ""))
    if found is None:
        raise Http404
    work, place = found
    photos.move_photo(photo=photo, panel_work=work, place=place, actor=actor_of(request), now=request.now)
    tell(request, _("Moved. The history says where it was."))
    return redirect("job-photos", request.shop.slug, photo.job_id)


@require_POST
@allow(IN_THE_BAY)
def photo_aside(request: Any, pk: int) -> HttpResponse:
    """Out of the way, or back again: the same address undoes it."""
    photo = get_object_or_404(Photo.objects.filter(job__isnull=False), pk=pk)
    aside = photo.set_aside_at is None
    photos.set_photo_aside(photo=photo, aside=aside, actor=actor_of(request), now=request.now)
    undo = reverse("photo-aside", args=[request.shop.slug, pk]) if aside else ""
    tell(request, _("Set aside.") if aside else _("Back where it was."), undo_url=undo)
    return redirect("job-photos", request.shop.slug, photo.job_id)
