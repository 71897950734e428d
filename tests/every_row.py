"""One row of every kind that an address of a shop can show."""

from dataclasses import dataclass, replace
from hashlib import sha256

from shopwarranty.claims.models import Claim, ClaimedDefect, ClaimFact, Letter, MakerClaim
from shopwarranty.defects.models import CorrectiveAction, Defect, ShopDefectKind
from shopwarranty.desk.models import BatchLine, CertificateBatch
from shopwarranty.films.models import Cut, MakerTerms
from shopwarranty.inspections.actions.check_plans import change_check_plan
from shopwarranty.inspections.models import CalendarFeed, CheckPlan
from shopwarranty.inspections.plan_changes import PlanValues
from shopwarranty.jobs.actions import add_usual_method
from shopwarranty.jobs.models import (
    Deviation,
    Job,
    LayingEvent,
    Photo,
    Reading,
    RemovedItem,
    ShopField,
    ShopPanel,
    ShopPlace,
)
from shopwarranty.outbox.actions import put_message
from shopwarranty.outbox.addresses import mark_address
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Bay, Change, ClosedDay, Invitation
from shopwarranty.shops.stored_bytes import keep
from shopwarranty.trials.models import Draw, Trial
from shopwarranty.warranty.models import Certificate, SigningKey
from tests import builders
from tests.bay_device import enrolled
from tests.conftest import NOW, ShopPeople
from tests.warranty.conftest import make_yard


def plan_changed(plan: CheckPlan, people: ShopPeople) -> Change:
    values = replace(PlanValues.of(plan), minutes=30)
    actor = Actor.of(people.owner)
    change, _ = change_check_plan(plan=plan, values=values, seen_version=plan.version, actor=actor, now=NOW)
    assert change is not None
    return change


@dataclass(frozen=True, slots=True)
class Rows:
    """One row of each kind in our shop."""

    product: int
    lot: int
    roll: int
    cut: int
    member: int
    invitation: int
    closed_day: int
    message: int
    marked_address: int
    job: int
    vehicle: int
    panel: int
    place: int
    deviation: int
    reading: int
    removed: int
    laying_event: int
    party: int
    photo: int
    method: int
    method_version: int
    shop_field: int
    shop_panel: int
    shop_place: int
    check: int
    bay: int
    bay_device: int
    check_plan: int
    plan_change: int
    booking: int
    report: int
    calendar_feed: int
    visit: int
    finding: int
    defect: int
    defect_kind: int
    certificate: int
    certificate_batch: int
    plan: int
    maker_terms: int
    signing_key: int
    corrective_action: int
    claim: int
    claim_item: int
    claim_fact: int
    claim_letter: int
    maker_claim: int
    plan_version: int
    trial: int
    draw: int


