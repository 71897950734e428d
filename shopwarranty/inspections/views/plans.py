"""Check plans: what is asked of every vehicle after handover, and what a change of it would do."""

from typing import Any

from django.contrib import messages
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.shops.access import OWNER, actor_of, allow
from shopwarranty.shops.models import Change
from shopwarranty.web.notices import tell

from ..actions import check_plans as actions
from ..actions.plans import HANDOVER
from ..actions.refusals import CheckRefusal
from ..models import Check, CheckPlan
from ..plan_changes import Effect, effect_of
from ..plan_forms import CheckPlanForm
from ..plan_words import change_lines, when_words
from ..words import refusal_words

EXAMPLES = 8


@require_GET
@allow(OWNER)
def check_plans(request: Any) -> HttpResponse:
    due = Count("checks", filter=Q(checks__state=Check.State.DUE))
    rows = CheckPlan.objects.annotate(due=due).order_by("offset_months", "offset_days", "pk")
    plans = [(plan, when_words(plan)) for plan in rows]
    return render(request, "inspections/check_plans.html", {"plans": plans, "section": "check-plans"})


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def new_check_plan(request: Any) -> HttpResponse:
    form = CheckPlanForm(request.POST or None)
    if form.is_valid():
        plan = actions.add_check_plan(values=form.values(), actor=actor_of(request), now=request.now)
        tell(request, _("Saved. Every vehicle handed over from now on gets “%(name)s”.") % {"name": plan})
        return redirect("check-plans", request.shop.slug)
    return render(request, "inspections/check_plan.html", {"form": form, "section": "check-plans"})


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def check_plan(request: Any, pk: int) -> HttpResponse:
    """Nothing is saved before its effect was shown: the button to save names what was looked at."""
    plan = get_object_or_404(CheckPlan.objects.all(), pk=pk)
    form = CheckPlanForm(request.POST or None, plan=plan, at_handover=plan.key == HANDOVER)
    effect = effect_of(plan, form.values()) if form.is_valid() else None
    if effect is not None and request.POST.get("looked_at") == token_of(form, plan):
        if save(request, plan, form):
            return redirect("check-plan", request.shop.slug, pk)
        effect = None
    context = {
        "plan": plan,
        "form": form,
        "effect": effect,
        "effect_lines": effect_lines(effect, request) if effect else [],
        "examples": effect.shifts[:EXAMPLES] if effect else [],
        "looked_at": token_of(form, plan) if effect else "",
        "history": history_of(plan),
        "section": "check-plans",
    }
    return render(request, "inspections/check_plan.html", context)


def token_of(form: CheckPlanForm, plan: CheckPlan) -> str:
    return f"{plan.version}/{form.values()!r}"


def save(request: Any, plan: CheckPlan, form: CheckPlanForm) -> bool:
    try:
        change, effect = actions.change_check_plan(
            plan=plan,
            values=form.values(),
            seen_version=plan.version,
            actor=actor_of(request),
            now=request.now,
        )
    except CheckRefusal as refusal:
        tell(request, refusal_words(refusal), level=messages.ERROR)
        return False
    if change is None:
        tell(request, _("Nothing was different."))
        return True
    count = len(effect.shifts)
    said = ngettext("Saved. One check has a new day.", "Saved. %(n)d checks have a new day.", count)
    undo_url = reverse("check-plan-undo", args=[request.shop.slug, plan.pk, change.pk])
    tell(request, said % {"n": count} if count else _("Saved."), undo_url=undo_url)
    return True


def effect_lines(effect: Effect, request: Any) -> list[str]:
    moved, late = len(effect.shifts), effect.late_on(request.today)
    moves = ngettext(
        "One check gets another day or window.", "%(n)d checks get another day or window.", moved
    )
    lines = [moves % {"n": moved} if moved else _("No check that is planned already changes.")]
    if late:
        words = ngettext("One of them is overdue then.", "%(n)d of them are overdue then.", late)
        lines.append(words % {"n": late})
    if moved and effect.stays_booked:
        stays = effect.stays_booked
        words = ngettext(
            "One check with a time keeps its day.", "%(n)d checks with a time keep their day.", stays
        )
        lines.append(words % {"n": stays})
    if effect.in_the_way:
        words = ngettext(
            "One stays because its vehicle has a check on that day already.",
            "%(n)d stay because their vehicles have a check on that day already.",
            effect.in_the_way,
        )
        lines.append(words % {"n": effect.in_the_way})
    return [*lines, _("What was done, missed or set aside stays as it was, and so does every certificate.")]


def history_of(plan: CheckPlan) -> list[tuple[Change, list[str]]]:
    rows = Change.objects.filter(table=CheckPlan._meta.db_table, row=plan.pk).select_related("member")[:50]
    return [(row, change_lines(row)) for row in rows]


@require_POST
@allow(OWNER)
def undo_change(request: Any, pk: int, change: int) -> HttpResponse:
    plan = get_object_or_404(CheckPlan.objects.all(), pk=pk)
    rows = Change.objects.filter(table=CheckPlan._meta.db_table, row=plan.pk, act=actions.CHANGED)
    row = get_object_or_404(rows, pk=change)
    try:
        actions.undo_plan_change(plan=plan, change=row, actor=actor_of(request), now=request.now)
    except CheckRefusal as refusal:
        tell(request, refusal_words(refusal), level=messages.ERROR)
    else:
        tell(request, _("Put back as it was. Checks that got a time meanwhile keep it."))
    return redirect("check-plan", request.shop.slug, pk)


@require_POST
@allow(OWNER)
def standing(request: Any, pk: int) -> HttpResponse:
    """Retires the plan, or takes it up again."""
    plan = get_object_or_404(CheckPlan.objects.all(), pk=pk)
    act = actions.take_check_plan_up_again if plan.retired_at else actions.retire_check_plan
    try:
        act(plan=plan, actor=actor_of(request), now=request.now)
    except CheckRefusal as refusal:
        tell(request, refusal_words(refusal), level=messages.ERROR)
    else:
        again = _("Planned again for every vehicle handed over from now on.")
        said = _("No longer planned. Checks that are planned already stay.")
        undo = reverse("check-plan-standing", args=[request.shop.slug, pk])
        tell(request, again if plan.retired_at else said, undo_url=undo)
    return redirect("check-plans", request.shop.slug)
