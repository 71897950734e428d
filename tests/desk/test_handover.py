"""Handing over: what blocks, asks and tells, and that the act happens once and whole."""

import json
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError
from django.utils import timezone

from shopwarranty.defects.models import Defect
from shopwarranty.desk import handover
from shopwarranty.desk.gap import Kind
from shopwarranty.desk.handover import Blocked, OwnerAsked, ReasonsAsked, hand_over, what_is_missing
from shopwarranty.films.models import Cut, Lot
from shopwarranty.inspections.actions import start_visit, sweep_panel
from shopwarranty.inspections.models import Check, Visit
from shopwarranty.jobs import actions as jobs
from shopwarranty.jobs.models import FilmPiece, Job, PanelWork, RemovedItem, Vehicle
from shopwarranty.outbox.models import Message
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Shop
from shopwarranty.warranty.models import Certificate, ReasonGiven
from tests.builders import a_defect, a_place
from tests.conftest import NOW
from tests.warranty.conftest import AN_EDGE, TODAY, Yard

pytestmark = pytest.mark.usefixtures("plain_pdf")
UNSEEN = {"no_look": "the owner waits, looked at from afar"}


def handover_look(yard: Yard, job: Job) -> Visit:
    return start_visit(
        job=job, origin="planned", is_handover_look=True, actor=yard.actor, now=NOW, today=TODAY
    )


def looked_at(yard: Yard, job: Job) -> Visit:
    visit = handover_look(yard, job)
    for work in PanelWork.objects.filter(job=job, finished_at__isnull=False):
        sweep_panel(visit=visit, panel_work=work, now=NOW)
    return visit


def keys(job: Job, kind: Kind) -> list[str]:
    return [gap.key for gap in what_is_missing(job, NOW) if gap.kind is kind]


def test_a_finished_and_looked_at_job_is_handed_over_as_one_act(yard: Yard) -> None:
    job = yard.job()
    visit = looked_at(yard, job)
    done = hand_over(job=job, actor=yard.actor, now=NOW)
    job.refresh_from_db()
    visit.refresh_from_db()
    assert (job.state, job.handed_over_at, job.handed_over_on) == ("handed_over", NOW, TODAY)
    assert visit.state == Visit.State.FINISHED
    assert done.certificate is not None
    assert done.certificate.starts_on == TODAY
    two_weeks = next(check for check in done.checks if check.plan.key == "two-week")
    assert two_weeks.due_on == date(2026, 12, 9)
    message = Message.objects.get()
    assert message.to == "holder@example.com"
    assert message.attachments[0]["sha256"] == done.certificate.pdf_sha256


def test_E48_handing_over_twice_changes_nothing(yard: Yard) -> None:
    job = yard.job()
    first = hand_over(job=job, actor=yard.actor, now=NOW, reasons=UNSEEN)
    again = hand_over(job=job, actor=yard.actor, now=NOW, reasons=UNSEEN)
    assert again.again
    assert again.certificate == first.certificate
    assert (Certificate.objects.count(), Message.objects.count()) == (1, 1)
    assert ReasonGiven.objects.count() == 1


