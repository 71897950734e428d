"""What the fixed review found, told to the owners once each: a claim, a bad lot, work that slips.

Keys are made from the facts, so the next review that finds the same says nothing. Messages leave in the
shop's hours. Whose work slips is told only where the shop shows figures by installer at all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime

from django.utils.translation import gettext as _
from django.utils.translation import override

from shopwarranty.inspections.writing.sending import when_to_send
from shopwarranty.outbox.actions import drafted, put_messages
from shopwarranty.outbox.models import Message
from shopwarranty.shops.models import Member, Shop
from shopwarranty.web import formats

from . import said
from .counted import What, address
from .headline import effect_sentence
from .lives import LifeTable
from .news import Kind, News
from .reviewing import ShopReview
from .selection import Part
from .words import Words


@dataclass(frozen=True, slots=True)
class Letter:
    subject: str
    text: str


def tell(shop: Shop, found: ShopReview, table: LifeTable, news: tuple[News, ...], now: datetime) -> int:
    """One message a fact and owner; those already told change nothing. How many facts there are to tell."""
    facts = [each for each in news if _may_be_told(each, shop)]
    if not facts:
        return 0
    words, leaves = Words(shop, table.own_fields, found.asked.spans), when_to_send(shop, now)
    put_messages([m for owner in _owners() for m in _letters(owner, facts, found, words, now, leaves)])
    return len(facts)


def _may_be_told(news: News, shop: Shop) -> bool:
    by_installer = news.subject[0] == "installer" if news.kind == Kind.CLAIM else bool(news.subject[0])
    return shop.installer_figures or news.kind == Kind.LOT or not by_installer


def _owners() -> list[Member]:
    rows = Member.objects.filter(is_owner=True, left_at=None, user__is_active=True)
    return list(rows.select_related("user").order_by("pk"))


def _letters(
    owner: Member, facts: list[News], found: ShopReview, words: Words, now: datetime, leaves: datetime
) -> Iterator[Message]:
    assert owner.user is not None
    language = owner.user.language or words.shop.language
    with override(language):
        for news in facts:
            letter = letter_of(news, found, words)
            yield drafted(
                key=f"review:{news.fact}:{owner.pk}",
                about="review",
                to=owner.user.email,
                to_name=owner.name,
                subject=letter.subject,
                text=letter.text,
                language=language,
                not_before=leaves,
                now=now,
            )


def letter_of(news: News, found: ShopReview, words: Words) -> Letter:
    """In the language in force."""
    made = {Kind.CLAIM: _of_claim, Kind.LOT: _of_lot, Kind.DRIFT: _of_drift}[Kind(news.kind)]
    return made(news, found, words)


def _of_claim(news: News, found: ShopReview, words: Words) -> Letter:
    factor, level, reference = news.subject
    effect = next(
        e for e in found.review.headline if (e.contrast.factor, e.contrast.level) == (factor, level)
    )
    contrast, (low, high) = effect.contrast, effect.contrast.interval()
    sentence = effect_sentence(effect, words)
    counts = _(
        "%(failures)s of %(edges)s watched places failed, against %(others)s of %(all)s (%(usual)s)."
    ) % {
        "failures": said.count(contrast.failures),
        "edges": said.count(contrast.edges),
        "others": said.count(contrast.reference_failures),
        "all": said.count(contrast.reference_edges),
        "usual": words.with_level(factor, reference),
    }
    sure = _("Somewhere between %(low)s and %(high)s times, beside the same panel, film and installer.")
    parts = (
        sentence,
        f"{counts} {sure % {'low': said.about(low), 'high': said.about(high)}}",
        _(
            "It goes together with failures; whether it causes them only a trial can show. What the film"
            " maker prescribes comes first."
        ),
        _link(words, found, (factor, level)),
    )
    return Letter(sentence, "\n\n".join(parts) + "\n")


def _of_lot(news: News, found: ShopReview, words: Words) -> Letter:
    (level,) = news.subject
    figure = found.lots[level]
    counts = _(
        "%(observed)s places of lot %(lot)s were found failing on %(vehicles)s checked vehicles; of the same"
        " panels and ages about %(expected)s would be expected."
    ) % {
        "lot": level,
        "observed": said.count(figure.observed),
        "vehicles": said.count(figure.vehicles),
        "expected": said.about(figure.expected),
    }
    parts = (
        counts,
        _(
            "So many by luck are rare, but lots are looked at every month: see whether the failures look"
            " alike before you speak to the maker, and look at the other vehicles of the lot."
        ),
        _link(words, found, ("lot", level)),
    )
    subject = _("Lot %(lot)s fails more often than others")
    if found.selection.part is Part.SURFACE:
        subject = _("The surface of lot %(lot)s fails more often than others")
    return Letter(subject % {"lot": level}, "\n\n".join(parts) + "\n")


def _of_drift(news: News, found: ShopReview, words: Words) -> Letter:
    (level,) = news.subject
    day = formats.full_date(date.fromisoformat(news.since), words.shop)
    subject = _("Failures have become more frequent")
    if level:
        subject = _("Failures have become more frequent in the work of %(who)s") % {"who": level}
    parts = (
        _("Vehicles laid until %(day)s show more failures than the time before would lead to expect.")
        % {"day": day},
        _(
            "This sum is slow and does not know why: film, season, kind of jobs or people may have changed."
            " Talk before you conclude."
        ),
        _link(words, found, ("installer", level) if level else None),
    )
    return Letter(subject, "\n\n".join(parts) + "\n")


def _link(words: Words, found: ShopReview, level: tuple[str, str] | None) -> str:
    levels = (level,) if level else ()
    path = address(words.shop, found.selection, What.FAILED, *levels)
    return f"{words.shop.public_url.rstrip('/')}{path}"
