"""Sending photos in and showing them; always as JPEG, only within the shop."""

import uuid
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.shops import stored_bytes
from shopwarranty.shops.access import ANYONE, actor_of, allow
from shopwarranty.web.notices import tell

from . import photos
from .clean_photo import PhotoRefused
from .models import Job, PanelWork, Photo
from .shop_catalogue import ShopCatalogue

A_YEAR = 365 * 24 * 3600


@require_GET
@allow(ANYONE)
def photo_file(request: Any, pk: int, size: str) -> HttpResponse:
    """The stored bytes. The type is ours, never the sender's; what an address shows never changes."""
    if size not in ("full", "small"):
        raise Http404
    photo = get_object_or_404(Photo.objects.all(), pk=pk)
    sha256 = photo.thumbnail_sha256 if size == "small" and photo.thumbnail_sha256 else photo.sha256
    try:
        content = stored_bytes.read(sha256)
    except stored_bytes.DamagedFile as error:
        raise Http404 from error
    answer = HttpResponse(content, content_type="image/jpeg")
    answer["Cache-Control"] = f"private, max-age={A_YEAR}, immutable"
    answer["Content-Disposition"] = f'inline; filename="photo-{pk}.jpg"'
    return answer


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def job_photos(request: Any, pk: int) -> HttpResponse:
    """All photos of a job by panel, and the place to send more, several at once."""
    job = get_object_or_404(Job.objects.select_related("vehicle", "shop"), pk=pk)
    if request.method == "POST":
        return receive(request, job)
    rows = Photo.objects.filter(job=job, set_aside_at__isnull=True).select_related("panel_work", "added_by")
    catalogue = ShopCatalogue(request.shop)
    panels = [(row, catalogue.panel_name(job.vehicle.body_style, row.panel)) for row in job.panels.all()]
    names = {row.pk: name for row, name in panels}
    shown = [(photo, names.get(photo.panel_work_id or 0, "")) for photo in rows]
    context = {
        "job": job,
        "photos": shown,
        "panels": panels,
        "stages": Photo.Stage.choices,
        "chosen_panel": int(panel) if (panel := request.GET.get("panel", "")).isdecimal() else None,
        "section": "jobs",
    }
    return render(request, "jobs/photos.html", context)


def receive(request: Any, job: Job) -> HttpResponse:
    """Keeps what can be kept and names each file that cannot. Answers a script with JSON."""
    subject = subject_of(request, job)
    stage = request.POST.get("stage") if request.POST.get("stage") in Photo.Stage.values else Photo.Stage.WORK
    kept, refused = 0, []
    for file in request.FILES.getlist("photos"):
        try:
            photos.add_photo(
                sent=file.read(),
                subject=subject,
                stage=stage,
                actor=actor_of(request),
                now=request.now,
                uid=sent_uid(request),
            )
            kept += 1
        except PhotoRefused as error:
            refused.append(photos.refusal_words(error, file.name))
    if request.headers.get("Accept") == "application/json":
        return JsonResponse({"kept": kept, "refused": refused}, status=200 if kept else 422)
    say_what_came(request, kept, refused)
    return redirect(
        request.POST.get("next")
        if own_path(request)
        else reverse("job-photos", args=[request.shop.slug, job.pk])
    )


def subject_of(request: Any, job: Job) -> photos.Subject:
    panel = request.POST.get("panel", "")
    if not panel.isdecimal():
        return photos.Subject.of_job(job)
    return photos.Subject.of_panel(get_object_or_404(PanelWork.objects.filter(job=job), pk=int(panel)))


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
@allow(ANYONE)
def photo_move(request: Any, pk: int) -> HttpResponse:
    """To the panel it shows."""
    photo = get_object_or_404(Photo.objects.filter(job__isnull=False), pk=pk)
    panel = request.POST.get("panel", "")
    work = (
        get_object_or_404(PanelWork.objects.filter(job=photo.job), pk=int(panel))
        if panel.isdecimal()
        else None
    )
    photos.move_photo(photo=photo, panel_work=work, place=None, actor=actor_of(request), now=request.now)
    tell(request, _("Moved. The history says where it was."))
    return redirect("job-photos", request.shop.slug, photo.job_id)


@require_POST
@allow(ANYONE)
def photo_aside(request: Any, pk: int) -> HttpResponse:
    """Out of the way, or back again: the same address undoes it."""
    photo = get_object_or_404(Photo.objects.filter(job__isnull=False), pk=pk)
    aside = photo.set_aside_at is None
    photos.set_photo_aside(photo=photo, aside=aside, actor=actor_of(request), now=request.now)
    undo = reverse("photo-aside", args=[request.shop.slug, pk]) if aside else ""
    tell(request, _("Set aside.") if aside else _("Back where it was."), undo_url=undo)
    return redirect("job-photos", request.shop.slug, photo.job_id)
