"""Pages of one panel beside its places: film, technique, people, how it came, what happened."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from shopwarranty.shops.access import ANYONE, IN_THE_BAY, actor_of, allow
from shopwarranty.shops.kept_pages import asked_to_keep, kept_on_phone
from shopwarranty.shops.sent_once import refuse, sent_once
from shopwarranty.trade.words import LAYING_EVENTS, REMOVED_PARTS, words_for
from shopwarranty.web.notices import tell
from shopwarranty.web.trade_names import first_upper

from .. import actions
from ..forms.film import FilmForm, PieceForm, film_words, initial_of
from ..forms.panels import (
    QUICK_REASONS,
    EventForm,
    IntakeForm,
    MembersForm,
    RemovedItemForm,
    upper,
)
from ..forms.technique import TechniqueForm
from ..models import FilmPiece, LayingEvent, PanelWork, Photo, Place, ShopField
from ..record_parts import JobRecord, PanelRecord
from ..shop_catalogue import ShopCatalogue
from ..technique_rows import PANEL_FIELDS
from ..usual import usual_of_panel
from .job import about
from .panel import reason_of
from .rows import recorded, the_item, the_panel


def page(request: Any, record: JobRecord, pk: int, template: str, **more: Any) -> HttpResponse:
    context = {**about(request, record), "panel": record.panel(pk), **more}
    return render(request, f"jobs/{template}.html", context)


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
def panel_film(request: Any, pk: int) -> HttpResponse:
    """What the panel's film is cut from: one piece at a time, chosen by ?piece=."""
    row = the_panel(pk)
    record, _catalogue = recorded(request, row.job)
    piece = piece_in(record.panel(pk), request.GET.get("piece"))
    form = FilmForm(request.POST or None, initial=initial_of(piece))
    asks_reason = record.state != "open"
    if form.is_valid():
        try:
            save_film(request, piece.id, form)
            tell(request, _("Film kept."))
            return redirect("panel", request.shop.slug, pk)
        except actions.ReasonForFilm:
            asks_reason = True
            form.add_error("roll", _("Its lot is in quarantine. Say why it is used all the same."))
        except actions.ReasonForCorrection:
            asks_reason = True
            form.add_error(None, _("The vehicle is handed over: say why this is corrected."))
        except actions.StaleSave:
            now_there = film_words(piece)
            form.add_error(
                None,
                _("Somebody saved in between: now %(film)s. Save again to put yours.") % {"film": now_there},
            )
    return page(request, record, pk, "panel_film", form=form, piece=piece, asks_reason=asks_reason)


def piece_in(panel: PanelRecord, piece_id: str | None) -> Any:
    """The piece of that number, else the first one standing, else the first."""
    chosen = (piece for piece in panel.pieces if str(piece.id) == str(piece_id or ""))
    return next(chosen, next(iter(panel.standing_pieces), panel.pieces[0]))


def save_film(request: Any, piece_id: int, form: FilmForm) -> None:
    actor, now = actor_of(request), request.now
    piece = FilmPiece.objects.get(pk=piece_id)
    reason = request.POST.get("film_reason", "")
    film = form.choice(actor=actor, now=now)
    version = request.POST.get("version", "")
    seen = int(version) if version.isdecimal() else None
    actions.set_film(piece=piece, film=film, reason=reason, version=seen, actor=actor, now=now)


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
def new_piece(request: Any, pk: int) -> HttpResponse:
    """A further piece: beside, over, or in place of one."""
    row = the_panel(pk)
    record, catalogue = recorded(request, row.job)
    pieces = record.panel(pk).standing_pieces
    initial = initial_of(pieces[0]) if pieces else {}
    form = PieceForm(request.POST or None, pieces=pieces, initial=initial)
    asks_reason = record.state != "open"
    if form.is_valid():
        try:
            add_piece(request, row, catalogue, form)
            tell(request, _("Piece added. Its places are on the panel now."))
            return redirect("panel", request.shop.slug, pk)
        except (actions.ReasonForFilm, actions.ReasonForCorrection):
            asks_reason = True
            form.add_error(None, _("Say below why this film is used, or why this is corrected."))
    return page(request, record, pk, "new_piece", form=form, asks_reason=asks_reason)


def add_piece(request: Any, row: PanelWork, catalogue: ShopCatalogue, form: PieceForm) -> None:
    actor, now, values = actor_of(request), request.now, form.cleaned_data
    replaced = values["replaces"] if values["lies"] == "instead" else ""
    actions.add_piece(
        panel_work=row,
        film=form.choice(actor=actor, now=now),
        name=values["name"],
        layer=form.layer,
        replaces=FilmPiece.objects.get(pk=replaced) if replaced else None,
        reason=request.POST.get("film_reason", ""),
        catalogue=catalogue,
        actor=actor,
        now=now,
    )


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
def panel_work(request: Any, pk: int) -> HttpResponse:
    """Technique of the panel as a whole, and who did it."""
    row = the_panel(pk)
    record, _catalogue = recorded(request, row.job)
    form = work_form(request, row, record.panel(pk))
    members = MembersForm(request.POST or None, panel=record.panel(pk))
    if form.is_bound and form.is_valid() and members.is_valid():
        try:
            save_work(request, row, form, members)
            tell(request, _("Kept."))
            return redirect("panel", request.shop.slug, pk)
        except actions.ReasonForCorrection:
            form.add_error(None, _("The vehicle is handed over: say why this is corrected."))
        except actions.StaleSave:
            form.add_error(None, _("Somebody saved this panel in between. Load the page again and compare."))
    more = {"form": form, "members": members, "reasons": upper(QUICK_REASONS)}
    return page(request, record, pk, "panel_work", **more)


