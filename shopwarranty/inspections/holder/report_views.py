"""An edge is lifting: the holder points at it, says since when, and sends photos."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext, override
from django.views.decorators.http import require_GET, require_http_methods

from shopwarranty.jobs.models import HolderLink, Place
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.web.notices import tell

from .door import for_holder, shown
from .report_forms import ReportForm
from .reports import PHOTOS_AT_ONCE, Told, TooManyReports, add_photos, send_report
from .where import PanelNamed, overview, panels_in_film, zoomed
from .words import SINCE, span_of


@require_GET
@for_holder
def holder_report(request: Any, link: HolderLink, token: str) -> HttpResponse:
    """Which panel: on the drawing or in the list."""
    catalogue = ShopCatalogue(link.shop)
    panels = panels_in_film(link.vehicle, catalogue)

    def url(panel: str) -> str:
        return reverse("holder-report-panel", args=[token, panel])

    drawing = overview(link.vehicle, panels, catalogue, url)
    return shown(request, link, token, "report.html", panels=panels, drawing=drawing)


@require_http_methods(["GET", "POST"])
@for_holder
def holder_report_panel(request: Any, link: HolderLink, token: str, panel: str) -> HttpResponse:
    catalogue = ShopCatalogue(link.shop)
    named = next((one for one in panels_in_film(link.vehicle, catalogue) if one.key == panel), None)
    if named is None:
        raise Http404
    return answered(request, link, token, named, catalogue)


@require_http_methods(["GET", "POST"])
@for_holder
def holder_report_other(request: Any, link: HolderLink, token: str) -> HttpResponse:
    """For who cannot say which panel it is."""
    return answered(request, link, token, None, ShopCatalogue(link.shop))


def answered(
    request: Any, link: HolderLink, token: str, panel: PanelNamed | None, catalogue: ShopCatalogue
) -> HttpResponse:
    files = request.FILES.getlist("photos")
    picked = request.POST.get("place") or request.GET.get("place", "")
    form = ReportForm(request.POST or None, panel=panel, has_photos=bool(files), initial={"place": picked})
    if request.method == "POST" and form.is_valid():
        try:
            return sent(request, link, token, panel, form)
        except TooManyReports:
            form.add_error(None, _("That is a lot for one day. Call us, and we look at it together."))
    drawing = panel_drawing(link, token, panel, catalogue, picked) if panel else None
    return shown(
        request,
        link,
        token,
        "report_panel.html",
        panel=panel,
        form=form,
        drawing=drawing,
        most=PHOTOS_AT_ONCE,
        photos_again=bool(files),
    )


def panel_drawing(
    link: HolderLink, token: str, panel: PanelNamed, catalogue: ShopCatalogue, picked: str
) -> Any:
    start = reverse("holder-report-panel", args=[token, panel.key])
    return zoomed(link.vehicle, panel, catalogue, lambda pk: f"{start}?place={pk}#which", picked)


def sent(
    request: Any, link: HolderLink, token: str, panel: PanelNamed | None, form: ReportForm
) -> HttpResponse:
    report = send_report(
        link=link, told=told_by(request, link, panel, form), sent_as=form.key(), now=request.now
    )
    result = add_photos(report=report, files=request.FILES.getlist("photos"), now=request.now)
    words = _("Sent. We look at it and get in touch.")
    if result.kept:
        words += " " + ngettext("One photo is with it.", "%(n)s photos are with it.", result.kept) % {
            "n": result.kept
        }
    tell(request, words)
    for refused in result.refused:
        tell(request, refused, level=messages.ERROR)
    return redirect("holder", token)


def told_by(request: Any, link: HolderLink, panel: PanelNamed | None, form: ReportForm) -> Told:
    """The span as days, and the words for it as the shop reads them."""
    key = form.cleaned_data["since"]
    since, until = span_of(key, request.now.astimezone(link.shop.zone).date())
    place = form.cleaned_data.get("place")
    with override(link.shop.language):
        since_words = str(next(words for name, words, _earliest, _latest in SINCE if name == key))
    return Told(
        panel=panel.key if panel else "",
        place=Place.objects.get(pk=place) if place else None,
        words=form.cleaned_data["words"].strip(),
        since=since,
        until=until,
        since_words="" if key == "unknown" else since_words,
    )