def test_somebody_quicker_leaves_one_certificate(yard: Yard, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second has prepared already when the first finishes."""
    job = yard.job()
    prepare = handover.prepare

    def overtaken(*args: Any) -> Any:
        mine = prepare(*args)
        monkeypatch.setattr(handover, "prepare", prepare)
        hand_over(job=job, actor=yard.actor, now=NOW, reasons=UNSEEN)
        return mine

    monkeypatch.setattr(handover, "prepare", overtaken)
    late = hand_over(job=job, actor=yard.actor, now=NOW, reasons=UNSEEN)
    assert late.again
    assert Certificate.objects.count() == 1


def meanwhile(monkeypatch: pytest.MonkeyPatch, act: Callable[[], Any]) -> None:
    """Somebody does this while the certificate is being drawn for the first time."""
    prepare = handover.prepare

    def slow(*args: Any) -> Any:
        mine = prepare(*args)
        monkeypatch.setattr(handover, "prepare", prepare)
        act()
        return mine

    monkeypatch.setattr(handover, "prepare", slow)


def test_what_is_promised_is_what_stands_at_the_moment(yard: Yard, monkeypatch: pytest.MonkeyPatch) -> None:
    job = yard.job()
    meanwhile(monkeypatch, lambda: Vehicle.objects.filter(pk=job.vehicle_id).update(colour="green"))
    done = hand_over(job=job, actor=yard.actor, now=NOW, reasons=UNSEEN)
    assert done.certificate is not None
    assert "green" in json.dumps(done.certificate.snapshot)


def test_a_defect_found_while_the_certificate_is_drawn_is_asked_about(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = yard.job()
    meanwhile(monkeypatch, lambda: a_defect(handover_look(yard, job), a_place(job, "leading"), severity=3))
    with pytest.raises(ReasonsAsked):
        hand_over(job=job, actor=yard.actor, now=NOW, reasons=UNSEEN)
    job.refresh_from_db()
    assert job.state == Job.State.OPEN
    assert not Certificate.objects.exists()


def test_a_panel_nobody_looked_at_asks_for_a_reason_that_is_kept(yard: Yard) -> None:
    job = yard.job()
    with pytest.raises(ReasonsAsked):
        hand_over(job=job, actor=yard.actor, now=NOW)
    assert Job.objects.get(pk=job.pk).state == "open"
    hand_over(job=job, actor=yard.actor, now=NOW, reasons=UNSEEN)
    given = ReasonGiven.objects.get()
    assert (given.question, given.reason, given.member) == (
        "no_look",
        UNSEEN["no_look"],
        yard.people.installer,
    )


def set_up_vin(yard: Yard) -> Job:
    return yard.job(vehicle=yard.vehicle(vin="", vin_kind="to_read"))


def set_up_no_holder(yard: Yard) -> Job:
    return yard.job(vehicle=yard.vehicle(holder=""))


def set_up_nothing_finished(yard: Yard) -> Job:
    return yard.job(finished=())


def set_up_no_address(yard: Yard) -> Job:
    Shop.objects.filter(pk=yard.shop.pk).update(street="", town="", country="")
    return yard.job()


def set_up_no_https(yard: Yard) -> Job:
    Shop.objects.filter(pk=yard.shop.pk).update(public_url="")
    return yard.job()


def set_up_no_plan(yard: Yard) -> Job:
    type(yard.plan.plan).objects.update(retired_at=NOW)
    return yard.job()


def set_up_severity_4(yard: Yard) -> Job:
    return with_defect(yard, 4)


def with_defect(yard: Yard, severity: int) -> Job:
    job = yard.job()
    visit = looked_at(yard, job)
    place = a_place(job, "handle", "left-front-door")
    visit.findings.filter(place=place).delete()
    a_defect(visit, place, severity=severity)
    return job


BLOCKING: list[tuple[Callable[[Yard], Job], str]] = [
    (set_up_vin, "vin"),
    (set_up_no_holder, "holder"),
    (set_up_nothing_finished, "panels"),
    (set_up_no_address, "warrantor"),
    (set_up_no_https, "public-address"),
    (set_up_no_plan, "plan"),
    (set_up_severity_4, "severity_4"),
]


@pytest.mark.parametrize(("set_up", "key"), BLOCKING)
def test_what_blocks_cannot_be_overridden(yard: Yard, set_up: Callable[[Yard], Job], key: str) -> None:
    job = Job.objects.get(pk=set_up(yard).pk)
    assert [each for each in keys(job, Kind.BLOCKS) if each.startswith(key)]
    with pytest.raises(Blocked):
        hand_over(job=job, actor=Actor.of(yard.people.owner), now=NOW, reasons={key: "go on", **UNSEEN})
    assert not Certificate.objects.exists()
    assert Job.objects.get(pk=job.pk).state == "open"


def set_up_quarantine(yard: Yard) -> Job:
    job = yard.job()
    Lot.objects.filter(number="61-0934").update(quarantined_at=NOW, quarantine_reason="haze")
    return job


def set_up_roll_below_zero(yard: Yard) -> Job:
    job = yard.job()
    Cut.objects.create(roll=yard.rolls[0], kind="piece", along_mm=20000, off_roll_mm=20000, cut_at=NOW)
    return job


def set_up_item_off(yard: Yard) -> Job:
    job = yard.job()
    work = PanelWork.objects.get(job=job, panel="left-front-door")
    RemovedItem.objects.create(panel_work=work, name="door handle")
    return job


def set_up_severity_3(yard: Yard) -> Job:
    return with_defect(yard, 3)


ASKING: list[tuple[Callable[[Yard], Job], str]] = [
    (set_up_quarantine, "quarantined_lot"),
    (set_up_roll_below_zero, "roll_below_zero"),
    (set_up_item_off, "not_refitted"),
    (set_up_severity_3, "severity_3"),
]


@pytest.mark.parametrize(("set_up", "key"), ASKING)
def test_what_asks_goes_on_with_a_reason(yard: Yard, set_up: Callable[[Yard], Job], key: str) -> None:
    job = set_up(yard)
    asked = keys(job, Kind.ASKS)
    assert [each for each in asked if each.startswith(key)]
    hand_over(job=job, actor=yard.actor, now=NOW, reasons=dict.fromkeys(asked, "agreed with the owner"))
    assert set(ReasonGiven.objects.values_list("question", flat=True)) == set(asked)


def test_a_defect_below_the_line_asks_for_nothing(yard: Yard) -> None:
    job = with_defect(yard, 2)
    assert Defect.objects.filter(state="open").exists()
    assert keys(job, Kind.ASKS) == []


def warned_plan(yard: Yard) -> None:
    """16 CFR 700.10: cover that hangs on a named product reads like a tie."""
    from shopwarranty.warranty.models import PlanVersion
    from shopwarranty.warranty.plan_actions import write_draft
    from tests.warranty.conftest import WORDS

    words = {**WORDS, "aftercare": ["This warranty is void unless it is washed with Brightfoam soap."]}
    draft = write_draft(plan=yard.plan.plan, words=words, lines=[AN_EDGE], actor=yard.actor, now=NOW)
    PlanVersion.objects.filter(pk=draft.pk).update(published_at=NOW)


def test_a_legal_warning_is_the_owners_to_override(yard: Yard) -> None:
    warned_plan(yard)
    job = yard.job()
    looked_at(yard, job)
    asked = keys(job, Kind.ASKS)
    assert "US-N2" in asked
    reasons = dict.fromkeys(asked, "our lawyer agreed")
    with pytest.raises(OwnerAsked):
        hand_over(job=job, actor=yard.actor, now=NOW, reasons=reasons)
    assert handover.give_reasons(job=job, reasons=reasons, actor=Actor.of(yard.people.owner), now=NOW)
    done = hand_over(job=job, actor=yard.actor, now=NOW)
    assert done.certificate is not None


def test_E13_a_holder_without_mail_gets_paper_and_nothing_is_sent(yard: Yard) -> None:
    job = yard.job()
    party = job.vehicle.holdings.get(role="holder").party
    jobs.change_party(party=party, values={"email": ""}, actor=yard.actor, now=NOW)
    assert "no-mail" in keys(job, Kind.TELLS)
    done = hand_over(job=job, actor=yard.actor, now=NOW, reasons=UNSEEN)
    assert done.certificate is not None
    assert done.message is None


def test_E08_a_check_digit_only_tells(yard: Yard) -> None:
    job = yard.job(vehicle=yard.vehicle(vin="0DEMXWRA9TF000124"))
    assert "vin-check" in keys(job, Kind.TELLS)


def test_E31_conditions_nobody_measured_are_said_to_be_unmeasured(yard: Yard) -> None:
    assert "unmeasured" in keys(yard.job(), Kind.TELLS)


def test_E35_a_surface_near_the_dew_point_only_tells(yard: Yard) -> None:
    """Air 20 C at 90 % has its dew point at 18.3 C (Magnus form, Alduchov and Eskridge 1996)."""
    from shopwarranty.jobs.models import Reading

    job = yard.job()
    Reading.objects.create(
        job=job, at=NOW, entered_at=NOW, air_c=20, air_c_basis="measured", surface_c=19,
        surface_c_basis="measured", humidity=90, humidity_basis="measured",
    )  # fmt: skip
    assert any(key.startswith("dew:") for key in keys(job, Kind.TELLS))
    assert not any(key.startswith("dew:") for key in keys(job, Kind.ASKS))


def test_film_or_lot_that_nobody_recorded_only_tells(yard: Yard) -> None:
    job = yard.job()
    pieces = FilmPiece.objects.filter(panel_work__job=job).order_by("pk")
    FilmPiece.objects.filter(pk=pieces[0].pk).update(product=None, lot=None, roll=None)
    FilmPiece.objects.filter(pk=pieces[1].pk).update(lot=None, roll=None, lot_unknown_reason="label_lost")
    assert {"film", "lot"} <= set(keys(job, Kind.TELLS))
    assert hand_over(job=job, actor=yard.actor, now=NOW, reasons=UNSEEN).certificate is not None


def test_E16_our_own_vehicle_is_handed_over_without_a_certificate_but_with_checks(yard: Yard) -> None:
    job = yard.job(vehicle=yard.vehicle(holder="", owned="shop"), kind="own")
    done = hand_over(job=job, actor=yard.actor, now=NOW, reasons=UNSEEN)
    assert done.certificate is None
    assert Check.objects.filter(job=job).exists()
    assert not Message.objects.exists()


def test_one_issued_beforehand_stays_when_the_day_is_kept_and_is_replaced_when_not(yard: Yard) -> None:
    kept = yard.job(planned_handover_on=TODAY)
    before = yard.issue(kept)
    done = hand_over(job=kept, actor=yard.actor, now=NOW, reasons=UNSEEN)
    assert done.certificate == before
    moved = yard.job(vehicle=yard.vehicle(vin="", vin_kind="none"), planned_handover_on=date(2026, 11, 20))
    early = yard.issue(moved, handed_over_on=date(2026, 11, 20))
    done = hand_over(job=moved, actor=yard.actor, now=NOW, reasons=UNSEEN)
    assert done.certificate is not None
    assert (done.certificate.edition, done.certificate.starts_on) == (2, TODAY)
    assert Certificate.objects.get(pk=early.pk).state == "replaced"


def test_when_a_row_is_refused_nothing_of_the_act_remains(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = yard.job()

    def refuse(**more: Any) -> None:
        raise IntegrityError("no")

    monkeypatch.setattr(handover, "plan_checks", refuse)
    with pytest.raises(IntegrityError):
        hand_over(job=job, actor=yard.actor, now=NOW, reasons=UNSEEN)
    job.refresh_from_db()
    assert job.state == "open"
    assert not Certificate.objects.exists()
    assert not ReasonGiven.objects.exists()


def issue(yard: Yard, ref: str, out: Path) -> None:
    call_command("issue_certificate", shop=yard.shop.slug, job=ref, pdf=out, verbosity=0)


def test_the_command_hands_over_a_finished_job_and_writes_the_stored_bytes(
    yard: Yard, tmp_path: Path
) -> None:
    job = yard.job()
    looked_at(yard, job)
    issue(yard, job.ref, tmp_path / "a.pdf")
    issue(yard, job.ref, tmp_path / "b.pdf")
    certificate = Certificate.objects.get()
    assert (tmp_path / "a.pdf").read_bytes() == stored_bytes.read(certificate.pdf_sha256)
    assert (tmp_path / "b.pdf").read_bytes() == (tmp_path / "a.pdf").read_bytes()


def test_the_command_says_what_blocks_and_writes_nothing(yard: Yard, tmp_path: Path) -> None:
    job = set_up_vin(yard)
    with pytest.raises(CommandError, match="VIN") as refused:
        issue(yard, job.ref, tmp_path / "a.pdf")
    assert refused.value.returncode == 2
    assert not (tmp_path / "a.pdf").exists()
    assert not Certificate.objects.exists()


def test_the_command_issues_for_a_job_that_history_brought_in(yard: Yard, tmp_path: Path) -> None:
    job = yard.job()
    then = datetime(2026, 3, 1, 17, tzinfo=timezone.get_default_timezone())
    Job.objects.filter(pk=job.pk).update(
        state="handed_over", handed_over_at=then, handed_over_on=date(2026, 3, 1)
    )
    issue(yard, job.ref, tmp_path / "a.pdf")
    assert Certificate.objects.get().last_day == date(2027, 3, 1)
    assert not Message.objects.exists()


def test_a_reason_for_not_looking_does_not_cover_a_panel_finished_later(yard: Yard) -> None:
    job = yard.job(finished=("bonnet",))
    handover.give_reasons(job=job, reasons=UNSEEN, actor=yard.actor, now=NOW)
    assert [gap.answered for gap in what_is_missing(job, NOW) if gap.key == "no_look"] == [UNSEEN["no_look"]]
    later = NOW + timedelta(hours=1)
    bumper = PanelWork.objects.get(job=job, panel="front-bumper")
    jobs.confirm_panel(panel_work=bumper, actor=yard.actor, now=later, finished=True)
    assert [gap.answered for gap in what_is_missing(job, later) if gap.key == "no_look"] == [""]
    with pytest.raises(ReasonsAsked):
        hand_over(job=job, actor=yard.actor, now=later)


def test_E11_the_certificate_goes_to_the_holder_also_where_somebody_else_is_called(yard: Yard) -> None:
    job = yard.job()
    driver = jobs.add_party(name="D. Driver", email="driver@example.com", actor=yard.actor, now=NOW)
    jobs.hold_vehicle(
        vehicle=job.vehicle, party=driver, role="contact", since=TODAY, actor=yard.actor, now=NOW
    )
    done = hand_over(job=job, actor=yard.actor, now=NOW, reasons=UNSEEN)
    assert done.certificate is not None
    assert done.certificate.holder.name == "A. Example"
    assert Message.objects.get().to == "holder@example.com"
