"""One panel of a visit on the phone: answered, swept, and on to the next."""

from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid5

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST

from shopwarranty.inspections import actions as inspections
from shopwarranty.inspections.actions.refusals import CheckRefusal
from shopwarranty.inspections.models import Visit
from shopwarranty.jobs import photos
from shopwarranty.jobs.clean_photo import PhotoRefused
from shopwarranty.jobs.models import FilmPiece, PanelWork, Photo
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.access import IN_THE_BAY, actor_of, allow
from shopwarranty.shops.kept_pages import kept_on_phone
from shopwarranty.shops.sent_once import entry_of, pressed_at, refuse, sent_once, uid_of, write_receipt
from shopwarranty.web.formats import is_us
from shopwarranty.web.notices import tell

from .. import actions
from ..actions.refusals import DefectRefusal
from ..last_press import LastPress, recall, remember
from ..look_forms import IN_WORDS, rulers
from ..models import Defect
from ..panel_page import PanelPage
from ..visit_forms import NotOursForm, UnrecordedForm
from ..walk import Stop, Walk, load_walk, small_map
from ..words import refusal_words
from .visits import visit_or_404


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
@sent_once(apart=True)
@kept_on_phone()
def check_panel(request: Any, pk: int, panel: int) -> HttpResponse:
    visit, catalogue = visit_or_404(pk), ShopCatalogue(request.shop)
    everything = "all" in request.GET
    walk = load_walk(visit, catalogue, everything=everything)
    stop = walk.at(panel)
    if stop is None or visit.state != Visit.State.OPEN:
        refuse(request, _("This visit is over. What is wrong in it is corrected at the finding."))
        return redirect("visit", request.shop.slug, pk)
    more = request.GET.get("more", "")
    page = PanelPage(
        visit,
        stop,
        catalogue,
        posted=request.POST if request.method == "POST" else None,
        files=request.FILES if request.method == "POST" else None,
        more=int(more) if more.isdecimal() else None,
        everything=everything,
    )
    if request.method == "POST" and page.is_valid() and save(request, visit, page):
        return onward(request, visit, walk, stop)
    if request.method == "POST":
        refuse(request, *page.errors(), fresh=page.versions())
    return render(
        request, "defects/check_panel.html", context_of(request, visit, walk, stop, page, catalogue)
    )


def context_of(
    request: Any, visit: Visit, walk: Walk, stop: Stop, page: PanelPage, catalogue: ShopCatalogue
) -> dict[str, Any]:
    return {
        "visit": visit,
        "walk": walk,
        "stop": stop,
        "page": page,
        "before": walk.before(stop.work_id),
        "after": walk.after(stop.work_id),
        "everything": "all" in request.GET,
        "is_last": walk.after(stop.work_id) is None,
        "map": small_map(visit, walk, stop, catalogue),
        "drawing": page.drawing(),
        "in_words": [_(words) for words in IN_WORDS[1:]],
        "rulers": rulers(request.shop),
        "ruler_unit": _("in") if is_us(request.shop) else _("mm"),
        "opened": request.now.isoformat(),
        "section": "checks",
    }


def save(request: Any, visit: Visit, page: PanelPage) -> bool:
    """False when the act was refused; the reason is told and what was typed stays on the page."""
    sweep = request.POST.get("act") == "sweep"
    work = PanelWork.objects.get(pk=page.stop.work_id)
    before = actions.panel_stands(visit=visit, panel_work=work)
    try:
        swept = actions.save_panel(
            visit=visit,
            panel_work=work,
            said=page.said(),
            sweep=sweep,
            among=[place.pk for place in page.rows],
            actor=actor_of(request),
            now=request.now,
        )
    except (CheckRefusal, DefectRefusal) as refusal:
        tell(request, refusal_words(refusal), level=messages.ERROR)
        refuse(request, refusal_words(refusal))
        return False
    keep_photos(request, visit, page)
    keep_look(request, visit, work, page, swept)
    press = LastPress(before, actions.panel_stands(visit=visit, panel_work=work))
    say_kept(request, visit, page.stop, press, swept if sweep else None)
    return True


@transaction.atomic
def keep_look(request: Any, visit: Visit, work: PanelWork, page: PanelPage, swept: int) -> None:
    """Time and order on the page, once for an entry that came twice."""
    if not write_receipt(request):
        return
    actions.keep_panel_look(
        visit=visit,
        panel_work=work,
        opened_at=opened_of(request),
        now=pressed_at(request) or request.now,
        places=len(page.rows),
        tapped=len(page.said()),
        swept=swept,
    )


def opened_of(request: Any) -> datetime | None:
    """When the page was opened, as a phone says that kept it, else when it was made, as it says itself."""
    held = request.POST.get("entry_open", "")
    if entry_of(request) and held.isdecimal() and len(held) < 10:
        pressed: datetime = pressed_at(request) or request.now
        return pressed - timedelta(milliseconds=int(held))
    try:
        moment = datetime.fromisoformat(request.POST.get("opened", ""))
    except ValueError:
        return None
    return moment if moment.tzinfo else None


