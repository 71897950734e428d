"""On what a refusal may rest: a clause and a fact. What cannot be named here is no ground."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.translation import gettext as _

from shopwarranty.web.formats import full_date

from .models import ClaimedDefect
from .promise import Promise, listed_words


@dataclass(frozen=True, slots=True)
class Ground:
    """`key` is what a form sends back; clause and fact are kept with the decision and stand in the letter."""

    key: str
    clause: str
    fact: str


def grounds_for(item: ClaimedDefect, promise: Promise, where: str) -> tuple[Ground, ...]:
    """The cover line first, then exclusions that have a fact. Empty: nothing to refuse it on."""
    return (*cover_grounds(item, promise, where), *fact_grounds(item))


def cover_grounds(item: ClaimedDefect, promise: Promise, where: str) -> Iterator[Ground]:
    claim = item.claim
    day = full_date(claim.first_reported_at, claim.shop)
    if item.is_ours is False:
        yield Ground("not-ours", listed_words(), _("Looked at: the film there is not ours."))
    elif promise.certificate is None:
        words = _("A promise in writing holds from the day it is given until its last day.")
        fact = _("No certificate of ours for this film was in force on %(day)s.") % {"day": day}
        yield Ground("no-promise", words, fact)
    elif promise.sold_on is not None and promise.snapshot is not None:
        fact = _("The vehicle was sold on %(sold)s, and this was first reported on %(day)s.")
        said = fact % {"sold": full_date(promise.sold_on, claim.shop), "day": day}
        yield Ground("sold", promise.snapshot.terms.transfer_words, said)
    elif item.place is not None:
        yield from line_grounds(item, promise, where, day)


def line_grounds(item: ClaimedDefect, promise: Promise, where: str, day: str) -> Iterator[Ground]:
    if not promise.lines:
        words = _("%(where)s is not among the film listed on certificate %(number)s.")
        number = promise.certificate.number if promise.certificate else ""
        yield Ground("not-listed", listed_words(), words % {"where": where, "number": number})
        return
    if promise.covering:
        return
    about = [line for line in promise.lines if line.about_kind is not False]
    for line in about:
        until = _("%(title)s: until the end of %(day)s")
        clause = until % {"title": line.title, "day": full_date(line.last_day, item.claim.shop)}
        yield Ground(f"term-{line.line_id}", clause, _("It was first reported on %(day)s.") % {"day": day})
    if not about and item.defect is not None:
        clause = "; ".join(dict.fromkeys(line.title for line in promise.lines))
        fact = _("What was found there is: %(what)s.") % {"what": item.defect.kind_said}
        yield Ground("kind", clause, fact)


def fact_grounds(item: ClaimedDefect) -> Iterator[Ground]:
    for fact in item.facts.all():
        if fact.set_aside_at is None:
            said = _("%(fact)s (%(where)s)") % {"fact": fact.words, "where": fact.seen_where}
            yield Ground(f"fact-{fact.pk}", fact.clause, said)
