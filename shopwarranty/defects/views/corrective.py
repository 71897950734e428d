"""Corrective actions: the list, one action, and what is done with it."""

from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.shops.access import ANYONE, OWNER, actor_of, allow
from shopwarranty.shops.models import Change
from shopwarranty.web.notices import tell

from ..actions import corrective
from ..actions.refusals import DefectRefusal
from ..corrective_forms import ActionForm, EffectForm, InUseForm, WhyForm
from ..corrective_list import SHOWN, actions_shown, counted, unanswered, with_chips
from ..models import CorrectiveAction, Defect

PER_PAGE = 50


@require_GET
@allow(ANYONE)
def corrective_actions(request: Any) -> HttpResponse:
    shown = request.GET.get("show", "")
    page = Paginator(actions_shown(shown), PER_PAGE).get_page(request.GET.get("page"))
    with_chips(page.object_list, request.today)
    waiting = unanswered()
    context = {
        "page": page,
        "shown": shown,
        "choices": SHOWN,
        "waiting": waiting[:10],
        "waiting_count": waiting.count(),
        "section": "defects",
    }
    return render(request, "defects/corrective_actions.html", context)


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def new_action(request: Any) -> HttpResponse:
    """From a defect (`?defect=`), or by itself."""
    asked = request.POST.get("defect") or request.GET.get("defect", "")
    defect = Defect.objects.filter(pk=asked).first() if asked.isdecimal() else None
    form = ActionForm(request.POST or None, initial={"owner": request.member})
    if form.is_valid():
        row = corrective.set_action(
            **form.cleaned_data,
            defects=[defect] if defect else [],
            actor=actor_of(request),
            now=request.now,
        )
        tell(request, _("Set. Say from which day work is done that way."))
        return redirect("corrective-action", request.shop.slug, row.pk)
    return render(request, "defects/new_action.html", {"form": form, "defect": defect, "section": "defects"})


def the_action(pk: int) -> CorrectiveAction:
    rows = CorrectiveAction.objects.select_related("shop", "owner", "effect_checked_by")
    return get_object_or_404(rows, pk=pk)


@require_GET
@allow(ANYONE)
def corrective_action(request: Any, pk: int) -> HttpResponse:
    row = the_action(pk)
    with_chips([row], request.today)
    context = {
        "action": row,
        "because": Defect.objects.filter(actions__action=row).order_by("-found_on"),
        "counted": counted(row),
        "history": Change.objects.filter(table=CorrectiveAction._meta.db_table, row=row.pk).order_by(
            "at", "pk"
        ),
        "section": "defects",
    }
    return render(request, "defects/corrective_action.html", context)


def asked(
    request: Any, row: CorrectiveAction, form: Any, doing: Callable[[], object], **words: Any
) -> HttpResponse:
    """A page with one form; what was typed stays when the act is refused."""
    back = reverse("corrective-action", args=[request.shop.slug, row.pk])
    if form.is_valid():
        try:
            doing()
        except DefectRefusal as refusal:
            form.add_error(None, refusal_words(refusal))
        else:
            tell(request, _("Kept."))
            return redirect(back)
    return render(
        request, "web/confirm.html", {"form": form, "back_url": back, "section": "defects", **words}
    )


def refusal_words(refusal: Exception) -> str:
    words: dict[type[Exception], str] = {
        corrective.NotInUseYet: _("That day has not come yet. Set it when work is done that way."),
        corrective.WordsMissing: _("Say it in words."),
    }
    return words.get(type(refusal), _("The action is at another stage by now. Look at it again."))


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def put_in_use(request: Any, pk: int) -> HttpResponse:
    row = the_action(pk)
    form = InUseForm(request.POST or None, initial={"effective_from": row.effective_from or request.today})

    def doing() -> None:
        corrective.put_in_use(action=row, **form.cleaned_data, actor=actor_of(request), now=request.now)

    question = _("From which day is work done that way?")
    return asked(request, row, form, doing, question=question, act=_("It is in use"))


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def look_at_effect(request: Any, pk: int) -> HttpResponse:
    row, form = the_action(pk), EffectForm(request.POST or None)
    figures = counted(row)

    def doing() -> None:
        corrective.look_at_effect(
            action=row,
            words=form.cleaned_data["words"],
            figures=asdict(figures) if figures else {},
            actor=actor_of(request),
            now=request.now,
        )

    question = _("What came of %(number)s?") % {"number": row.number}
    explain = _(
        "Open the review first: it compares before and after at equal ages. Plain counts flatter what is new."
    )
    return asked(request, row, form, doing, question=question, explain=explain, act=_("Keep"))


@require_POST
@allow(OWNER)
def close_action(request: Any, pk: int) -> HttpResponse:
    row = the_action(pk)
    try:
        corrective.close_action(action=row, actor=actor_of(request), now=request.now)
    except DefectRefusal:
        tell(request, _("Look at its effect first: without that it is not closed."), level=messages.WARNING)
    else:
        tell(request, _("Closed. It can be opened again."))
    return redirect("corrective-action", request.shop.slug, pk)


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def drop_action(request: Any, pk: int) -> HttpResponse:
    row, form = the_action(pk), WhyForm(request.POST or None)

    def doing() -> None:
        corrective.drop_action(action=row, **form.cleaned_data, actor=actor_of(request), now=request.now)

    question = _("Do nothing about it?")
    return asked(request, row, form, doing, question=question, act=_("No action"))


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def reopen_action(request: Any, pk: int) -> HttpResponse:
    row, form = the_action(pk), WhyForm(request.POST or None)

    def doing() -> None:
        corrective.reopen_action(action=row, **form.cleaned_data, actor=actor_of(request), now=request.now)

    question = _("Open %(number)s again?") % {"number": row.number}
    return asked(request, row, form, doing, question=question, act=_("Open it again"))
