"""Two places drawn at random, looked at again before the visit is finished."""

from typing import Any
from uuid import uuid5

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from shopwarranty.inspections.actions.refusals import CheckRefusal
from shopwarranty.inspections.rules import rules_of
from shopwarranty.jobs import photos
from shopwarranty.jobs.clean_photo import PhotoRefused
from shopwarranty.jobs.models import Photo
from shopwarranty.jobs.photo_views import read_sent
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.access import IN_THE_BAY, actor_of, allow
from shopwarranty.shops.kept_pages import kept_on_phone
from shopwarranty.shops.sent_once import refuse, sent_once, uid_of
from shopwarranty.web.notices import tell

from .. import actions
from ..actions.refusals import DefectRefusal
from ..models import SpotProof
from ..visit_summary import Where
from ..words import refusal_words
from .visits import finish_and_go, visit_or_404

ANSWERS = ("clean", "wrong")


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
@sent_once(apart=True)
@kept_on_phone()
def spots(request: Any, pk: int) -> HttpResponse:
    visit = visit_or_404(pk)
    waiting = actions.draw_spots(visit=visit, now=request.now)
    if request.method == "POST" and request.POST.get("act") == "forgo":
        actions.forgo_spots(visit=visit, actor=actor_of(request), now=request.now)
        return finish_and_go(request, visit, None, visit.signed_name)
    if not waiting:
        return redirect("visit", request.shop.slug, pk)
    said = {spot.pk: request.POST.get(f"spot-{spot.pk}", "") for spot in waiting}
    missing = request.method == "POST" and not all(one in ANSWERS for one in said.values())
    needs_photo = rules_of(request.shop).spot_photo
    if request.method == "POST" and not missing and keep(request, waiting, said, needs_photo):
        return onward(request, visit, waiting, said)
    refuse(request, *([_("Press what you see.")] if missing else []))
    where = Where(ShopCatalogue(request.shop), visit.job.vehicle.body_style)
    rows = [(spot, where.both(spot.place), said[spot.pk]) for spot in waiting]
    context = {
        "visit": visit,
        "rows": rows,
        "missing": missing,
        "needs_photo": needs_photo,
        "section": "checks",
    }
    return render(request, "defects/spots.html", context)


def keep(request: Any, waiting: tuple[SpotProof, ...], said: dict[int, str], needs_photo: bool) -> bool:
    """False when nothing was kept; the reason is told."""
    taken = {spot.pk: photo_of(request, spot) for spot in waiting}
    if needs_photo and not all(taken.values()):
        return refused(request, _("Each of these places needs a photo. Take them once more."))
    try:
        for spot in waiting:
            actions.answer_spot(
                spot=spot,
                is_clean=said[spot.pk] == "clean",
                photo=taken[spot.pk],
                actor=actor_of(request),
                now=request.now,
            )
    except (CheckRefusal, DefectRefusal) as refusal:
        return refused(request, refusal_words(refusal))
    return True


def refused(request: Any, words: str) -> bool:
    tell(request, words, level=messages.ERROR)
    refuse(request, words)
    return False


def photo_of(request: Any, spot: SpotProof) -> Photo | None:
    """A photo that cannot be kept is named; the answer is kept without it where none is needed."""
    file = request.FILES.get(f"photo-{spot.pk}")
    if file is None:
        return None
    subject, sent = photos.Subject.of_place(spot.place), uid_of(request)
    try:
        return photos.add_photo(
            sent=read_sent(file),
            subject=subject,
            stage="check",
            actor=actor_of(request),
            now=request.now,
            uid=uuid5(sent, f"spot {spot.pk}") if sent else None,
        )
    except PhotoRefused as refused:
        tell(request, photos.refusal_words(refused, file.name), level=messages.ERROR)
        return None


def onward(request: Any, visit: Any, waiting: tuple[SpotProof, ...], said: dict[int, str]) -> HttpResponse:
    """To the place that is wrong after all, else the visit is finished with what was typed at its end."""
    wrong = next((spot for spot in waiting if said[spot.pk] == "wrong"), None)
    if wrong is not None:
        tell(request, _("Say what is wrong there. The other places of its panel deserve a look too."))
        return redirect("check-panel", request.shop.slug, visit.pk, wrong.place.piece.panel_work_id)
    return finish_and_go(request, visit, None, visit.signed_name)
