"""Claims to film makers at the desk: the list, one claim, writing, sending, what came of it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from shopwarranty.defects.models import Defect
from shopwarranty.films.models import FilmProduct, Lot
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.access import DESK, actor_of, allow
from shopwarranty.shops.models import Change
from shopwarranty.warranty.views import pdf_response
from shopwarranty.web.notices import tell

from ..models import MakerClaim
from . import actions
from .dossier import lines_of
from .forms import AnswerForm, ClaimedForm, DropForm, SendForm
from .listing import AT_MOST, SHOWN, claimable, claims, lots_with_defects, standing, with_chips
from .paper import claim_pdf
from .refusals import MakerClaimRefusal, refusal_words
from .stages import answer_by

PER_PAGE = 50
SECTION = {"section": "claims"}


@require_GET
@allow(DESK)
def maker_claims(request: Any) -> HttpResponse:
    shown = request.GET.get("show", "")
    page = Paginator(claims(shown), PER_PAGE).get_page(request.GET.get("page"))
    with_chips(page.object_list, request.today)
    found = standing(request.today)
    context = {"page": page, "shown": shown, "choices": SHOWN, "standing": found, **SECTION}
    return render(request, "claims/maker/list.html", context)


def the_claim(pk: int) -> MakerClaim:
    rows = MakerClaim.objects.select_related("shop", "product__shop", "lot", "terms", "made_by")
    return get_object_or_404(rows, pk=pk)


@require_GET
@allow(DESK)
def maker_claim(request: Any, pk: int) -> HttpResponse:
    row = the_claim(pk)
    with_chips([row], request.today)
    steps = Change.objects.filter(table=MakerClaim._meta.db_table, row=row.pk).order_by("at", "pk")
    context = {"claim": row, "lines": lines_of(row), "steps": list(steps), **SECTION}
    return render(request, "claims/maker/claim.html", context)


@require_http_methods(["GET", "POST"])
@allow(DESK)
def new_maker_claim(request: Any) -> HttpResponse:
    """Of a lot (`?lot=`), or of a defect's film (`?defect=`); without either the lots are shown."""
    lot, product, defect = about(request.GET)
    if product is None:
        part = Paginator(lots_with_defects(), PER_PAGE).get_page(request.GET.get("page"))
        return render(request, "claims/maker/choose_lot.html", {"page": part, **SECTION})
    form = claimed_form(request, product, lot, {"defects": [str(defect.pk)] if defect else []})
    if form.is_valid():
        try:
            row = actions.start_claim(
                product=product,
                lot=lot,
                claimed=form.claimed(),
                actor=actor_of(request),
                now=request.now,
            )
        except MakerClaimRefusal as refusal:
            form.add_error(None, refusal_words(refusal))
        else:
            tell(request, _("Kept as %(number)s. Look at the PDF, then send it.") % {"number": row.number})
            return redirect("maker-claim", request.shop.slug, row.pk)
    context = {"form": form, "product": product, "lot": lot, **SECTION}
    return render(request, "claims/maker/write.html", context)


def about(said: Any) -> tuple[Lot | None, FilmProduct | None, Defect | None]:
    """The film that a claim is to be about; what is no number of ours is not found."""
    try:
        if said.get("defect"):
            rows = Defect.objects.select_related("place__piece__lot", "place__piece__product__shop")
            defect = get_object_or_404(rows, pk=int(said["defect"]))
            return defect.place.piece.lot, defect.place.piece.product, defect
        if said.get("lot"):
            lot = get_object_or_404(Lot.objects.select_related("product__shop"), pk=int(said["lot"]))
            return lot, lot.product, None
    except (ValueError, OverflowError) as wrong:
        raise Http404 from wrong
    return None, None, None


def claimed_form(
    request: Any, product: FilmProduct, lot: Lot | None, initial: Any, but: MakerClaim | None = None
) -> ClaimedForm:
    return ClaimedForm(
        request.POST or None,
        known=claimable(product, lot, but)[:AT_MOST],
        shop=request.shop,
        catalogue=ShopCatalogue(request.shop),
        initial=initial,
    )


