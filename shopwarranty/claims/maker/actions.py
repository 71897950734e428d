"""A claim to a film maker from the first line to what came of it, each step with time and who."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from shopwarranty.defects.models import Defect
from shopwarranty.films.models import FilmProduct, Lot
from shopwarranty.outbox.actions import Attachment, put_message
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.history import Actor, StaleState, move_state, next_number, record_change

from ..models import MakerClaim, MakerClaimPiece
from .paper import claim_pdf
from .refusals import AmountNeeded, AtAnotherStage, HowSent, NothingClaimed, OfAnotherFilm, ReasonNeeded
from .stages import BEFORE, file_by, terms_for

State = MakerClaim.State


@dataclass(frozen=True, slots=True)
class Claimed:
    """What is claimed. `asked` None: how much is left to the maker."""

    defects: Sequence[Defect]
    words: str
    asked: Decimal | None
    with_vin: bool = False


@transaction.atomic
def start_claim(
    *, product: FilmProduct, lot: Lot | None, claimed: Claimed, actor: Actor, now: datetime
) -> MakerClaim:
    """Raises NothingClaimed or OfAnotherFilm."""
    checked(product, lot, claimed)
    on = now.astimezone(product.shop.zone).date()
    terms = terms_for(product, on)
    claim: MakerClaim = MakerClaim.objects.create(
        number=f"M{next_number('maker-claim'):04d}",
        product=product,
        lot=lot,
        terms=terms,
        file_by=file_by(terms, [defect.found_on for defect in claimed.defects]),
        made_at=now,
        made_by=actor.member,
        **said(claimed),
    )
    put_pieces(claim, claimed.defects)
    record_change(row=claim, act="begun", actor=actor, at=now, after=facts(claim, claimed))
    return claim


@transaction.atomic
def change_claim(*, claim: MakerClaim, claimed: Claimed, actor: Actor, now: datetime) -> None:
    """While it is being written. Raises AtAnotherStage, NothingClaimed or OfAnotherFilm."""
    held = MakerClaim.objects.select_for_update(of=("self",)).get(pk=claim.pk)
    if held.state != State.DRAFT:
        raise AtAnotherStage
    checked(held.product, held.lot, claimed)
    for name, value in said(claimed).items():
        setattr(held, name, value)
    held.file_by = file_by(held.terms, [defect.found_on for defect in claimed.defects])
    held.save()
    held.pieces.all().delete()
    put_pieces(held, claimed.defects)
    record_change(row=held, act="changed", actor=actor, at=now, after=facts(held, claimed))


def said(claimed: Claimed) -> dict[str, Any]:
    return {"words": claimed.words.strip(), "asked": claimed.asked, "with_vin": claimed.with_vin}


def facts(claim: MakerClaim, claimed: Claimed) -> dict[str, Any]:
    defects = [defect.number for defect in claimed.defects]
    return {**said(claimed), "lot": claim.lot, "defects": defects}


def checked(product: FilmProduct, lot: Lot | None, claimed: Claimed) -> None:
    if not claimed.defects and not claimed.words.strip():
        raise NothingClaimed
    for defect in claimed.defects:
        piece = defect.place.piece
        if piece.product_id != product.pk or piece.lot_id != (lot.pk if lot else None):
            raise OfAnotherFilm


def put_pieces(claim: MakerClaim, defects: Sequence[Defect]) -> None:
    for defect in defects:
        MakerClaimPiece.objects.create(maker_claim=claim, piece=defect.place.piece, defect=defect)


def send_claim(
    *,
    claim: MakerClaim,
    mail: str,
    how: str,
    answer_due_on: date | None,
    actor: Actor,
    now: datetime,
) -> None:
    """The PDF first, then stage and mail in one transaction. What was sent is kept by its hash.

    Raises HowSent or AtAnotherStage.
    """
    if not mail and not how.strip():
        raise HowSent
    if claim.state != State.DRAFT:
        raise AtAnotherStage
    kept = stored_bytes.keep(claim_pdf(claim))
    on = now.astimezone(claim.shop.zone).date()
    more: dict[str, Any] = {
        "sent_on": on,
        "sent_to": mail or how.strip(),
        "answer_due_on": answer_due_on,
        "pdf_sha256": kept.sha256,
    }
    with transaction.atomic():
        move(claim, State.SENT, actor=actor, now=now, **more)
        if mail:
            tell_maker(claim, mail, kept.sha256, now)


def tell_maker(claim: MakerClaim, mail: str, sha256: str, now: datetime) -> None:
    shop = claim.shop
    sender = shop.legal_name or shop.name
    words = {"number": claim.number, "film": claim.product}
    text = "\n\n".join(
        (
            _("Hello,"),
            _("enclosed is our claim %(number)s about your film %(film)s.") % words,
            _("Please name the number in your answer."),
            "\n".join(part for part in (sender, shop.address, shop.telephone, shop.email) if part),
        )
    )
    put_message(
        key=f"maker-claim:{claim.pk}:sent",
        to=mail,
        subject=_("Claim %(number)s: %(film)s") % words,
        text=text + "\n",
        about=f"maker-claim:{claim.pk}",
        language=shop.language,
        attachments=(Attachment(sha256, f"{claim.number}.pdf", "application/pdf"),),
        now=now,
    )


@dataclass(frozen=True, slots=True)
class Answer:
    """What the maker said: `state` answered, credited or refused."""

    state: str
    on: date
    words: str = ""
    reference: str = ""
    credited: Decimal | None = None


def note_answer(*, claim: MakerClaim, answer: Answer, actor: Actor, now: datetime) -> None:
    """Raises AmountNeeded or AtAnotherStage."""
    if answer.state == State.CREDITED and answer.credited is None:
        raise AmountNeeded
    more: dict[str, Any] = {"answered_on": answer.on, "answer": answer.words.strip()}
    if answer.reference.strip():
        more["maker_reference"] = answer.reference.strip()
    if answer.state == State.CREDITED:
        more["credited"] = answer.credited
    move(claim, answer.state, actor=actor, now=now, why=answer.words.strip(), **more)


def drop_claim(*, claim: MakerClaim, why: str, actor: Actor, now: datetime) -> None:
    """Raises ReasonNeeded or AtAnotherStage."""
    if not why.strip():
        raise ReasonNeeded
    move(claim, State.DROPPED, actor=actor, now=now, why=why.strip())


def move(claim: MakerClaim, to: str, *, actor: Actor, now: datetime, why: str = "", **more: Any) -> None:
    try:
        move_state(claim, old=BEFORE[to], new=to, actor=actor, at=now, why=why, **more)
    except StaleState as stale:
        raise AtAnotherStage from stale
