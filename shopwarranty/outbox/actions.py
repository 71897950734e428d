"""Putting messages in, and what staff may do about one that got stuck."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Q

from shopwarranty.shops.history import Actor, move_state

from .models import Message

WRITTEN = (
    "about channel to to_name subject text html language attachments headers"
    " is_optional in_hours not_before not_after put_at"
).split()


class AlreadyTold(Exception):
    """A message with this key has gone out; saying it again needs a new fact."""


@dataclass(frozen=True, slots=True)
class Attachment:
    """A stored file to send along."""

    sha256: str
    name: str
    content_type: str


def put_message(
    *,
    key: str,
    to: str,
    subject: str,
    text: str,
    now: datetime,
    html: str = "",
    to_name: str = "",
    not_before: datetime | None = None,
    not_after: datetime | None = None,
    about: str = "",
    language: str = "en",
    attachments: Sequence[Attachment] = (),
    headers: Mapping[str, str] | None = None,
    is_optional: bool = False,
    in_hours: bool = False,
    channel: str = "mail",
) -> Message:
    """One row per key and shop: the same fact again changes nothing. Call inside the business transaction."""
    new = drafted(
        key=key,
        to=to,
        subject=subject,
        text=text,
        now=now,
        html=html,
        to_name=to_name,
        not_before=not_before,
        not_after=not_after,
        about=about,
        language=language,
        attachments=attachments,
        headers=headers,
        is_optional=is_optional,
        in_hours=in_hours,
        channel=channel,
    )
    values = {name: getattr(new, name) for name in WRITTEN}
    message, _ = Message.objects.get_or_create(key=key, defaults=values)
    return message


def drafted(
    *,
    key: str,
    to: str,
    subject: str,
    text: str,
    now: datetime,
    html: str = "",
    to_name: str = "",
    not_before: datetime | None = None,
    not_after: datetime | None = None,
    about: str = "",
    language: str = "en",
    attachments: Sequence[Attachment] = (),
    headers: Mapping[str, str] | None = None,
    is_optional: bool = False,
    in_hours: bool = False,
    channel: str = "mail",
) -> Message:
    """A message that is not stored yet; `put_messages` stores many at once."""
    return Message(
        key=key,
        about=about,
        channel=channel,
        to=one_line(to),
        to_name=one_line(to_name),
        subject=one_line(subject)[:240],
        text=text,
        html=html,
        language=language,
        attachments=[
            {"sha256": file.sha256, "name": file.name, "content_type": file.content_type}
            for file in attachments
        ],
        headers={name: one_line(value) for name, value in (headers or {}).items()},
        is_optional=is_optional,
        in_hours=in_hours,
        not_before=not_before or now,
        not_after=not_after,
        put_at=now,
    )


def put_messages(messages: Sequence[Message]) -> None:
    """Many at once; those whose key is known already change nothing."""
    Message.objects.bulk_create(messages, batch_size=200, ignore_conflicts=True)


def one_line(text: str) -> str:
    """Headers are never built from text with line breaks in it."""
    return " ".join(text.split())


def drop_waiting(*, about: str = "", key_starts: str = "", now: datetime) -> int:
    """What has not gone out yet and is no longer true is not sent."""
    if not (about or key_starts):
        return 0
    chosen = Q(state=Message.State.WAITING)
    if about:
        chosen &= Q(about=about)
    if key_starts:
        chosen &= Q(key__startswith=key_starts)
    return int(Message.objects.filter(chosen).update(state=Message.State.DROPPED, settled_at=now))


def send_again(*, message: Message, actor: Actor, now: datetime) -> None:
    """A person decided to send an uncertain or refused message once more, and now, whatever the hour."""
    move_state(
        message,
        old=(Message.State.PARKED, Message.State.FAILED),
        new=Message.State.WAITING,
        actor=actor,
        at=now,
        not_before=now,
        attempts=0,
        in_hours=False,
        error="",
    )


def set_aside(*, message: Message, actor: Actor, now: datetime) -> None:
    """A person decided that it need not be sent (any more)."""
    olds = (Message.State.WAITING, Message.State.PARKED, Message.State.FAILED)
    move_state(message, old=olds, new=Message.State.DROPPED, actor=actor, at=now, settled_at=now)


def park_uncertain(now: datetime) -> int:
    """Nobody knows whether they arrived. They are shown, not resent."""
    values: dict[str, Any] = {"state": Message.State.PARKED, "error": "the sender stopped while sending"}
    return int(Message.objects.lost(now).update(**values))
