"""Claims as they come: E75 to E83 of the project's awkward cases and its rules for grounds (common practice).

Stages: ISO 10002, restated. Cover through the end of the last day, in the shop's zone: calendar arithmetic.
"""

from datetime import UTC, datetime, timedelta

import pytest

from shopwarranty.claims import actions, refusals
from shopwarranty.claims.actions import Reported
from shopwarranty.claims.actions.deciding import Said
from shopwarranty.claims.case import ItemCase, case_of, items_of
from shopwarranty.claims.models import Claim, ClaimedDefect, Decision, Letter
from shopwarranty.claims.promise import promise_for
from shopwarranty.defects.actions import How, record_remedy
from shopwarranty.defects.models import Defect
from shopwarranty.jobs import actions as jobs
from shopwarranty.jobs.models import Holding, PanelWork, Party
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.outbox.models import Message
from shopwarranty.shops.models import Change
from shopwarranty.warranty.actions import replace_certificate
from shopwarranty.warranty.transfers import Sale, transfer_vehicle
from tests import builders
from tests.claims.conftest import EXCLUSION, LAST_DAY, LATER, Bench
from tests.conftest import NOW


def case(bench: Bench, claim: Claim, nth: int = 0) -> ItemCase:
    return case_of(items_of(claim)[nth], ShopCatalogue(bench.people.shop))


def item_of(claim: Claim, nth: int = 0) -> ClaimedDefect:
    return items_of(claim)[nth]


def fact(bench: Bench, item: ClaimedDefect) -> str:
    found = actions.add_fact(
        item=item, clause=EXCLUSION, words="A scrape crosses the edge.", seen_where="photo of March 6",
        actor=bench.desk, now=LATER,
    )  # fmt: skip
    return f"fact-{found.pk}"


def test_E75_no_evidence_either_way_is_said_and_is_no_ground_for_refusing(bench: Bench) -> None:
    claim = bench.claim()
    found = case(bench, claim)
    assert found.no_evidence
    assert found.grounds == ()
    with pytest.raises(refusals.NoGround):
        bench.decide(item_of(claim), "refuse", ground="fact-1")
    assert not Decision.objects.exists()


def test_E75_a_judged_cause_alone_is_no_ground_either(bench: Bench) -> None:
    claim = bench.claim()
    Defect.objects.update(cause="early_wash", cause_sure="certain")
    assert case(bench, claim).grounds == ()


def test_E75_an_exclusion_shows_only_with_a_fact_and_then_may_be_named(bench: Bench) -> None:
    claim = bench.claim()
    item = item_of(claim)
    ground = fact(bench, item)
    assert [each.key for each in case(bench, claim).grounds] == [ground]
    decision = bench.decide(item_of(claim), "refuse", ground=ground)
    assert decision.clause == EXCLUSION
    assert "A scrape crosses the edge. (photo of March 6)" in decision.fact


def test_a_fact_that_turned_out_otherwise_is_no_ground_any_more(bench: Bench) -> None:
    claim = bench.claim()
    ground = fact(bench, item_of(claim))
    kept = item_of(claim).facts.get()
    actions.set_aside_fact(fact=kept, why="it is dirt", actor=bench.desk, now=LATER)
    assert case(bench, claim).no_evidence
    with pytest.raises(refusals.NoGround):
        bench.decide(item_of(claim), "refuse", ground=ground)


def test_a_clause_that_does_not_stand_on_the_certificate_takes_no_fact(bench: Bench) -> None:
    claim = bench.claim()
    with pytest.raises(refusals.UnknownClause):
        actions.add_fact(
            item=item_of(claim), clause="Washed elsewhere.", words="It was.", seen_where="a receipt",
            actor=bench.desk, now=LATER,
        )  # fmt: skip


def test_E76_a_form_filled_in_after_the_end_counts_from_the_first_report(bench: Bench) -> None:
    told = datetime(2028, 11, 24, 20, tzinfo=UTC)
    claim = bench.claim(
        now=datetime(2028, 12, 10, 15, tzinfo=UTC), first_reported_at=told, channel="telephone"
    )
    assert (claim.first_reported_at, claim.received_at) == (told, datetime(2028, 12, 10, 15, tzinfo=UTC))
    assert [line.title for line in promise_for(item_of(claim)).covering] == ["An edge lifts"]


def test_E77_what_began_in_the_term_and_was_found_after_it_shows_both_and_a_person_decides(
    bench: Bench,
) -> None:
    after = datetime(2028, 12, 10, 15, tzinfo=UTC)
    seen = builders.a_visit(bench.job, after.date(), since_when=LAST_DAY - timedelta(days=9))
    claim = bench.claim(Reported(defect=builders.a_defect(seen, bench.edge())), now=after)
    found = case(bench, claim)
    assert found.began_in_term
    assert [ground.key for ground in found.grounds] == [f"term-{bench.edge_line}"]
    with pytest.raises(refusals.NoCoverLine):
        bench.decide(item_of(claim), "accept", now=after, line_id=bench.edge_line)
    assert bench.decide(item_of(claim), "goodwill", now=after).answer == "goodwill"


