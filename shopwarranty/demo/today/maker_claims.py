"""Claims to film makers: one sent and overdue, one credited, one being written; and a maker's terms."""

from datetime import time, timedelta
from decimal import Decimal

from shopwarranty.claims.maker.actions import Answer, Claimed, note_answer, send_claim, start_claim
from shopwarranty.claims.maker.listing import claimable
from shopwarranty.claims.models import MakerClaim
from shopwarranty.films.models import Lot
from shopwarranty.warranty.maker_terms import TermsFile, keep_terms

from .claimed import OUTSIDE
from .moment import Day

TERMS = (
    "Terms of the maker, invented for this demonstration.\n\n"
    "Faults of the film are claimed within 60 days of finding them, with lot, roll label and photos.\n"
    "An answer is given within 21 days.\n"
)
HAZE = "Milky haze along one edge over the whole length of the roll."


def claim_from_makers(day: Day) -> None:
    lot = day.written.lots[day.story.quarantined]
    keep_terms(
        product=lot.product,
        file=TermsFile("terms.txt", TERMS.encode()),
        title="Film terms",
        dated=day.today - timedelta(days=500),
        report_days=60,
        answer_days=21,
        actor=day.actor("owner"),
        now=day.ago(40),
    )
    _overdue(day, lot)
    settled, begun = _lots_with_defects(day, lot)
    _credited(day, settled)
    _being_written(day, begun)


def _lots_with_defects(day: Day, but: Lot) -> tuple[Lot, Lot]:
    """The two lots that most was found on, apart from the one that was set aside."""
    found = [(claimable(lot.product, lot).count(), -lot.pk, lot) for lot in day.written.lots if lot != but]
    first, second = sorted(found, reverse=True)[:2]
    return first[2], second[2]


def _start(day: Day, lot: Lot, most: int, words: str, asked: str | None, ago: int) -> MakerClaim:
    before = day.ago(ago).date()
    rows = claimable(lot.product, lot).filter(found_on__lt=before).exclude(kind__in=OUTSIDE)
    defects = list(rows[:most])
    claimed = Claimed(defects, words, None if asked is None else Decimal(asked))
    return start_claim(
        product=lot.product, lot=lot, claimed=claimed, actor=day.actor("desk"), now=day.ago(ago, time(11, 5))
    )


def _overdue(day: Day, lot: Lot) -> None:
    """Three weeks were promised; nothing came."""
    claim = _start(day, lot, 0, HAZE, "640.00", 30)
    sent = day.ago(29, time(9, 40))
    send_claim(
        claim=claim,
        mail="",
        how="By post, with two samples",
        answer_due_on=sent.date() + timedelta(days=21),
        actor=day.actor("desk"),
        now=sent,
    )


def _credited(day: Day, lot: Lot) -> None:
    claim = _start(
        day, lot, 3, "Edges let go within weeks, on several vehicles and by different hands.", "420.00", 24
    )
    how = "On the maker's own page"
    send_claim(
        claim=claim, mail="", how=how, answer_due_on=None, actor=day.actor("desk"), now=day.ago(23, time(9))
    )
    said = Answer("answered", day.ago(15).date(), "They look at the retained sample.", "HL-2291")
    note_answer(claim=claim, answer=said, actor=day.actor("desk"), now=day.ago(15, time(16)))
    paid = Answer("credited", day.ago(6).date(), "Film credited, work in part.", credited=Decimal("310.00"))
    note_answer(claim=claim, answer=paid, actor=day.actor("owner"), now=day.ago(6, time(12)))


def _being_written(day: Day, lot: Lot) -> None:
    _start(day, lot, 2, "", None, 2)