@require_http_methods(["GET", "POST"])
@allow(DESK)
def change_maker_claim(request: Any, pk: int) -> HttpResponse:
    row = the_claim(pk)
    chosen = [str(key) for key in row.pieces.values_list("defect", flat=True)]
    initial = {"defects": chosen, "words": row.words, "asked": row.asked, "with_vin": row.with_vin}
    form = claimed_form(request, row.product, row.lot, initial, but=row)
    if form.is_valid():
        try:
            actions.change_claim(claim=row, claimed=form.claimed(), actor=actor_of(request), now=request.now)
        except MakerClaimRefusal as refusal:
            form.add_error(None, refusal_words(refusal))
        else:
            return redirect("maker-claim", request.shop.slug, row.pk)
    context = {"form": form, "product": row.product, "lot": row.lot, "claim": row, **SECTION}
    return render(request, "claims/maker/write.html", context)


@require_http_methods(["GET", "POST"])
@allow(DESK)
def send_maker_claim(request: Any, pk: int) -> HttpResponse:
    row = the_claim(pk)
    initial = {"answer_due_on": answer_by(row.terms, request.today)}
    form = SendForm(request.POST or None, today=request.today, initial=initial)
    if form.is_valid():
        said = form.cleaned_data
        try:
            actions.send_claim(claim=row, **said, actor=actor_of(request), now=request.now)
        except MakerClaimRefusal as refusal:
            form.add_error(None, refusal_words(refusal))
        else:
            tell(request, _("Sent. The PDF is kept exactly as it was sent."))
            return redirect("maker-claim", request.shop.slug, row.pk)
    context = {"form": form, "claim": row, "lines": lines_of(row), **SECTION}
    return render(request, "claims/maker/send.html", context)


@require_http_methods(["GET", "POST"])
@allow(DESK)
def answer_maker_claim(request: Any, pk: int) -> HttpResponse:
    row = the_claim(pk)
    initial = {"on": request.today, "reference": row.maker_reference}
    form = AnswerForm(
        request.POST or None, claim=row, today=request.today, shop=request.shop, initial=initial
    )
    if form.is_valid():
        try:
            actions.note_answer(claim=row, answer=form.answer(), actor=actor_of(request), now=request.now)
        except MakerClaimRefusal as refusal:
            form.add_error(None, refusal_words(refusal))
        else:
            return redirect("maker-claim", request.shop.slug, row.pk)
    return render(request, "claims/maker/answer.html", {"form": form, "claim": row, **SECTION})


@require_http_methods(["GET", "POST"])
@allow(DESK)
def drop_maker_claim(request: Any, pk: int) -> HttpResponse:
    row = the_claim(pk)
    form = DropForm(request.POST or None)
    if form.is_valid():
        try:
            actions.drop_claim(claim=row, **form.cleaned_data, actor=actor_of(request), now=request.now)
        except MakerClaimRefusal as refusal:
            form.add_error(None, refusal_words(refusal))
        else:
            return redirect("maker-claim", request.shop.slug, row.pk)
    context = {
        "question": _("Give up claim %(number)s?") % {"number": row.number},
        "explain": _("It stays on record with your reason. Its defects can be claimed again."),
        "consequences": [],
        "form": form,
        "act": _("Give it up"),
        "back_url": row_url(request, row),
        **SECTION,
    }
    return render(request, "web/confirm.html", context)


def row_url(request: Any, row: MakerClaim) -> str:
    return str(redirect("maker-claim", request.shop.slug, row.pk)["Location"])


@require_GET
@allow(DESK)
def maker_claim_pdf(request: Any, pk: int) -> HttpResponse:
    """What was sent, exactly; before that, what would be sent now."""
    row = the_claim(pk)
    if not row.pdf_sha256:
        return pdf_response(claim_pdf(row), f"{row.number}.pdf", download="download" in request.GET)
    try:
        content = stored_bytes.read(row.pdf_sha256)
    except stored_bytes.DamagedFile:
        words = _("The stored file is damaged or gone. Restore it from a backup.")
        tell(request, words, level=messages.ERROR)
        return redirect("maker-claim", request.shop.slug, row.pk)
    return pdf_response(content, f"{row.number}.pdf", download="download" in request.GET)