@pytest.mark.parametrize(
    ("reported", "covered"),
    [
        (datetime(2028, 11, 26, 4, 59, tzinfo=UTC), True),  # 23:59 in New York on the last day
        (datetime(2028, 11, 26, 5, 0, tzinfo=UTC), False),
    ],
)
def test_E78_the_last_day_counts_to_its_end_in_the_shops_zone(
    bench: Bench, reported: datetime, covered: bool
) -> None:
    claim = bench.claim(now=reported)
    assert bool(promise_for(item_of(claim)).covering) is covered


def test_E79_each_defect_is_decided_by_itself(bench: Bench) -> None:
    claim = bench.claim(
        Reported(defect=bench.defect()), Reported(defect=bench.defect("yellowing", place=bench.edge(nth=1)))
    )
    first, second = items_of(claim)
    ground = fact(bench, second)
    bench.decide(first, "accept", line_id=bench.edge_line)
    claim.refresh_from_db()
    assert claim.state == "in_assessment"
    bench.decide(item_of(claim, 1), "refuse", ground=ground)
    claim.refresh_from_db()
    assert claim.state == "decided"
    assert set(Decision.objects.values_list("answer", flat=True)) == {"accept", "refuse"}
    assert second.pk != first.pk


def test_E80_goodwill_is_possible_without_any_promise_and_counts_as_a_failure_not_as_warranty(
    bench: Bench,
) -> None:
    claim = bench.claim()
    bench.decide(item_of(claim), "goodwill")
    defect = Defect.objects.get()
    record_remedy(
        defect=defect,
        kind="reheat",
        done_on=LATER.date(),
        how=How(is_goodwill=True),
        actor=bench.owner,
        now=LATER,
    )
    assert defect.remedies.get().is_goodwill
    assert Decision.objects.get().line is None


def test_E81_what_another_shop_repaired_is_kept_and_ends_nothing(bench: Bench) -> None:
    defect = bench.defect()
    how = How(by_whom_else="Next Town Film, says the holder")
    record_remedy(defect=defect, kind="reheat", done_on=LATER.date(), how=how, actor=bench.owner, now=LATER)
    claim = bench.claim(Reported("It lifts again.", place=bench.edge()))
    found = case(bench, claim)
    assert [line.title for line in found.promise.covering] == ["An edge lifts", "Film turns yellow"]
    assert found.grounds == ()


@pytest.mark.parametrize("marks", ["A scratch across the edge", ""])
def test_E82_E83_how_the_panel_came_stands_beside_it_and_no_photo_is_said(bench: Bench, marks: str) -> None:
    work = PanelWork.objects.get(job=bench.job, panel="bonnet")
    jobs.record_intake(
        panel_work=work, substrate="paint", marks=marks, acknowledged_by="A. Example", actor=bench.owner,
        now=NOW, reason="typed from the card",
    )  # fmt: skip
    found = case(bench, bench.claim(Reported(defect=bench.defect("knife-mark"))))
    assert found.intake is not None
    assert (found.intake.marks, found.intake.acknowledged_by) == (marks, "A. Example")
    assert found.before == ()


def test_E42_what_was_changed_in_the_record_after_the_report_is_shown(bench: Bench) -> None:
    claim = bench.claim()
    before = case(bench, claim)
    jobs.record_deviation(
        place=bench.edge(), field="passes", actual=1, reason="remembered later", actor=bench.owner,
        now=LATER + timedelta(days=1),
    )  # fmt: skip
    after = case(bench, claim)
    assert before.late == ()
    assert after.late


def test_E72_film_of_somebody_else_is_no_promise_of_ours(bench: Bench) -> None:
    claim = bench.claim(Reported("The roof film peels."))
    item = item_of(claim)
    with pytest.raises(refusals.NotMatched):
        bench.decide(item, "goodwill")
    actions.match_item(item=item, place=None, is_ours=False, actor=bench.desk, now=LATER)
    assert [ground.key for ground in case(bench, claim).grounds] == ["not-ours"]


def test_the_edition_in_force_on_the_day_of_the_report_counts_not_a_later_one(bench: Bench) -> None:
    jobs.change_party(
        party=bench.certificate.holder, values={"name": "A. B. Example"}, actor=bench.owner, now=LATER
    )
    second = replace_certificate(
        certificate=bench.certificate, why="name", actor=bench.owner, now=LATER + timedelta(days=1)
    )
    early = bench.claim(first_reported_at=LATER, now=LATER + timedelta(days=3))
    assert promise_for(item_of(early)).certificate == bench.certificate
    late = bench.claim(Reported("again", place=bench.edge(nth=1)), now=LATER + timedelta(days=4))
    assert promise_for(item_of(late)).certificate == second