def rows_of(people: ShopPeople) -> Rows:
    """In the shop whose scope is entered. Its texts name the shop, so that a leak is seen in an answer."""
    slug = people.shop.slug
    vehicle = builders.a_vehicle(holder=builders.a_holder(f"Holder at {slug}"), model=f"Tarn of {slug}")
    job = builders.a_job(vehicle=vehicle, handed_over_on=builders.days_ago(14))
    lot = job.panels.get().pieces.get().lot
    assert lot is not None
    roll = builders.a_roll(lot)
    cut = Cut.objects.create(roll=roll, kind="offcut", along_mm=100, cut_at=NOW)
    invitation = Invitation.objects.create(
        email=f"new@{slug}.example",
        token_hash=sha256(slug.encode()).hexdigest(),
        invited_at=NOW,
        expires_at=NOW,
    )
    message = put_message(
        key="walk", to="owner1@example.com", subject=f"Said by {slug}", text="Walk", now=NOW
    )
    panel = job.panels.get()
    place = panel.pieces.get().places.first()
    assert place is not None
    version = add_usual_method(actor=Actor.of(people.owner), now=NOW)
    photo = Photo.objects.create(
        vehicle=job.vehicle,
        job=job,
        stage="intake",
        sha256=keep(slug.encode()).sha256,
        length=len(slug),
        original_sha256="0" * 64,
        width=1,
        height=1,
        added_at=NOW,
    )
    looked = builders.looked_at(job, builders.TODAY, {"window": 3})
    booking = builders.a_booking(builders.a_check(job))
    yard = make_yard(people)
    certificate = yard.issue(yard.job(vehicle=yard.vehicle(holder=f"Owner at {slug}", plate=f"AA {slug}")))
    claim, item, fact, letter = claim_rows(certificate, slug)
    trial, draw = trial_rows(job, people, slug)
    return Rows(
        trial=trial,
        draw=draw,
        signing_key=SigningKey.objects.create(
            sealed=b"sealed", certificate_pem=f"PEM of {slug}", fingerprint=f"print of {slug}", made_at=NOW
        ).pk,
        corrective_action=CorrectiveAction.objects.create(
            number="A9001", text=f"Heat every recess at {slug}", owner=people.owner, set_at=NOW
        ).pk,
        claim=claim,
        claim_item=item,
        claim_fact=fact,
        claim_letter=letter,
        maker_claim=MakerClaim.objects.create(
            number="M9001", product=lot.product, lot=lot, words=f"Haze, says {slug}", made_at=NOW
        ).pk,
        certificate=certificate.pk,
        certificate_batch=batch_of(certificate).pk,
        plan=certificate.plan_version.plan_id,
        maker_terms=MakerTerms.objects.create(
            product=lot.product,
            title=f"Terms of {slug}",
            dated=builders.TODAY,
            sha256=keep(f"terms {slug}".encode()).sha256,
            file_name="terms.txt",
        ).pk,
        plan_version=certificate.plan_version_id,
        check=booking.check_due_id,
        bay=Bay.objects.get().pk,
        bay_device=enrolled(people.owner, NOW, name=f"Tablet of {slug}")[0].pk,
        check_plan=booking.check_due.plan_id,
        plan_change=plan_changed(booking.check_due.plan, people).pk,
        booking=booking.pk,
        report=builders.a_report(job, words=f"Said to {slug}").pk,
        calendar_feed=CalendarFeed.objects.create(
            bay=Bay.objects.get(), token_hash=sha256(f"feed {slug}".encode()).hexdigest(), made_at=NOW
        ).pk,
        visit=builders.a_visit(job, finished=False).pk,
        finding=looked.findings.earliest("pk").pk,
        defect=Defect.objects.get().pk,
        defect_kind=ShopDefectKind.objects.create(key="own-kind", name=f"Kind of {slug}").pk,
        panel=panel.pk,
        place=place.pk,
        deviation=Deviation.objects.create(job=job, panel_work=panel, place=place, field="passes", at=NOW).pk,
        reading=Reading.objects.create(job=job, at=NOW, entered_at=NOW).pk,
        removed=RemovedItem.objects.create(panel_work=panel, name=f"badge {slug}").pk,
        laying_event=LayingEvent.objects.create(panel_work=panel, kind="needle").pk,
        party=job.vehicle.holdings.get().party.pk,
        photo=photo.pk,
        method=version.method.pk,
        method_version=version.pk,
        shop_panel=ShopPanel.objects.create(key="own-y", name=f"Panel of {slug}", edges=["a"]).pk,
        shop_place=ShopPlace.objects.create(
            panel="roof", key="own-z", name=f"Place of {slug}", kind="edge"
        ).pk,
        shop_field=ShopField.objects.create(
            key="own-x", name=f"Field of {slug}", level="job", kind="yes_no"
        ).pk,
        product=lot.product.pk,
        lot=lot.pk,
        roll=roll.pk,
        cut=cut.pk,
        member=people.desk.pk,
        invitation=invitation.pk,
        closed_day=ClosedDay.objects.create(on="2026-12-25").pk,
        message=message.pk,
        marked_address=mark_address(
            channel="mail", address=f"gone@{slug}.example", source="server", why="", now=NOW
        ).pk,
        job=job.pk,
        vehicle=job.vehicle.pk,
    )


def batch_of(certificate: Certificate) -> CertificateBatch:
    """Certificates asked for together, one of them issued."""
    batch = CertificateBatch.objects.create(started_at=NOW)
    BatchLine.objects.create(
        batch=batch, job=certificate.job, state="issued", certificate=certificate, at=NOW
    )
    return batch


def trial_rows(job: Job, people: ShopPeople, slug: str) -> tuple[int, int]:
    """A running trial and one half of a pair."""
    trial = Trial.objects.create(
        number="T900",
        question=f"Asked at {slug}",
        field="post_heated",
        usual_value="yes",
        other_value="no",
        less_careful=True,
        unit="sides",
        places=["edge"],
        by_day=90,
        check_days=[14, 90],
        seed=7,
        state="running",
        set_up_by=people.owner,
        set_up_at=NOW,
    )
    place = builders.places_of(job)[0]
    draw = Draw.objects.create(
        trial=trial,
        pair=1,
        job=job,
        panel="left-front-door",
        place_key=place.key,
        place=place,
        arm="usual",
        drawn_at=NOW,
    )
    return trial.pk, draw.pk


def claim_rows(certificate: Certificate, slug: str) -> tuple[int, int, int, int]:
    """A claim in assessment, what it is about, a fact and a letter."""
    claim = Claim.objects.create(
        number="C9001",
        vehicle=certificate.vehicle,
        certificate=certificate,
        claimant=certificate.holder,
        first_reported_at=NOW,
        received_at=NOW,
        words=f"An edge lifts, says {slug}",
        state=Claim.State.IN_ASSESSMENT,
    )
    place = builders.places_of(certificate.job)[0]
    item = ClaimedDefect.objects.create(claim=claim, place=place, words=f"Lifts at {slug}", is_ours=True)
    fact = ClaimFact.objects.create(
        item=item, clause=f"Clause of {slug}", words=f"Fact of {slug}", seen_where="a photo", at=NOW
    )
    letter = Letter.objects.create(
        claim=claim, text=f"Letter of {slug}", sent_at=NOW, pdf_sha256=keep(f"letter {slug}".encode()).sha256
    )
    return claim.pk, item.pk, fact.pk, letter.pk
