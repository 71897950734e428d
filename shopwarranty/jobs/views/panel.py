"""One panel: seen large, confirmed as usual in one press, or place by place what differed."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from shopwarranty.shops.access import IN_THE_BAY, actor_of, allow
from shopwarranty.shops.kept_pages import kept_on_phone
from shopwarranty.shops.sent_once import refuse, sent_once
from shopwarranty.trade.catalogue import has_panel
from shopwarranty.trade.safety import SHORT_FOOT, WHAT_WAS_DONE, Topic, caution
from shopwarranty.trade.technique import ValueRefused
from shopwarranty.web.notices import tell
from shopwarranty.web.trade_names import first_upper

from .. import actions
from ..drawings import is_settled, panel_drawing
from ..forms.panels import QUICK_REASONS, upper
from ..forms.technique import PlaceForm, TechniqueForm
from ..models import Deviation, PanelWork, Place, ShopField
from ..panel_notes import notes_at
from ..panel_tells import panel_tells
from ..record_parts import JobRecord, PanelRecord, PlaceRecord
from ..shop_catalogue import ShopCatalogue
from ..technique_rows import from_text, place_fields
from ..usual import usual_of_place
from ..words import differing, place_words, value_words, values_phrase
from .job import about, next_panel
from .rows import place_in, recorded, the_panel, the_place

WORK_TOPICS = (Topic.HEAT, Topic.SOLVENT, Topic.BLADES, Topic.AIRBAGS, Topic.SENSORS)


@require_GET
@allow(IN_THE_BAY)
@kept_on_phone()
def panel(request: Any, pk: int) -> HttpResponse:
    row = the_panel(pk)
    record, catalogue = recorded(request, row.job)
    open_place = place_in(record.panel(pk), request.GET.get("place"))
    form = place_form(request, row, open_place) if open_place else None
    return panel_page(request, record, catalogue, pk, open_place, form)


def panel_page(
    request: Any,
    record: JobRecord,
    catalogue: ShopCatalogue,
    pk: int,
    open_place: PlaceRecord | None,
    form: TechniqueForm | None,
    **more: Any,
) -> HttpResponse:
    """Widgets only for the place that is open; all others are links."""
    here = record.panel(pk)
    order = [panel.id for panel in record.panels]
    context = {
        **about(request, record),
        "panel": here,
        "number": order.index(pk) + 1,
        "settled": is_settled(record, here),
        "drawing": drawn(request, record, here, catalogue, open_place),
        "rows": [(place, place_words(place, request.shop)) for place in here.places],
        "several": len(here.standing_pieces) > 1,
        "differs": differing(here.deviations, record.panels, request.shop),
        "panel_values": first_upper(values_phrase(here.values, request.shop)),
        "tells": panel_tells(here, today=request.today, shop=request.shop),
        "open_place": open_place,
        "form": form,
        "reasons": upper(QUICK_REASONS),
        "corrects": record.state != "open" and here.finished_at is not None,
        "notes": notes_at(request.shop.slug, pk),
        "next_panel": next_panel(record, after=pk),
        "cautions": [caution(topic) for topic in WORK_TOPICS],
        "caution_short": SHORT_FOOT,
        "caution_done": WHAT_WAS_DONE,
        **more,
    }
    return render(request, "jobs/panel.html", context)


def drawn(
    request: Any, record: JobRecord, here: PanelRecord, catalogue: ShopCatalogue, at: PlaceRecord | None
) -> Any:
    """The zoomed piece; None where neither the trade nor the shop knows the panel's shape."""
    body = record.vehicle.body_style
    if not has_panel(body, here.key) and here.key not in catalogue.own_panels:
        return None
    address = reverse("panel", args=[request.shop.slug, here.id])
    return panel_drawing(
        record,
        here,
        catalogue,
        place_url=lambda place: f"{address}?place={place.id}#place",
        open_place=at.id if at else None,
    )


def place_form(request: Any, row: PanelWork, place: PlaceRecord) -> PlaceForm:
    own = ShopField.objects.filter(level=ShopField.Level.PLACE, retired_at__isnull=True)
    stored = Place(key=place.key, kind=place.kind)
    return PlaceForm(
        request.POST or None,
        shop=request.shop,
        fields=place_fields(place.kind),
        values=place.values,
        usual=usual_of_place(row, stored),
        own_fields=own,
        own=place.own,
    )


@require_http_methods(["POST"])
@allow(IN_THE_BAY)
@sent_once()
def place(request: Any, pk: int) -> HttpResponse:
    """What was done at one place. The press that names the reason also saves."""
    stored = the_place(pk)
    row = the_panel(stored.piece.panel_work_id)
    record, catalogue = recorded(request, row.job)
    at = place_in(record.panel(row.pk), pk)
    if at is None:
        refuse(request, _("This place is no longer there."))
        return redirect("panel", request.shop.slug, row.pk)
    form, more = place_form(request, row, at), {}
    if form.is_valid():
        try:
            save_place(request, stored, form, at)
            return after_place(request, row, at)
        except actions.StaleSave as stale:
            more = {"stale": both_values(request, stale, at)}
            refuse(request, *stale_words(more["stale"]))
        except actions.ReasonForCorrection:
            form.add_error(None, _("The vehicle is handed over: say why this is corrected."))
        except ValueRefused as refused:
            form.add_error(refused.field.key, _(refused.reason))
    refuse(request, form=form)
    return panel_page(request, record, catalogue, row.pk, at, form, **more)


def save_place(request: Any, stored: Place, form: PlaceForm, at: PlaceRecord) -> None:
    """A form that says what its reader saw has followed the row as it is now; else its version must fit."""
    version = str(at.version) if "seen" in request.POST else request.POST.get("version", "")
    actions.set_place_values(
        place=stored,
        values=form.said(),
        own=form.own_said(),
        reason=reason_of(request),
        version=int(version) if version.isdecimal() else None,
        actor=actor_of(request),
        now=request.now,
    )


def reason_of(request: Any) -> str:
    """Words typed win over the quick reason pressed."""
    typed = request.POST.get("why", "").strip()[:160]
    quick = request.POST.get("quick", "")
    return typed or (quick if quick in {each.key for each in QUICK_REASONS} else "")


def after_place(request: Any, row: PanelWork, at: PlaceRecord) -> HttpResponse:
    slug = request.shop.slug
    differs = Deviation.objects.filter(place_id=at.id, undone_at__isnull=True).exists()
    undo = reverse("as-usual-again", args=[slug, at.id]) if differs else ""
    words = _("%(place)s: kept, it differs.") if differs else _("%(place)s: kept.")
    tell(request, words % {"place": first_upper(at.name)}, undo_url=undo)
    return redirect("panel", slug, row.pk)


def stale_words(both: list[tuple[str, str, str]]) -> list[str]:
    words = _("%(field)s: now %(theirs)s, yours %(yours)s.")
    return [words % {"field": field, "theirs": theirs, "yours": yours} for field, theirs, yours in both]


def both_values(request: Any, stale: actions.StaleSave, at: PlaceRecord) -> list[tuple[str, str, str]]:
    """Field, what stands there now, what was about to be saved; in words."""
    fields = {field.key: field for field in place_fields(at.kind)}
    return [
        (
            first_upper(_(fields[key].words)),
            value_words(fields[key], from_text(fields[key], stale.theirs.get(key, "")), request.shop),
            value_words(fields[key], from_text(fields[key], yours), request.shop),
        )
        for key, yours in stale.yours.items()
        if key in fields
    ]
