"""Somebody asks to be erased: what the law lets us keep is restricted, the rest goes at once."""

from datetime import date, datetime

from django.db import transaction
from django.template.loader import render_to_string
from django.utils.translation import gettext as _
from django.utils.translation import override

from shopwarranty.inspections.writing.routes import can_be_written_to
from shopwarranty.jobs.models import Party
from shopwarranty.outbox.actions import put_message
from shopwarranty.outbox.models import Message
from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.models import Shop

from ..models import Erasure
from .erasing import erase_rows, throw_away_left
from .holding_still import hold_still
from .standing import NOTHING, Standing, standings


class AlreadyErased(Exception):
    """There is nothing left of this person."""


def ask_erasure(*, party: Party, how: str, actor: Actor, today: date, now: datetime) -> Erasure:
    """Erased at once where nothing keeps them, else restricted until nothing does. Raises AlreadyErased."""
    if Erasure.objects.filter(party=party, erased_at__isnull=False).exists():
        raise AlreadyErased
    with transaction.atomic():
        hold_still([party.pk])
        standing = standings([party.pk], party.shop, today).get(party.pk, NOTHING)
        row = noted(party, standing, how, actor, today, now)
        if standing.reasons:
            restrict(party=party, actor=actor, now=now)
            explain(row, standing, now)
        else:
            erase_rows(parties=[party.pk], actor=actor, now=now)
    throw_away_left()
    row.refresh_from_db()
    return row


def noted(party: Party, standing: Standing, how: str, actor: Actor, today: date, now: datetime) -> Erasure:
    row, _new = Erasure.objects.update_or_create(
        party=party,
        defaults={
            "asked_on": today,
            "asked_how": how,
            "why_kept": [reason.as_json() for reason in standing.reasons],
            "erase_on": standing.last_day,
            "member": actor.member,
            "at": now,
        },
    )
    record_change(row=party, act="erasure asked", actor=actor, at=now, after={"erase_on": row.erase_on})
    return row


def restrict(*, party: Party, actor: Actor, now: datetime) -> None:
    """Nothing that is not needed for the promise: no reminders, no marketing, no new use of the data."""
    fields = {"restricted_at": now, "reminders_stopped_at": now, "marketing_agreed_at": None}
    Party.objects.filter(pk=party.pk).update(**fields)
    if party.email:
        waiting = Message.objects.filter(to=party.email, state=Message.State.WAITING, is_optional=True)
        waiting.update(state=Message.State.DROPPED, settled_at=now)
    record_change(row=party, act="restricted", actor=actor, at=now)


def explain(row: Erasure, standing: Standing, now: datetime) -> None:
    """The answer that the person gets: what stays, why, until when."""
    party = row.party
    if not can_be_written_to(party):
        return
    shop: Shop = party.shop
    language = party.language or shop.language
    with override(language):
        reasons = [reason.words(shop) for reason in standing.reasons]
        context = {"party": party, "shop": shop, "reasons": reasons, "erase_on": row.erase_on}
        put_message(
            key=f"erasure:{row.pk}:{row.asked_on:%Y-%m-%d}",
            to=party.email,
            to_name=party.name,
            subject=_("Your request to be erased, to %(shop)s") % {"shop": shop.name},
            text=render_to_string("safekeeping/mail/kept_for_now.txt", context),
            about=f"party:{party.pk}",
            language=language,
            now=now,
        )
