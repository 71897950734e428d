"""What is done with a claim, act by act."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import override
from django.views.decorators.http import require_http_methods, require_POST

from shopwarranty.jobs.models import Place
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.access import ANYONE, DESK, actor_of, allow
from shopwarranty.web.notices import tell

from . import actions
from . import forms as claim_forms
from .actions.deciding import Said
from .case import ITEMS, ItemCase, case_of
from .letters import decision_letter, language_of
from .models import ClaimedDefect, ClaimFact
from .refusals import ClaimRefusal
from .views import the_claim
from .words import refusal_words


def tried(request: Any, form: forms.Form | None, act: Callable[[], object], done: str) -> bool:
    """Runs the act; a refusal is shown on the form, or as a notice where there is none."""
    try:
        act()
    except ClaimRefusal as refusal:
        if form is None:
            tell(request, refusal_words(refusal), level=messages.WARNING)
        else:
            form.add_error(None, refusal_words(refusal))
        return False
    tell(request, done)
    return True


def asked(request: Any, row: Any, form: forms.Form, **more: Any) -> HttpResponse:
    context = {
        "form": form,
        "back_url": reverse("claim", args=[request.shop.slug, row.pk]),
        "section": "claims",
    }
    return render(request, "web/confirm.html", {**context, **more})


@require_http_methods(["GET", "POST"])
@allow(DESK)
def acknowledge(request: Any, pk: int) -> HttpResponse:
    row, form = the_claim(pk), claim_forms.HowForm(request.POST or None)
    if form.is_valid():
        how = form.cleaned_data["how"]

        def act() -> None:
            actions.acknowledge(claim=row, how=how, actor=actor_of(request), now=request.now)

        if tried(request, form, act, _("Acknowledged.")):
            return redirect("claim", request.shop.slug, pk)
    question = _("How was claim %(number)s acknowledged?") % {"number": row.number}
    return asked(request, row, form, question=question, act=_("Keep"))


@require_http_methods(["GET", "POST"])
@allow(DESK)
def assess(request: Any, pk: int) -> HttpResponse:
    row = the_claim(pk)
    initial = {"is_safety": row.is_safety, "is_spreading": row.is_spreading}
    form = claim_forms.AssessForm(request.POST or None, initial=initial)
    if form.is_valid():
        said = form.cleaned_data

        def act() -> None:
            actions.assess(claim=row, **said, actor=actor_of(request), now=request.now)

        if tried(request, form, act, _("In assessment.")):
            return redirect("claim", request.shop.slug, pk)
    explain = _("Safety first: film loose near a lamp, a sensor or a window is seen to today.")
    question = _("Is anybody in danger, and does it spread?")
    return asked(request, row, form, question=question, explain=explain, act=_("Take into assessment"))


@require_http_methods(["GET", "POST"])
@allow(DESK)
def first_report(request: Any, pk: int) -> HttpResponse:
    row = the_claim(pk)
    form = claim_forms.FirstReportForm(request.POST or None, initial={"at": row.first_reported_at})
    if form.is_valid():
        said = form.cleaned_data

        def act() -> None:
            actions.correct_first_report(claim=row, **said, actor=actor_of(request), now=request.now)

        if tried(request, form, act, _("Kept. Cover is looked up for that day.")):
            return redirect("claim", request.shop.slug, pk)
    question = _("When was it first reported?")
    explain = _("That day decides which promises were in force. Both days stay in the history.")
    return asked(request, row, form, question=question, explain=explain, act=_("Keep"))


def the_item(pk: int) -> ClaimedDefect:
    rows = ClaimedDefect.objects.select_related("claim__shop", "claim__vehicle", "defect", "proposal", ITEMS)
    return get_object_or_404(rows, pk=pk)


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def match_item(request: Any, pk: int) -> HttpResponse:
    item = the_item(pk)
    initial = {"place": item.place_id, "defect": item.defect_id, "not_ours": item.is_ours is False}
    form = claim_forms.MatchForm(
        request.POST or None,
        vehicle=item.claim.vehicle,
        catalogue=ShopCatalogue(request.shop),
        initial=initial,
    )
    if form.is_valid():
        said = form.cleaned_data
        place = Place.objects.filter(pk=said["place"] or 0).first()
        defect = form.known.get(said["defect"])
        ours = False if said["not_ours"] else None

        def act() -> None:
            actions.match_item(
                item=item, place=place, defect=defect, is_ours=ours, actor=actor_of(request), now=request.now
            )

        if tried(request, form, act, _("Matched.")):
            return redirect("claim", request.shop.slug, item.claim_id)
    return asked(request, item.claim, form, question=_("Where on the vehicle is it?"), act=_("Keep"))


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def add_fact(request: Any, pk: int) -> HttpResponse:
    item = the_item(pk)
    case = case_of(item, ShopCatalogue(request.shop))
    form = claim_forms.FactForm(request.POST or None, clauses=case.clauses)
    if form.is_valid():
        said = form.cleaned_data

        def act() -> None:
            actions.add_fact(item=item, **said, actor=actor_of(request), now=request.now)

        if tried(request, form, act, _("Kept. The exclusion shows beside the promise now.")):
            return redirect("claim", request.shop.slug, item.claim_id)
    explain = _(
        "An exclusion is shown only with a fact. If there is none, leave this page: that is an answer."
    )
    question = _("Which fact speaks for an exclusion?")
    return asked(request, item.claim, form, question=question, explain=explain, act=_("Keep the fact"))


@require_POST
@allow(DESK)
def set_aside_fact(request: Any, pk: int) -> HttpResponse:
    fact = get_object_or_404(ClaimFact.objects.select_related("item__claim__shop"), pk=pk)
    why = request.POST.get("why", "")

    def act() -> None:
        actions.set_aside_fact(fact=fact, why=why, actor=actor_of(request), now=request.now)

    tried(request, None, act, _("Set aside; it stays listed."))
    return redirect("claim", request.shop.slug, fact.item.claim_id)


@require_http_methods(["GET", "POST"])
@allow(DESK)
def decide(request: Any, pk: int) -> HttpResponse:
    """An owner decides; the desk prepares on the same page."""
    item = the_item(pk)
    case = case_of(item, ShopCatalogue(request.shop))
    form = claim_forms.DecideForm(request.POST or None, case=case, initial=prepared(case))
    decides = request.member.is_owner
    if form.is_valid():
        act = actions.decide if decides else actions.propose
        done = _("Decided.") if decides else _("Prepared. An owner decides.")
        said = said_of(form)
        if tried(
            request, form, lambda: act(item=item, said=said, actor=actor_of(request), now=request.now), done
        ):
            return redirect("claim", request.shop.slug, item.claim_id)
    context = {"case": case, "claim": item.claim, "form": form, "decides": decides, "section": "claims"}
    return render(request, "claims/decide.html", context)


def prepared(case: ItemCase) -> dict[str, Any]:
    """What the desk prepared, as a start."""
    if case.proposal is None:
        return {}
    return {"answer": case.proposal.answer, "ground": case.proposal.ground, "reason": case.proposal.reason}


def said_of(form: forms.Form) -> Said:
    said = form.cleaned_data
    line = said.get("line") or ""
    return Said(said["answer"], said["reason"], said.get("ground") or "", int(line) if line else None)


@require_http_methods(["GET", "POST"])
@allow(DESK)
def tell_decision(request: Any, pk: int) -> HttpResponse:
    """The letter as it will be sent, to read first."""
    row = the_claim(pk)
    if row.state != row.State.DECIDED:
        tell(request, _("The claim is at another stage by now. Look at it again."), level=messages.WARNING)
        return redirect("claim", request.shop.slug, pk)
    if request.method == "POST":

        def act() -> None:
            actions.tell(claim=row, actor=actor_of(request), now=request.now)

        tried(request, None, act, _("The letter is kept as sent. Without an address, print it below."))
        return redirect("claim", request.shop.slug, pk)
    with override(language_of(row)):
        letter = decision_letter(row, request.now)
    return render(request, "claims/tell.html", {"claim": row, "letter": letter, "section": "claims"})


@require_http_methods(["GET", "POST"])
@allow(DESK)
def mark_remedied(request: Any, pk: int) -> HttpResponse:
    row, form = the_claim(pk), claim_forms.NoteForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        note = form.cleaned_data["note"]

        def act() -> None:
            actions.mark_remedied(claim=row, note=note, actor=actor_of(request), now=request.now)

        if tried(request, form, act, _("Put right. Ask the holder, and close it.")):
            return redirect("claim", request.shop.slug, pk)
    question = _("Is everything put right that was accepted?")
    return asked(request, row, form, question=question, act=_("It is put right"))


@require_http_methods(["GET", "POST"])
@allow(DESK)
def close(request: Any, pk: int) -> HttpResponse:
    row, form = the_claim(pk), claim_forms.HolderSaidForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data["holder_said"]

        def act() -> None:
            actions.close(claim=row, holder_said=said, actor=actor_of(request), now=request.now)

        if tried(request, form, act, _("Closed. It can be opened again.")):
            return redirect("claim", request.shop.slug, pk)
    question = _("Close claim %(number)s?") % {"number": row.number}
    return asked(request, row, form, question=question, act=_("Close it"))


@require_http_methods(["GET", "POST"])
@allow(DESK)
def reopen(request: Any, pk: int) -> HttpResponse:
    row, form = the_claim(pk), claim_forms.ReopenForm(request.POST or None)
    if form.is_valid():
        why = form.cleaned_data["why"]

        def act() -> None:
            actions.reopen(claim=row, why=why, actor=actor_of(request), now=request.now)

        if tried(request, form, act, _("Open again; it is decided anew.")):
            return redirect("claim", request.shop.slug, pk)
    question = _("Open claim %(number)s again?") % {"number": row.number}
    explain = _("What was decided stays in the record, and is decided anew.")
    return asked(request, row, form, question=question, explain=explain, act=_("Open it again"))
