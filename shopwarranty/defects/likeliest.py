"""Which places to look at first, and why. The review's likelihoods where there are any, else a plain rule.

The plain rule (recesses, and what was not post-heated, lift first): common practice, no source.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _

from shopwarranty.jobs.models import Place
from shopwarranty.trade.panels import PlaceKind

from .kind_in_words import kind_in_words
from .models import Defect, LiftLikelihood, Remedy

LIKELY: Final = 0.05
"""From this stored likelihood on a place is pointed out."""
BY_KIND: Final = {PlaceKind.RECESS: 3, PlaceKind.SEAM: 5, PlaceKind.EDGE: 6, PlaceKind.FIELD: 8}


@dataclass(frozen=True, slots=True)
class Order:
    """`reason` empty: nothing points to this place more than to others."""

    rank: float
    reason: str = ""


def in_order(places: Sequence[Place]) -> list[tuple[Place, str]]:
    """The places of one panel, likeliest to lift first, each with its reason. Three queries."""
    ids = [place.pk for place in places]
    open_ones = _open_defects(ids)
    put_right = set(Remedy.objects.filter(defect__place__in=ids).values_list("defect__place", flat=True))
    stored = {row.place_id: row for row in LiftLikelihood.objects.filter(place__in=ids)}
    ranked = [
        (_order(place, open_ones.get(place.pk, ""), place.pk in put_right, stored.get(place.pk)), place)
        for place in places
    ]
    ranked.sort(key=lambda pair: (pair[0].rank, pair[1].walk, pair[1].pk))
    return [(place, order.reason) for order, place in ranked]


def _open_defects(ids: Sequence[int]) -> Mapping[int, str]:
    words: dict[int, list[str]] = defaultdict(list)
    rows = Defect.objects.filter(place__in=ids, state=Defect.State.OPEN).order_by("pk")
    for place_id, kind, kept in rows.values_list("place", "kind", "kind_words"):
        words[place_id].append(kind_in_words(kind, kept))
    return {place_id: ", ".join(kinds) for place_id, kinds in words.items()}


def _order(place: Place, is_wrong: str, was_put_right: bool, stored: LiftLikelihood | None) -> Order:
    if is_wrong:
        return Order(0, _("Not put right yet: %(what)s.") % {"what": is_wrong})
    if was_put_right:
        return Order(1, _("Put right before."))
    if stored is not None and stored.likelihood is not None:
        reason = stored.reason if stored.likelihood >= LIKELY else ""
        return Order(2 + (1 - stored.likelihood), reason)
    return _by_plain_rule(place)


def _by_plain_rule(place: Place) -> Order:
    kind = PlaceKind(place.kind)
    rank = BY_KIND[kind]
    if place.post_heated is False:
        reason = (
            _("Left without post-heat.") if kind is not PlaceKind.RECESS else _("Recess without post-heat.")
        )
        return Order(rank - 1.5, reason)
    if kind is PlaceKind.RECESS:
        return Order(rank, _("Film pressed into a recess pulls out first."))
    return Order(rank)
