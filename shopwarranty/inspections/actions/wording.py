"""A shop's own texts of messages: kept, tried on oneself, and given up for ours again."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from shopwarranty.outbox.actions import put_message
from shopwarranty.outbox.models import Message
from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.models import Shop

from ..models import MessageText
from ..writing.kinds import Kind
from ..writing.letters import Wording, write
from ..writing.values import samples


@transaction.atomic
def keep_wording(
    *, kind: Kind, language: str, subject: str, text: str, actor: Actor, now: datetime
) -> MessageText:
    """From the next message on. What waits in the outbox stays as it was written."""
    held = MessageText.objects.select_for_update().filter(kind=kind.key, language=language).first()
    before = {"subject": held.subject, "text": held.text} if held else {}
    row = held or MessageText(kind=kind.key, language=language)
    row.version += 1 if held else 0
    row.subject, row.text, row.changed_at = subject, text, now
    row.save()
    after = {"subject": subject, "text": text, "kind": kind.key, "language": language}
    record_change(row=row, act="text of a message", actor=actor, at=now, before=before, after=after)
    return row


@transaction.atomic
def back_to_ours(*, kind: Kind, language: str, actor: Actor, now: datetime) -> bool:
    row = MessageText.objects.filter(kind=kind.key, language=language).first()
    if row is None:
        return False
    before = {"subject": row.subject, "text": row.text, "kind": kind.key, "language": language}
    record_change(row=row, act="text of a message given up", actor=actor, at=now, before=before)
    row.delete()
    return True


def send_test(
    *, kind: Kind, wording: Wording, language: str, shop: Shop, actor: Actor, now: datetime
) -> Message | None:
    """To oneself, filled in with samples; None for somebody without an address."""
    member = actor.member
    if member is None or member.user is None:
        return None
    values = samples(shop, now.astimezone(shop.zone).date(), name=member.name)
    letter = write(kind, wording, values, shop, language=language)
    return put_message(
        key=f"test:{kind.key}:{language}:{member.pk}:{now:%Y%m%d%H%M%S}",
        to=member.user.email,
        to_name=member.name,
        subject=_("Test: %(subject)s") % {"subject": letter.subject},
        text=letter.text,
        html=letter.html,
        language=language,
        now=now,
    )
