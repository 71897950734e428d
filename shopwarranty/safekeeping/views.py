"""A person's data: what there is, taking a copy out, erasing; and how long the shop keeps them."""

import tempfile
from typing import Any

from django.core.paginator import Paginator
from django.http import FileResponse, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.jobs.models import Party
from shopwarranty.shops.access import OWNER, actor_of, allow
from shopwarranty.shops.history import record_change
from shopwarranty.web.formats import full_date
from shopwarranty.web.notices import tell

from .forms import AskedForm, RetentionForm
from .models import Erasure
from .personal import asking, settings_of_shop
from .personal.outline import outline_of
from .personal.package import write_package
from .personal.retiring import people_past
from .personal.standing import NOTHING, standings

IN_MEMORY = 8_000_000


def the_party(pk: int) -> Party:
    return get_object_or_404(Party.objects.select_related("shop"), pk=pk)


@require_GET
@allow(OWNER)
def personal_data(request: Any, pk: int) -> HttpResponse:
    """What the shop keeps of this person, and what would happen if they asked to be erased."""
    party = the_party(pk)
    standing = standings([pk], request.shop, request.today).get(pk, NOTHING)
    context = {
        "party": party,
        "erasure": Erasure.objects.filter(party=party).first(),
        "outline": outline_of(party),
        "standing": standing,
        "reasons": [reason.words(request.shop) for reason in standing.reasons],
        "section": "shop-settings",
    }
    return render(request, "safekeeping/person.html", context)


@require_POST
@allow(OWNER)
def export_person(request: Any, pk: int) -> HttpResponseBase:
    """One ZIP. Who took it out, and when, stands in the history before the first byte leaves."""
    party = the_party(pk)
    record_change(row=party, act="personal data exported", actor=actor_of(request), at=request.now)
    file = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115 - the response closes it
    write_package(party=party, file=file, now=request.now)
    file.seek(0)
    answer = FileResponse(file, as_attachment=True, filename=f"person-{party.pk}.zip")
    answer["Cache-Control"] = "private, no-store"
    return answer


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def erase_person(request: Any, pk: int) -> HttpResponse:
    """Shows what goes now and what stays, why and until when; then asks how the person asked."""
    party = the_party(pk)
    form = AskedForm(request.POST or None)
    standing = standings([pk], request.shop, request.today).get(pk, NOTHING)
    if form.is_valid():
        try:
            row = asking.ask_erasure(
                party=party,
                how=form.cleaned_data["how"],
                actor=actor_of(request),
                today=request.today,
                now=request.now,
            )
        except asking.AlreadyErased:
            tell(request, _("There is nothing left of this person."))
        else:
            tell(request, said_of(row, request.shop))
        return redirect("personal-data", request.shop.slug, pk)
    context = {
        "form": form,
        "question": _("Erase the data of %(name)s?") % {"name": party.name},
        "explain": _("Tell them the outcome within one month."),
        "consequences": [*goes(party, standing), *stays(request.shop, standing)],
        "act": _("Restrict now, erase later") if standing.reasons else _("Erase for good"),
        "back_url": reverse("personal-data", args=[request.shop.slug, pk]),
        "section": "shop-settings",
    }
    return render(request, "web/confirm.html", context)


def said_of(row: Erasure, shop: Any) -> str:
    if row.erased_at:
        return _("Erased. What the work teaches is still there, without a name.")
    if row.erase_on is None:
        return _("Restricted. The day of erasing follows as soon as nothing is open any more.")
    return _("Restricted. Erased after %(day)s.") % {"day": full_date(row.erase_on, shop)}


def goes(party: Party, standing: Any) -> list[str]:
    if standing.reasons:
        return [
            _("Now: reminders and everything optional stop, and the data are used for promises only."),
            _("Now: the reasons below are written to the person, where there is an address."),
        ]
    return [
        _("Name, address, contact data, messages, notes and signatures go."),
        _("Photos, plates and VIN go where nobody else stands or stood to the vehicle."),
        _("Certificates lose name, address and paper; number, dates and promises stay."),
        _("Panels, film, conditions and what was found stay: the review needs them, without a name."),
    ]


def stays(shop: Any, standing: Any) -> list[str]:
    words = [_("Stays for now. %(why)s") % {"why": reason.words(shop)} for reason in standing.reasons]
    if not standing.reasons:
        return [
            *words,
            _("This cannot be taken back. Backups made before hold the data until they end."),
        ]
    if standing.is_open:
        return [*words, _("Erased by itself when nothing of this is open or claimable any more.")]
    return [*words, _("Erased by itself after %(day)s.") % {"day": full_date(standing.last_day, shop)}]


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def retention(request: Any) -> HttpResponse:
    """How long people's data are kept, and who waits to be erased."""
    row = settings_of_shop.retention_of(request.shop)
    names = tuple(RetentionForm.base_fields)
    form = RetentionForm(request.POST or None, initial={name: getattr(row, name) for name in names})
    if form.is_valid():
        settings_of_shop.change_retention(
            shop=request.shop, values=form.cleaned_data, actor=actor_of(request), now=request.now
        )
        tell(request, _("Saved. It takes effect tonight."))
        return redirect("retention", request.shop.slug)
    rows = Erasure.objects.filter(erased_at=None).select_related("party")
    page = Paginator(rows, 50).get_page(request.GET.get("page"))
    people = settings_of_shop.waiting(list(page.object_list), request.shop)
    past = len(people_past(request.shop, request.today))
    context = {"form": form, "page": page, "people": people, "past": past, "section": "shop-settings"}
    return render(request, "safekeeping/retention.html", context)