def work_form(request: Any, row: PanelWork, panel: PanelRecord) -> TechniqueForm:
    own = ShopField.objects.filter(level=ShopField.Level.PANEL, retired_at__isnull=True)
    return TechniqueForm(
        request.POST or None,
        shop=request.shop,
        fields=PANEL_FIELDS,
        values=panel.values,
        usual=usual_of_panel(row),
        own_fields=own,
        own=panel.own,
    )


def save_work(request: Any, row: PanelWork, form: TechniqueForm, members: MembersForm) -> None:
    actor, now, reason = actor_of(request), request.now, reason_of(request)
    version = request.POST.get("version", "")
    actions.set_panel_values(
        panel_work=row,
        values=form.said(),
        own=form.own_said(),
        note=request.POST.get("note", ""),
        reason=reason,
        version=int(version) if version.isdecimal() else None,
        actor=actor,
        now=now,
    )
    if members.has_changed():
        lead, others = members.cleaned_data["lead"], members.cleaned_data["others"]
        actions.set_members(
            panel_work=row, lead=lead, others=list(others), reason=reason, actor=actor, now=now
        )


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
@sent_once()
@kept_on_phone(has_names=True)
def panel_intake(request: Any, pk: int) -> HttpResponse:
    """How the panel came; corrected with a reason once the vehicle is handed over."""
    row = the_panel(pk)
    record, _catalogue = recorded(request, row.job)
    intake = record.panel(pk).intake
    names = ("substrate", "painted_on", "marks", "acknowledged_by")
    initial = {name: getattr(intake, name) for name in names} if intake else {}
    nameless = asked_to_keep(request)
    if nameless:
        initial.pop("acknowledged_by", None)
    corrects = record.state != "open" and row.finished_at is not None
    form = IntakeForm(request.POST or None, initial=initial, corrects=corrects)
    if form.is_valid():
        values = {name: form.cleaned_data[name] for name in names}
        why = form.cleaned_data.get("why", "")
        actions.record_intake(panel_work=row, **values, reason=why, actor=actor_of(request), now=request.now)
        tell(request, _("Kept."))
        return redirect("panel", request.shop.slug, pk)
    refuse(request, form=form)
    photos = Photo.objects.filter(panel_work=row, stage=Photo.Stage.INTAKE, set_aside_at__isnull=True)
    return page(request, record, pk, "panel_intake", form=form, photos=photos.count(), nameless=nameless)


@require_http_methods(["GET", "POST"])
@allow(IN_THE_BAY)
def panel_events(request: Any, pk: int) -> HttpResponse:
    """What happened while laying, and what came off."""
    row = the_panel(pk)
    record, _catalogue = recorded(request, row.job)
    here = record.panel(pk)
    posted = request.POST if request.method == "POST" else None
    adds_item = bool(posted and "add_item" in posted)
    event = EventForm(None if adds_item else posted, panel=here, prefix="event")
    item = RemovedItemForm(posted if adds_item else None, prefix="item")
    if note_event(request, row, event) or add_item(request, row, item):
        return redirect("panel-events", request.shop.slug, pk)
    events = [(one, event_words(one.kind)) for one in here.laying_events]
    more = {"event": event, "item": item, "events": events, "outcomes": upper(REMOVED_PARTS)}
    return page(request, record, pk, "panel_events", **more)


def event_words(kind: str) -> str:
    return first_upper(_(words_for(LAYING_EVENTS, kind)))


def note_event(request: Any, row: PanelWork, form: EventForm) -> bool:
    if not form.is_valid():
        return False
    values = form.cleaned_data
    chosen = values["place"] or None
    place = Place.objects.filter(piece__panel_work=row, pk=chosen).first() if chosen else None
    actions.note_laying_event(
        panel_work=row,
        kind=values["kind"],
        place=place,
        note=values["note"],
        actor=actor_of(request),
        now=request.now,
    )
    tell(request, _("Noted."))
    return True


def add_item(request: Any, row: PanelWork, form: RemovedItemForm) -> bool:
    if not form.is_valid():
        return False
    actions.add_removed_item(panel_work=row, **form.cleaned_data, actor=actor_of(request), now=request.now)
    tell(request, _("Noted. Before handover it is refitted, replaced or given back."))
    return True


@require_POST
@allow(IN_THE_BAY)
def settle_item(request: Any, pk: int) -> HttpResponse:
    """Refitted, replaced, given back, or still off."""
    item = the_item(pk)
    outcome = request.POST.get("outcome", "")
    known = {each.key for each in REMOVED_PARTS} | {""}
    if outcome in known:
        actions.settle_removed_item(item=item, outcome=outcome, actor=actor_of(request), now=request.now)
        tell(request, _("%(part)s: kept.") % {"part": first_upper(item.name)})
    return redirect("panel-events", request.shop.slug, item.panel_work_id)


@require_POST
@allow(IN_THE_BAY)
def take_back_event(request: Any, pk: int) -> HttpResponse:
    rows = LayingEvent.objects.select_related("panel_work__job")
    event = get_object_or_404(rows, pk=pk)
    panel_id = event.panel_work_id
    try:
        actions.take_back_laying_event(event=event, actor=actor_of(request), now=request.now)
        tell(request, _("Taken back; the history keeps it."))
    except actions.ReasonForCorrection:
        tell(request, _("The vehicle is handed over: this stays as it was noted."))
    return redirect("panel-events", request.shop.slug, panel_id)
