"""Warranty plans: the list, a version as it reads, and the editor with the checklist beside it."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import override
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.jobs.clean_photo import PhotoRefused
from shopwarranty.shops.access import ANYONE, OWNER, actor_of, allow
from shopwarranty.web.notices import tell

from . import plan_actions
from .certificate_checks import check, text_of
from .certificate_pdf import render as render_pdf
from .disclosures import Disclosure, flags_of, profile_of, texts_to_confirm
from .forms import LogoForm, TextReadForm
from .legal_texts import RequiredText
from .logo import remove_logo, set_logo
from .models import Plan, PlanVersion, TextConfirmation
from .paper_words import cover_rows
from .plan_forms import LineFormSet, PlanForm, initial_lines
from .preparing import logo_of
from .snapshot_parts import Snapshot
from .specimen import specimen, unsaved
from .usual_plan import is_untouched
from .views import pdf_response


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def plans(request: Any) -> HttpResponse:
    """All plans; a new one starts as a copy of the usual plan's words."""
    name = request.POST.get("name", "").strip()
    error = ""
    if request.method == "POST" and name:
        try:
            plan = plan_actions.add_plan(name=name[:80], actor=actor_of(request), now=request.now)
            return redirect("plan-edit", request.shop.slug, plan.pk)
        except plan_actions.PlanNameTaken:
            error = _("Another plan has this name.")
    rows = Plan.objects.prefetch_related("versions").order_by("retired_at", "-is_usual", "name")
    context = {"plans": [listed(plan) for plan in rows], "name": name, "error": error, "section": "plans"}
    return render(request, "warranty/plans.html", context)


def listed(plan: Plan) -> dict[str, Any]:
    versions = list(plan.versions.all())
    published = [version for version in versions if version.published_at]
    return {
        "plan": plan,
        "published": published[0] if published else None,
        "draft": next((version for version in versions if version.published_at is None), None),
        "older": published[1:],
        "untouched": bool(published) and is_untouched(published[0]),
    }


def the_version(pk: int) -> PlanVersion:
    return get_object_or_404(PlanVersion.objects.select_related("plan", "written_by"), pk=pk)


def shown(request: Any, version: PlanVersion, lines: Any) -> Snapshot:
    with override(version.language):
        return specimen(version, list(lines), request.shop, request.now)


@require_GET
@allow(ANYONE)
def version_view(request: Any, pk: int) -> HttpResponse:
    version = the_version(pk)
    snapshot = shown(request, version, version.lines.all())
    context = {
        "version": version,
        "snapshot": snapshot,
        "terms": snapshot.terms,
        "covered": list(cover_rows(snapshot)),
        "items": ordered(check(snapshot)),
        "untouched": is_untouched(version),
        "section": "plans",
    }
    return render(request, "warranty/plan_version.html", context)


@require_GET
@allow(ANYONE)
def version_pdf(request: Any, pk: int) -> HttpResponse:
    """The plan on an invented vehicle: to read before the sale, to show with a quote."""
    version = the_version(pk)
    snapshot = shown(request, version, version.lines.all())
    content = render_pdf(snapshot, logo=logo_of(request.shop), preview=True)
    return pdf_response(content, "plan.pdf", download=False)


def ordered(items: tuple[Disclosure, ...]) -> list[Disclosure]:
    """What blocks, then what asks, then what only a person can tell, then what is in order."""
    rank = {"blocks": 0, "asks": 1, "tells": 2, "nothing": 3}
    return sorted(items, key=lambda item: rank[item.effect])


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def edit(request: Any, pk: int) -> HttpResponse:
    """The draft of a plan, with the specimen and the checklist beside it. Saving publishes nothing."""
    plan = get_object_or_404(Plan.objects.all(), pk=pk)
    start = starting_version(plan)
    form = PlanForm(request.POST or None, initial=PlanForm.initial_of(start) if start else {})
    lines: Any = LineFormSet(
        request.POST or None, initial=initial_lines(start) if start else [], prefix="line"
    )
    typed = request.method == "POST" and form.is_valid() and lines.is_valid()
    if typed and "save" in request.POST:
        draft = plan_actions.write_draft(
            plan=plan, words=form.cleaned_data, lines=lines.values(), actor=actor_of(request), now=request.now
        )
        tell(request, _("The draft is saved. Certificates go by the published version until you publish it."))
        return redirect("plan-version", request.shop.slug, draft.pk)
    seen = beside(request, form, lines, start)
    context = {"plan": plan, "form": form, "lines": lines, "section": "plans", **seen}
    template = "warranty/plan_beside.html" if "beside" in request.POST else "warranty/plan_edit.html"
    return render(request, template, context)


def starting_version(plan: Plan) -> PlanVersion | None:
    """The draft, else the latest version, else the usual plan's: a new plan starts as its copy."""
    draft = plan.versions.filter(published_at__isnull=True).first()
    return draft or plan.versions.first() or plan_actions.usual_version()


