"""A letter made ready for the outbox: by its route, with its foot, not before the shop's hours begin."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.utils.translation import override

from shopwarranty.outbox.actions import Attachment, drafted
from shopwarranty.outbox.channels import TEXT
from shopwarranty.outbox.models import Message
from shopwarranty.shops.models import Shop

from .kinds import Kind
from .letters import OFFER_ONLY, Letter, Wordings, write
from .routes import Route
from .stop_links import headers_for, url_for


def message_for(
    kind: Kind,
    route: Route,
    values: Mapping[str, str],
    *,
    shop: Shop,
    wordings: Wordings,
    key: str,
    about: str,
    now: datetime,
    not_before: datetime,
    not_after: datetime | None = None,
    attachments: Sequence[Attachment] = (),
) -> Message:
    """Not stored yet."""
    stop_url = url_for(route.party, shop) if kind.is_optional else ""
    letter = write(
        kind, wordings.of(kind, route.language), values, shop, language=route.language, stop_url=stop_url
    )
    return drafted(
        key=key,
        to=route.to,
        to_name=route.party.name,
        subject=letter.subject,
        about=about,
        language=route.language,
        is_optional=kind.is_optional,
        in_hours=True,
        not_before=not_before,
        not_after=not_after,
        now=now,
        **_by(route, letter, values, shop, stop_url, attachments),
    )


def _by(
    route: Route,
    letter: Letter,
    values: Mapping[str, str],
    shop: Shop,
    stop_url: str,
    attachments: Sequence[Attachment],
) -> dict[str, Any]:
    if route.channel != TEXT:
        return {
            "channel": route.channel,
            "text": letter.text,
            "html": letter.html,
            "headers": headers_for(stop_url),
            "attachments": attachments,
        }
    with override(route.language):
        lines = [f"{shop.name}: {letter.subject}", values.get("link", ""), str(OFFER_ONLY)]
    return {"channel": TEXT, "text": "\n".join(line for line in lines if line)}