def say_kept(request: Any, visit: Visit, stop: Stop, press: LastPress, swept: int | None) -> None:
    """What the press wrote down, with the way back; nothing where it leads back to the same page for more."""
    changed = sum(press.before.get(place) != one for place, one in press.after.items())
    if swept is None and (not changed or request.POST.get("act", "").startswith("more-")):
        return
    words = ngettext("%(panel)s: one place written down.", "%(panel)s: %(n)d places written down.", changed)
    if swept is not None:
        words = ngettext(
            "%(panel)s: one more place looked at and clean.",
            "%(panel)s: %(n)d more places looked at and clean.",
            swept,
        )
    undo = reverse("sweep-undo", args=[request.shop.slug, visit.pk, stop.work_id]) if changed else ""
    if changed:
        remember(request.session, visit.pk, stop.work_id, press)
    count = changed if swept is None else swept
    tell(request, words % {"panel": stop.name, "n": count}, undo_url=undo)


def keep_photos(request: Any, visit: Visit, page: PanelPage) -> None:
    """A photo that cannot be kept is named; the finding is kept without it."""
    places = {place.pk: place for place in page.rows}
    for place_id, kind, file in page.photos():
        defect = Defect.objects.filter(place=place_id, kind=kind, state=Defect.State.OPEN).first()
        try:
            photo = photos.add_photo(
                sent=file.read(),
                subject=photos.Subject.of_place(places[place_id]),
                stage=Photo.Stage.HANDOVER if visit.is_handover_look else Photo.Stage.CHECK,
                actor=actor_of(request),
                now=request.now,
                uid=photo_uid(request, place_id, kind),
            )
        except PhotoRefused as refused:
            tell(request, photos.refusal_words(refused, file.name), level=messages.ERROR)
            continue
        if defect is not None:
            actions.add_photo(defect=defect, photo=photo)


def photo_uid(request: Any, place_id: int, kind: str) -> UUID | None:
    """The same photo of the same entry is the same photo, should the entry come twice."""
    sent = uid_of(request)
    return uuid5(sent, f"{place_id} {kind}") if sent else None


def onward(request: Any, visit: Visit, walk: Walk, stop: Stop) -> HttpResponse:
    act, slug = request.POST.get("act", "next"), request.shop.slug
    here = reverse("check-panel", args=[slug, visit.pk, stop.work_id])
    all_of_them = "?all=1" if "all" in request.GET else ""
    if act == "stay":
        return redirect(f"{here}{all_of_them}")
    if act.startswith("more-"):
        place = act.removeprefix("more-")
        return redirect(f"{here}?more={place}#place-{place}" if place.isdecimal() else here)
    following = walk.after(stop.work_id)
    if following is None:
        return redirect("visit", slug, visit.pk)
    return redirect(f"{reverse('check-panel', args=[slug, visit.pk, following.work_id])}{all_of_them}")


@require_POST
@allow(IN_THE_BAY)
def sweep_undo(request: Any, pk: int, panel: int) -> HttpResponse:
    """The last press on this panel; where it is not known any more, what was swept there."""
    visit = visit_or_404(pk)
    work = get_object_or_404(PanelWork.objects.filter(job=visit.job), pk=panel)
    try:
        taken_back = take_back(request, visit, work)
    except (CheckRefusal, DefectRefusal) as refusal:
        tell(request, refusal_words(refusal), level=messages.ERROR)
    else:
        done = _("Taken back: this panel says what it said before.")
        nothing = _("Nothing was taken back: something else was said there meanwhile.")
        tell(request, done if taken_back else nothing)
    return redirect("check-panel", request.shop.slug, pk, panel)


def take_back(request: Any, visit: Visit, work: PanelWork) -> int:
    press = recall(request.session, visit.pk, work.pk)
    if press is None:
        return inspections.take_back_sweep(visit=visit, panel_work=work)
    return actions.undo_press(
        visit=visit,
        panel_work=work,
        before=press.before,
        after=press.after,
        actor=actor_of(request),
        now=request.now,
    )


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
def unrecorded(request: Any, pk: int, panel: int) -> HttpResponse:
    """A place the job's record does not have: it comes under record today."""
    visit = visit_or_404(pk)
    work = get_object_or_404(PanelWork.objects.filter(job=visit.job), pk=panel)
    pieces = FilmPiece.objects.filter(panel_work=work, ended_on__isnull=True).select_related("product")
    form = UnrecordedForm(request.POST or None, pieces=pieces)
    if form.is_valid():
        try:
            place = actions.found_unrecorded(
                visit=visit, **form.cleaned_data, actor=actor_of(request), now=request.now
            )
        except DefectRefusal as refusal:
            form.add_error("name", refusal_words(refusal))
        else:
            here = reverse("check-panel", args=[request.shop.slug, pk, panel])
            return redirect(f"{here}#place-{place.pk}")
    context = {"form": form, "visit": visit, "panel": panel}
    return render(request, "defects/unrecorded.html", context)


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
def not_ours(request: Any, pk: int) -> HttpResponse:
    """Something seen on a panel this job put no film on."""
    visit, form = visit_or_404(pk), NotOursForm(request.POST or None)
    if form.is_valid():
        actions.note_not_ours(visit=visit, **form.cleaned_data, actor=actor_of(request), now=request.now)
        tell(request, _("Noted with this visit. It is under no cover and in no figure."))
        return redirect("visit", request.shop.slug, pk)
    return render(request, "defects/not_ours.html", {"form": form, "visit": visit})