def test_what_was_reported_before_a_sale_that_ended_cover_is_settled_as_reported(bench: Bench) -> None:
    plan = bench.yard.published(
        [{"title": "An edge lifts", "years": 2, "remedy": "Pressed.", "defect_kinds": ["edge-lift"]}],
        transfer="none",
    )
    certificate = replace_certificate(
        certificate=bench.certificate,
        why="plan",
        plan_version=plan,
        actor=bench.owner,
        now=NOW + timedelta(days=1),
    )
    buyer = Party.objects.create(name="B. Sample", email="next@example.com")
    sale = Sale(buyer, LATER.date(), agreed=True)
    transfer_vehicle(vehicle=certificate.vehicle, sale=sale, actor=bench.owner, now=LATER)
    before = bench.claim(first_reported_at=LATER - timedelta(days=9), now=LATER + timedelta(days=1))
    after = bench.claim(Reported("it too", place=bench.edge(nth=1)), now=LATER + timedelta(days=2))
    assert promise_for(item_of(before)).covering
    assert not promise_for(item_of(after)).covering
    assert [ground.key for ground in case(bench, after).grounds] == ["sold"]


def test_a_first_report_is_corrected_with_a_reason_and_both_moments_stay(bench: Bench) -> None:
    claim = bench.claim()
    earlier = LATER - timedelta(days=30)
    with pytest.raises(refusals.ReasonNeeded):
        actions.correct_first_report(claim=claim, at=earlier, why=" ", actor=bench.desk, now=LATER)
    actions.correct_first_report(claim=claim, at=earlier, why="voice mail", actor=bench.desk, now=LATER)
    change = Change.objects.get(act="first report")
    assert change.before["first reported"].startswith("2027-03-08")
    assert change.after["first reported"].startswith("2027-02-06")
    with pytest.raises(refusals.ReportedLater):
        actions.correct_first_report(
            claim=claim, at=LATER + timedelta(days=1), why="typo", actor=bench.desk, now=LATER
        )


def test_only_an_owner_decides_and_the_desk_prepares(bench: Bench) -> None:
    item = item_of(bench.claim())
    said = Said("accept", "It lifts.", line_id=bench.edge_line)
    with pytest.raises(refusals.OwnerDecides):
        actions.decide(item=item, said=said, actor=bench.desk, now=LATER)
    proposal = actions.propose(item=item, said=said, actor=bench.desk, now=LATER)
    assert (proposal.answer, proposal.member) == ("accept", bench.people.desk)
    assert not Decision.objects.exists()


def test_the_letter_names_clause_fact_appeal_and_rights_and_is_kept_as_sent(bench: Bench) -> None:
    claim = bench.claim()
    bench.decide(item_of(claim), "refuse", ground=fact(bench, item_of(claim)), reason="A scrape tore it.")
    told = actions.tell(claim=claim, actor=bench.desk, now=LATER)
    text = " ".join(told.letter.text.split())
    for words in (
        "“Damage from outside.”",
        "A scrape crosses the edge.",
        "A scrape tore it.",
        "If you see it differently",
        "4 Kiln Lane",
        "This warranty gives you specific legal rights",  # 16 CFR 701.3(a)(9)
        "The hood" if "The hood" in text else "Hood",
    ):
        assert words in text, words
    assert told.message is not None
    assert told.message.text == told.letter.text
    assert told.message.attachments[0]["sha256"] == told.letter.pdf_sha256
    assert "expired" not in text


def test_a_holder_without_an_address_is_told_on_paper(bench: Bench) -> None:
    Party.objects.update(email="")
    claim = bench.received()
    with pytest.raises(refusals.ReasonNeeded):
        actions.acknowledge(claim=claim, actor=bench.desk, now=LATER)
    actions.acknowledge(claim=claim, how="said on the telephone", actor=bench.desk, now=LATER)
    actions.assess(claim=claim, is_safety=None, is_spreading=None, note="", actor=bench.desk, now=LATER)
    bench.decide(item_of(claim), "accept", line_id=bench.edge_line)
    told = actions.tell(claim=claim, actor=bench.desk, now=LATER)
    assert (told.message, told.letter.to) == (None, "")
    assert not Message.objects.filter(about=f"claim:{claim.pk}").exists()


def test_opened_twice_with_the_same_id_it_is_one(bench: Bench) -> None:
    first = bench.received()
    again = actions.open_claim(
        vehicle=first.vehicle, items=(Reported("x"),), actor=bench.desk, now=LATER, uid=first.uid
    )
    assert again.pk == first.pk
    assert Claim.objects.count() == 1


def test_a_place_of_another_vehicle_is_refused(bench: Bench) -> None:
    other = builders.places_of(builders.a_job())[0]
    with pytest.raises(refusals.Elsewhere):
        bench.received(Reported("there", place=other))


def test_it_is_acknowledged_at_once_with_its_number_and_the_next_step(bench: Bench) -> None:
    claim = bench.claim()
    letter = Letter.objects.get(about="received")
    message = Message.objects.get(key=f"claim:{claim.pk}:received")
    assert claim.number in message.subject
    assert "It counts as reported on March 8, 2027" in message.text
    assert message.text == letter.text


def test_the_claimant_is_the_holder_of_that_moment(bench: Bench) -> None:
    claim = bench.received()
    holder = Holding.objects.get(role="holder", until__isnull=True).party
    assert claim.claimant == holder
