"""The address in a mail by which a holder stops what the contract does not need (RFC 8058).

The token is signed and says whose messages and of which scope; it names nobody and does not expire, since a
mail may be old when somebody has had enough of them.
"""

from dataclasses import dataclass
from typing import Final

from django.core import signing
from django.urls import reverse

from shopwarranty.jobs.models import Party
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import shop_scope

SALT: Final = "inspections.stop"
REMINDERS: Final = "reminders"
ONE_CLICK: Final = "List-Unsubscribe=One-Click"


@dataclass(frozen=True, slots=True)
class Stop:
    """Whose messages a token stops."""

    shop: Shop
    party: Party


def token_for(party: Party) -> str:
    return signing.dumps([party.shop_id, party.pk, REMINDERS], salt=SALT)


def url_for(party: Party, shop: Shop) -> str:
    """Empty where customers cannot reach this installation by https: the standard asks for it."""
    start = shop.public_url.rstrip("/")
    return f"{start}{reverse('stop', args=[token_for(party)])}" if start.startswith("https://") else ""


def headers_for(url: str) -> dict[str, str]:
    """Sections 3.1 and 8: one https address, and the pair that says that a post to it is enough."""
    return {"List-Unsubscribe": f"<{url}>", "List-Unsubscribe-Post": ONE_CLICK} if url else {}


def read_token(token: str) -> Stop | None:
    """None for anything that we did not sign, or that stops something else."""
    try:
        shop_id, party_id, scope = signing.loads(token, salt=SALT)
    except (signing.BadSignature, ValueError, TypeError):
        return None
    if scope != REMINDERS:
        return None
    shop = Shop.objects.filter(pk=shop_id).first()
    if shop is None:
        return None
    with shop_scope(shop):
        party = Party.objects.filter(pk=party_id).first()
    return Stop(shop, party) if party else None
