"""What the holder is told about a certificate: here it is, here it is again, it was withdrawn.

The key names certificate and fact: the same is told at most once.
"""

from datetime import date, datetime

from django.template.loader import render_to_string
from django.utils.translation import gettext as _
from django.utils.translation import override

from shopwarranty.jobs.models import Party
from shopwarranty.outbox.actions import Attachment, drop_waiting, put_message
from shopwarranty.outbox.models import Message
from shopwarranty.web.formats import full_date

from .models import Certificate
from .snapshot_parts import read_snapshot


def can_be_written_to(party: Party) -> bool:
    return bool(party.email) and party.email_refused_at is None


def tell_issued(certificate: Certificate, *, now: datetime) -> Message | None:
    """The PDF by mail; None when there is no address to write to."""
    return _send(certificate, "issued", now)


def tell_again(certificate: Certificate, *, nth: int, now: datetime) -> Message | None:
    """The same bytes once more. `nth` is counted by whoever asks, so that a double click sends once."""
    return _send(certificate, f"again:{nth}", now)


def times_sent(certificate: Certificate) -> int:
    return Message.objects.filter(about=about(certificate)).count()


def tell_withdrawn(certificate: Certificate, *, now: datetime) -> Message | None:
    if not can_be_written_to(certificate.holder):
        return None
    with override(certificate.language):
        context = {"certificate": certificate, "shop": certificate.shop, "day": _day(certificate, now)}
        return put_message(
            key=f"certificate:{certificate.pk}:withdrawn",
            to=certificate.holder.email,
            to_name=certificate.holder.name,
            subject=_("Certificate %(number)s was withdrawn") % {"number": certificate.number},
            text=render_to_string("warranty/mail/withdrawn.txt", context),
            about=about(certificate),
            language=certificate.language,
            now=now,
        )


def tell_sold(certificate: Certificate, *, on: date, now: datetime) -> Message | None:
    """Cover ended by its terms with the sale: told to whoever held it; what the law gives is not touched."""
    if not can_be_written_to(certificate.holder):
        return None
    with override(certificate.language):
        snapshot = read_snapshot(certificate.snapshot)
        context = {"certificate": certificate, "shop": certificate.shop, "terms": snapshot.terms, "on": on}
        return put_message(
            key=f"certificate:{certificate.pk}:sold",
            to=certificate.holder.email,
            to_name=certificate.holder.name,
            subject=_("The vehicle of certificate %(number)s was sold") % {"number": certificate.number},
            text=render_to_string("warranty/mail/sold.txt", context),
            about=about(certificate),
            language=certificate.language,
            now=now,
        )


def unsay_waiting(certificate: Certificate, *, now: datetime) -> int:
    """What still waits to go out says that this certificate stands. It no longer does."""
    return drop_waiting(about=about(certificate), now=now)


def about(certificate: Certificate) -> str:
    return f"certificate:{certificate.pk}"


def file_name(certificate: Certificate) -> str:
    edition = f"-{certificate.edition}" if certificate.edition > 1 else ""
    return f"{certificate.number}{edition}.pdf"


def _subject(certificate: Certificate) -> str:
    words = {"number": certificate.number, "shop": certificate.shop.name}
    if certificate.edition > 1:
        return _("Your certificate %(number)s, new edition, from %(shop)s") % words
    return _("Your certificate %(number)s from %(shop)s") % words


def _day(certificate: Certificate, moment: datetime) -> str:
    return full_date(moment, certificate.shop)


def _send(certificate: Certificate, fact: str, now: datetime) -> Message | None:
    party = certificate.holder
    if not can_be_written_to(party):
        return None
    with override(certificate.language):
        snapshot = read_snapshot(certificate.snapshot)
        context = {"certificate": certificate, "snapshot": snapshot, "shop": certificate.shop}
        return put_message(
            key=f"certificate:{certificate.pk}:{fact}",
            to=party.email,
            to_name=party.name,
            subject=_subject(certificate),
            text=render_to_string("warranty/mail/issued.txt", context),
            html=render_to_string("warranty/mail/issued.html", context),
            about=about(certificate),
            language=certificate.language,
            attachments=(Attachment(certificate.pdf_sha256, file_name(certificate), "application/pdf"),),
            now=now,
        )
