"""A finding of a finished visit put right by a new row; and the kinds of defect a shop adds."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from shopwarranty.inspections.actions.refusals import CheckRefusal
from shopwarranty.inspections.models import Finding
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.access import ANYONE, OWNER, actor_of, allow
from shopwarranty.web.notices import tell

from .. import actions
from ..actions import PlaceSaid
from ..actions.refusals import DefectRefusal
from ..defect_forms import KindForm
from ..kinds import KindsOfShop
from ..look_forms import IN_WORDS, AnswerForm, PlaceForms, SightForm
from ..models import ShopDefectKind
from ..visit_forms import CorrectForm
from ..visit_summary import Where
from ..words import refusal_words


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def correct_finding(request: Any, pk: int) -> HttpResponse:
    rows = Finding.objects.filter(corrected_at__isnull=True, visit__state="finished")
    row = get_object_or_404(rows.select_related("visit__job__vehicle", "place__piece__panel_work"), pk=pk)
    forms, why = forms_for(request, row), CorrectForm(request.POST or None)
    if request.method == "POST" and are_valid(forms, why):
        try:
            actions.correct_place(
                finding=row,
                said=said(row, forms),
                why=why.cleaned_data["why"],
                actor=actor_of(request),
                now=request.now,
            )
        except (CheckRefusal, DefectRefusal) as refusal:
            tell(request, refusal_words(refusal), level=messages.ERROR)
        else:
            tell(request, _("Corrected. Both answers stay readable."))
            return redirect("visit", request.shop.slug, row.visit_id)
    where = Where(ShopCatalogue(request.shop), row.visit.job.vehicle.body_style).both(row.place)
    context = {"finding": row, "place": forms, "why": why, "where": where, "in_words": in_words()}
    return render(request, "defects/correct.html", {**context, "section": "checks"})


def in_words() -> list[str]:
    """What severities 1 to 4 mean."""
    return [_(words) for words in IN_WORDS[1:]]


def forms_for(request: Any, row: Finding) -> PlaceForms:
    posted, place = request.POST or None, row.place
    sight = SightForm(
        posted,
        request.FILES or None,
        prefix=f"p{place.pk}-0",
        place_kind=place.kind,
        kinds=KindsOfShop(request.shop),
        shop=request.shop,
    )
    answer = AnswerForm(posted, prefix=f"p{place.pk}", initial={"result": row.result, "why_not": row.why_not})
    return PlaceForms(place.pk, row.version, "", "", answer, (sight,), "", False)


def are_valid(forms: PlaceForms, why: CorrectForm) -> bool:
    (sight,) = forms.sights
    if not (why.is_valid() and forms.answer.is_valid()):
        return False
    result = forms.answer.cleaned_data["result"]
    if not result:
        forms.answer.add_error("result", _("Say what it should have been."))
    if result != Finding.Result.DEFECT:
        return bool(result)
    return sight.is_valid()


def said(row: Finding, forms: PlaceForms) -> PlaceSaid:
    result = forms.answer.cleaned_data["result"]
    sights = (forms.sights[0].sight(),) if result == Finding.Result.DEFECT else ()
    return PlaceSaid(row.place, result, forms.answer.cleaned_data["why_not"], sights)


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def defect_kinds(request: Any) -> HttpResponse:
    form = KindForm(request.POST or None)
    if form.is_valid():
        values = dict(form.cleaned_data)
        counts = values.pop("counts") == "yes"
        try:
            actions.add_defect_kind(**values, is_failure=counts, actor=actor_of(request), now=request.now)
        except DefectRefusal as refusal:
            form.add_error("name", refusal_words(refusal))
        else:
            tell(request, _("Added. It is offered from now on."))
            return redirect("defect-kinds", request.shop.slug)
    context = {
        "own": list(ShopDefectKind.objects.all()),
        "known": KindsOfShop(request.shop).catalogue(),
        "form": form,
        "section": "shop-settings",
    }
    return render(request, "defects/kinds.html", context)


@require_POST
@allow(OWNER)
def retire_kind(request: Any, pk: int) -> HttpResponse:
    kind = get_object_or_404(ShopDefectKind.objects.all(), pk=pk)
    actions.retire_defect_kind(kind=kind, actor=actor_of(request), now=request.now)
    tell(request, _("No longer offered. What was found under it counts as before."))
    return redirect("defect-kinds", request.shop.slug)
