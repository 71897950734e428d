"""A message in words: the shop's own text or ours, filled in, with the foot that no shop can leave out."""

from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import get_language, gettext_lazy, override
from django.utils.translation import gettext as _

from shopwarranty.shops.models import Shop

from ..models import MessageText
from .fill import as_html, as_plain, fill
from .kinds import Kind

OFFER_ONLY: Final[Promise] = gettext_lazy(
    "A check is an offer. Not coming, or coming later, does not end your warranty."
)


@dataclass(frozen=True, slots=True)
class Wording:
    """Subject and text with their placeholders; `version` 0: ours."""

    subject: str
    text: str
    version: int = 0


@dataclass(frozen=True, slots=True)
class Letter:
    subject: str
    text: str
    html: str


class Wordings:
    """The shop's own texts, read once for however many letters."""

    def __init__(self) -> None:
        rows = MessageText.objects.values_list("kind", "language", "subject", "text", "version")
        self._own = {
            (kind, language): Wording(subject, text, version)
            for kind, language, subject, text, version in rows
        }

    def of(self, kind: Kind, language: str) -> Wording:
        return self._own.get((kind.key, language)) or ours(kind, language)


def ours(kind: Kind, language: str) -> Wording:
    with override(language):
        return Wording(str(kind.subject), str(kind.text))


def write(
    kind: Kind, wording: Wording, values: Mapping[str, str], shop: Shop, *, language: str, stop_url: str = ""
) -> Letter:
    """`stop_url`: where the holder stops messages of this kind, for those that are optional."""
    with override(language):
        foot = () if kind.to_owner else _foot(shop, stop_url)
        text = "\n\n".join([as_plain(wording.text, values), *foot])
        inner = "\n".join(
            [as_html(wording.text, values), *(as_html("{part}", {"part": part}) for part in foot)]
        )
        title = fill(wording.subject, values)
        html = (
            f'<!doctype html><html lang="{escape(get_language() or language)}"><head><meta charset="utf-8">'
            f"<title>{escape(title)}</title></head><body>\n{inner}\n</body></html>"
        )
    return Letter(" ".join(title.split()), f"{text}\n", html)


def _foot(shop: Shop, stop_url: str) -> tuple[str, ...]:
    """What every message to a holder ends with."""
    lines = [shop.name, shop.address, shop.telephone]
    parts = [str(OFFER_ONLY), "\n".join(line for line in lines if line)]
    if stop_url:
        parts.append(_("No more reminders: %(url)s") % {"url": stop_url})
    return tuple(parts)
