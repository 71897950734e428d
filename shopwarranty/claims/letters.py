"""Letters about a claim in plain words: clause and fact, the way to object, and the rights under law."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.warranty.legal_texts import RIGHTS_BESIDE
from shopwarranty.warranty.snapshot_parts import Snapshot, read_snapshot
from shopwarranty.web.formats import full_date

from .decisions import standing_decisions
from .models import Claim, Decision
from .places import where_words
from .promise import promise_for

Answer = Decision.Answer


@dataclass(frozen=True, slots=True)
class Part:
    """One heading with its paragraphs."""

    heading: str
    paragraphs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LetterText:
    subject: str
    opening: tuple[str, ...]
    parts: tuple[Part, ...]
    closing: tuple[str, ...]

    @property
    def plain(self) -> str:
        """As mail, with one blank line between paragraphs."""
        blocks = list(self.opening)
        for part in self.parts:
            blocks.append("\n".join((part.heading, *part.paragraphs)))
        return "\n\n".join((*blocks, "\n".join(self.closing))) + "\n"


def language_of(claim: Claim) -> str:
    """The certificate's, else the claimant's, else the shop's."""
    of_party = claim.claimant.language if claim.claimant else ""
    return (claim.certificate.language if claim.certificate else "") or of_party or claim.shop.language


def hello(claim: Claim) -> str:
    return _("Hello %(name)s,") % {"name": claim.claimant.name} if claim.claimant else _("Hello,")


def from_shop(claim: Claim) -> tuple[str, ...]:
    shop = claim.shop
    reach = ", ".join(part for part in (shop.telephone, shop.email) if part)
    return tuple(line for line in (shop.legal_name or shop.name, shop.address, reach) if line)


def received_letter(claim: Claim) -> LetterText:
    """With the number and what happens next."""
    words = {
        "number": claim.number,
        "vehicle": claim.vehicle,
        "day": full_date(claim.first_reported_at, claim.shop),
    }
    said = [item.words for item in claim.items.all() if item.words]
    return LetterText(
        subject=_("We have your claim %(number)s") % words,
        opening=(
            hello(claim),
            _("we have your claim about the film on your %(vehicle)s. Its number is %(number)s.") % words,
            _("It counts as reported on %(day)s, whatever day a form was filled in.") % words,
        ),
        parts=(
            *((Part(_("What you told us"), tuple(said)),) if said else ()),
            Part(
                _("What happens next"),
                (
                    _("We look at the film and at the record of the work, and then write to you."),
                    _("Leave it as it is. Film loose near a lamp, sensor or window: call us at once."),
                ),
            ),
        ),
        closing=from_shop(claim),
    )


def decision_letter(claim: Claim, now: datetime) -> LetterText:
    """Every claimed defect with its own answer."""
    catalogue, decisions = ShopCatalogue(claim.shop), standing_decisions(claim)
    words = {"number": claim.number, "vehicle": claim.vehicle}
    day = full_date(claim.first_reported_at, claim.shop)
    opening = (
        _("this is what we decided about your claim %(number)s for the film on your %(vehicle)s.") % words
    )
    reported = _("It was first reported on %(day)s.") % {"day": day}
    parts = [Part(heading_of(each, catalogue), tuple(answer_lines(each))) for each in decisions]
    return LetterText(
        subject=_("Our decision about your claim %(number)s") % words,
        opening=(hello(claim), opening, reported),
        parts=(*parts, *after_parts(claim, decisions)),
        closing=(full_date(now, claim.shop), *from_shop(claim)),
    )


def heading_of(decision: Decision, catalogue: ShopCatalogue) -> str:
    item = decision.item
    what = item.defect.kind_said if item.defect else ""
    where = where_words(item, catalogue)
    return f"{where}: {what}" if what else where


def answer_lines(decision: Decision) -> Iterator[str]:
    answer = decision.answer
    if answer == Answer.REFUSE:
        yield _("We do not put this right under the warranty.")
        yield _("The certificate says: “%(clause)s”") % {"clause": decision.clause}
        yield _("What we found: %(fact)s") % {"fact": decision.fact}
    elif answer == Answer.GOODWILL:
        yield _("We put this right as goodwill, outside the warranty. You owe us nothing for it.")
    elif answer == Answer.PART:
        yield _("We put this right in part, under the warranty.")
    else:
        yield _("We put this right under the warranty.")
    if decision.line is not None:
        said = _("The promise: “%(title)s”. What is done: %(remedy)s")
        yield said % {"title": decision.line.title, "remedy": decision.line.remedy}
    yield decision.reason


def after_parts(claim: Claim, decisions: list[Decision]) -> Iterator[Part]:
    if any(each.answer != Answer.REFUSE for each in decisions):
        yield Part(_("What happens next"), (_("Call us or write to us for a time that suits you."),))
    snapshot = read_snapshot(claim.certificate.snapshot) if claim.certificate else first_snapshot(decisions)
    yield Part(_("If you see it differently"), tuple(appeal(claim, snapshot)))
    yield Part(_("Your rights under the law"), rights(snapshot))


def first_snapshot(decisions: list[Decision]) -> Snapshot | None:
    found = (promise_for(each.item).snapshot for each in decisions)
    return next((snapshot for snapshot in found if snapshot is not None), None)


def appeal(claim: Claim, snapshot: Snapshot | None) -> Iterator[str]:
    """First here, then as the certificate says, and always a court."""
    shop = claim.shop
    reach = ", ".join(part for part in (shop.address, shop.telephone, shop.email) if part)
    yield _(
        "Tell us why, at %(reach)s. Somebody looks at it again, and you may bring photos or a report."
    ) % {"reach": reach}
    if snapshot is not None and snapshot.terms.dispute_procedure:
        yield snapshot.terms.dispute_procedure
    yield _("You may also turn to a consumer office or a court at any time. Our decision binds nobody.")


def rights(snapshot: Snapshot | None) -> tuple[str, ...]:
    """The statements that stand on the certificate, else the plain one."""
    words = tuple(each.words for each in snapshot.legal.statements) if snapshot else ()
    beside = _("This decision is about the warranty only. What the law gives you stands beside it.")
    return (beside, *(words or (_(RIGHTS_BESIDE),)))