def beside(request: Any, form: PlanForm, lines: Any, start: PlanVersion | None) -> dict[str, Any]:
    """Specimen and checklist of what is typed, else of what is saved."""
    if form.is_bound and form.is_valid() and lines.is_valid():
        version, rows = unsaved(form.cleaned_data, lines.values(), Plan(name=_("draft")))
    elif start is not None and not form.is_bound:
        version, rows = start, list(start.lines.all())
    else:
        return {}
    snapshot = shown(request, version, rows)
    return {"snapshot": snapshot, "covered": list(cover_rows(snapshot)), "items": ordered(check(snapshot))}


@require_POST
@allow(OWNER)
def publish(request: Any, pk: int) -> HttpResponse:
    version = the_version(pk)
    snapshot = shown(request, version, version.lines.all())
    items = check(snapshot)
    warned = [item.identifier for item in items if item.asks_reason]
    reasons = {identifier: request.POST.get(f"reason-{identifier}", "") for identifier in warned}
    if any(item.blocks for item in items):
        tell(request, _("The law asks for something that is missing; see the list."), level=messages.ERROR)
        return redirect("plan-version", request.shop.slug, version.pk)
    try:
        plan_actions.publish(
            version=version, warned=warned, reasons=reasons, actor=actor_of(request), now=request.now
        )
    except plan_actions.ReasonForWarning:
        tell(request, _("Write for each warning why the words stand all the same."), level=messages.WARNING)
    except plan_actions.PromisesNothing:
        tell(request, _("A plan needs at least one cover line."), level=messages.WARNING)
    except plan_actions.AlreadyPublished:
        tell(request, _("It is published already."), level=messages.WARNING)
    else:
        tell(request, _("Published. Certificates issued from now on go by it."))
    return redirect("plan-version", request.shop.slug, version.pk)


@require_POST
@allow(OWNER)
def standing(request: Any, pk: int) -> HttpResponse:
    """Makes a plan the usual one, or takes it off the list."""
    plan = get_object_or_404(Plan.objects.all(), pk=pk)
    if "usual" in request.POST:
        plan_actions.make_usual(plan=plan, actor=actor_of(request), now=request.now)
        tell(request, _("%(plan)s is offered first from now on.") % {"plan": plan.name})
    else:
        plan_actions.retire_plan(plan=plan, actor=actor_of(request), now=request.now)
        tell(request, _("%(plan)s is not offered any more.") % {"plan": plan.name})
    return redirect("plans", request.shop.slug)


def asked_texts(request: Any) -> tuple[RequiredText, ...]:
    """Of every plan on offer, each wording once."""
    found: dict[str, RequiredText] = {}
    for version in plan_actions.published_versions():
        snapshot = shown(request, version, version.lines.all())
        profile = profile_of(snapshot.legal.profile)
        for text in texts_to_confirm(profile, flags_of(text_of(snapshot))):
            found.setdefault(text.confirmed_as, text)
    return tuple(found.values())


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def legal_texts(request: Any) -> HttpResponse:
    """Required wording that was not read at its source: a person of the shop compares it and says where."""
    texts = asked_texts(request)
    form = TextReadForm(request.POST or None)
    wanted = next((text for text in texts if text.confirmed_as == request.POST.get("identifier")), None)
    if wanted is not None and form.is_valid():
        TextConfirmation.objects.create(
            identifier=wanted.confirmed_as,
            text_version=wanted.version,
            read_where=form.cleaned_data["read_where"],
            member=request.member,
            at=request.now,
        )
        tell(request, _("Kept: who compared it, when and where."))
        return redirect("legal-texts", request.shop.slug)
    rows = TextConfirmation.objects.select_related("member").order_by("at")
    said = {(row.identifier, row.text_version): row for row in rows}
    listed_texts = [(text, said.get((text.confirmed_as, text.version))) for text in texts]
    context = {"texts": listed_texts, "form": form, "wanted": wanted, "section": "plans"}
    return render(request, "warranty/legal_texts.html", context)


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def logo(request: Any) -> HttpResponse:
    """The shop's logo, instead of its name in type, on certificates to come."""
    form = LogoForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and "remove" in request.POST:
        remove_logo(shop=request.shop, actor=actor_of(request), now=request.now)
        tell(request, _("Certificates carry the shop's name in type again."))
        return redirect("plans", request.shop.slug)
    if request.method == "POST" and form.is_valid():
        try:
            sent = form.cleaned_data["picture"].read()
            set_logo(shop=request.shop, sent=sent, actor=actor_of(request), now=request.now)
        except PhotoRefused:
            form.add_error(
                "picture", _("This is no picture that can be read, or it is too large. Try a PNG.")
            )
        else:
            tell(request, _("Certificates issued from now on carry it. Look at the preview of a plan."))
            return redirect("plans", request.shop.slug)
    return render(request, "warranty/logo.html", {"form": form, "section": "plans"})
