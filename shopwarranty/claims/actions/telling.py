"""What the claimant is told: received, and decided. Kept exactly as sent, and said at most once."""

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import override

from shopwarranty.outbox.actions import Attachment, put_message
from shopwarranty.outbox.models import Message
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.history import Actor, record_change
from shopwarranty.warranty.telling import can_be_written_to

from ..letters import LetterText, decision_letter, language_of, received_letter
from ..models import Claim, Letter
from ..paper import letter_pdf
from .moving import move, must_be_at

State = Claim.State


@dataclass(frozen=True, slots=True)
class Told:
    """`message` None: nobody can be written to, and the letter is printed and given or posted."""

    letter: Letter
    message: Message | None


def tell_received(claim: Claim, *, actor: Actor, now: datetime) -> Letter | None:
    """At once, by mail, with the number and the next step; None when there is no address to write to."""
    if claim.claimant is None or not can_be_written_to(claim.claimant):
        return None
    with override(language_of(claim)):
        text = received_letter(claim)
        letter: Letter = Letter.objects.create(
            claim=claim,
            about=Letter.About.RECEIVED,
            to=claim.claimant.email,
            text=text.plain,
            sent_at=now,
            sent_by=actor.member,
        )
        send(letter, text, f"claim:{claim.pk}:received", now)
    return letter


def tell(*, claim: Claim, actor: Actor, now: datetime) -> Told:
    """The decision as a letter: PDF first, then its row, the stage and the mail in one transaction.

    Raises NotAtThisStage.
    """
    must_be_decided(claim)
    with override(language_of(claim)):
        text = decision_letter(claim, now)
        kept = stored_bytes.keep(letter_pdf(claim, text))
        with transaction.atomic():
            nth = claim.letters.filter(about=Letter.About.DECISION).count() + 1
            move(claim, State.TOLD, actor=actor, now=now)
            writable = claim.claimant is not None and can_be_written_to(claim.claimant)
            letter: Letter = Letter.objects.create(
                claim=claim,
                about=Letter.About.DECISION,
                to=claim.claimant.email if writable and claim.claimant else "",
                text=text.plain,
                pdf_sha256=kept.sha256,
                sent_at=now,
                sent_by=actor.member,
            )
            record_change(row=letter, act="decision told", actor=actor, at=now, after={"pdf": kept.sha256})
            message = send(letter, text, f"claim:{claim.pk}:decision:{nth}", now) if letter.to else None
    return Told(letter, message)


@transaction.atomic
def must_be_decided(claim: Claim) -> None:
    must_be_at(claim, State.DECIDED)


def send(letter: Letter, text: LetterText, key: str, now: datetime) -> Message:
    claim = letter.claim
    name = _("claim %(number)s") % {"number": claim.number}
    files = (
        (Attachment(letter.pdf_sha256, f"{name.replace(' ', '-')}.pdf", "application/pdf"),)
        if letter.pdf_sha256
        else ()
    )
    return put_message(
        key=key,
        to=letter.to,
        to_name=claim.claimant.name if claim.claimant else "",
        subject=text.subject,
        text=text.plain,
        about=f"claim:{claim.pk}",
        language=language_of(claim),
        attachments=files,
        now=now,
    )
