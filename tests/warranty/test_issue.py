"""Issuing: one number, one PDF, frozen, with the dates and the text the law asks for.

16 CFR 701.3: the checklist's own sources; required wording: fixtures/reference/required_statements.json.
ISO/IEC 7064 MOD 97-10: against python-stdnum. Dates: calendar arithmetic of the project's date rules.
"""

import io
from collections.abc import Callable
from datetime import UTC, date, datetime

import pytest
from django.db import IntegrityError, transaction
from pypdf import PdfReader
from stdnum.iso7064 import mod_97_10

from shopwarranty.jobs import actions as jobs
from shopwarranty.jobs.models import FilmPiece, Job, PanelWork
from shopwarranty.outbox.models import Message
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.models import Change, Shop
from shopwarranty.warranty import actions, refusals
from shopwarranty.warranty.certificate_checks import check, text_of
from shopwarranty.warranty.disclosures import State, check_printed, flags_of, profile_of
from shopwarranty.warranty.models import Certificate, CoverLine
from shopwarranty.warranty.planned_dates import replace_moved
from shopwarranty.warranty.proof import faults_of
from shopwarranty.warranty.snapshot import NoHolder, NothingToCertify
from shopwarranty.warranty.snapshot_parts import read_snapshot
from shopwarranty.warranty.specimen import specimen, unsaved
from shopwarranty.warranty.telling import tell_issued
from shopwarranty.warranty.usual_plan import cover_lines, words_for
from shopwarranty.web.formats import full_date
from tests.conftest import NOW, ShopPeople
from tests.warranty.conftest import AN_EDGE, TODAY, Yard


def printed(certificate: Certificate) -> str:
    reader = PdfReader(io.BytesIO(stored_bytes.read(certificate.pdf_sha256)))
    return "\f".join(page.extract_text() for page in reader.pages)


def test_a_certificate_has_snapshot_bytes_hash_and_covers(yard: Yard) -> None:
    certificate = yard.issue()
    assert certificate.number == "KL-26-0001-10"
    assert stored_bytes.read(certificate.pdf_sha256).startswith(b"%PDF-")
    assert certificate.covers.count() == 8 * 2
    assert list(faults_of(certificate)) == []


def test_its_number_carries_check_characters_an_independent_reader_accepts(yard: Yard) -> None:
    number = yard.issue().number.replace("-", "")
    assert mod_97_10.is_valid(number)
    assert not mod_97_10.is_valid(number.replace("0001", "0010"))


US_ITEMS = ("US-00", "US-01", "US-02", "US-03", "US-04", "US-05", "US-09")


@pytest.mark.parametrize("identifier", US_ITEMS)
def test_the_us_pdf_shows_every_disclosure_of_16_cfr_701_3(yard: Yard, identifier: str) -> None:
    """On text extracted from the real PDF by an independent reader."""
    certificate = yard.issue()
    text = text_of(read_snapshot(certificate.snapshot))
    found = check_printed(
        profile_of("us"),
        printed(certificate),
        flags_of(text),
        certificate=text,
        day_words=lambda day: full_date(day, yard.shop),
    )
    item = next(each for each in found if each.identifier == identifier)
    assert item.state is State.MET, f"{item.message} {item.remedy or ''}"


@pytest.mark.parametrize("profile", ["us", "eu", "uk", "au", "other"])
def test_nothing_in_the_starting_plan_is_missing_or_forbidden(yard: Yard, profile: str) -> None:
    shop = yard.shop
    shop.legal_profile, shop.country = profile, "IE" if profile == "eu" else ""
    version, lines = unsaved(words_for(shop), list(cover_lines()), yard.plan.plan)
    wrong = [item for item in check(specimen(version, lines, shop, NOW)) if item.blocks or item.asks_reason]
    assert wrong == []


def test_a_limit_stands_on_the_first_page_with_its_statement(yard: Yard) -> None:
    """16 CFR 701.3(a)(7) and (8): on the face, beside the limit."""
    draft = yard.published(
        limits_implied=True,
        limits_implied_words="Implied warranties last no longer than this written warranty.",
        excludes_consequential=True,
        excludes_consequential_words="Loss of use is not paid for.",
    )
    prepared = actions.prepare_certificate(job=yard.job(), plan_version=draft, handed_over_on=TODAY, now=NOW)
    certificate = actions.issue_prepared(prepared=prepared, actor=yard.actor, now=NOW)
    text = text_of(read_snapshot(certificate.snapshot))
    found = check_printed(profile_of("us"), printed(certificate), flags_of(text), certificate=text)
    states = {item.identifier: item.state for item in found}
    assert states["US-07"] is State.MET
    assert states["US-08"] is State.MET


def test_E06_without_a_vin_nothing_final_is_issued(yard: Yard) -> None:
    job = yard.job(vehicle=yard.vehicle(vin="", vin_kind="to_read"))
    with pytest.raises(refusals.VinToRead):
        yard.issue(job)


def test_E16_the_shops_own_vehicle_gets_no_certificate(yard: Yard) -> None:
    job = yard.job(vehicle=yard.vehicle(holder="", owned="shop"), kind="own")
    with pytest.raises(refusals.NotACustomersVehicle):
        yard.issue(job)


def test_nobody_is_promised_anything_without_a_name(yard: Yard) -> None:
    with pytest.raises(NoHolder):
        yard.issue(yard.job(vehicle=yard.vehicle(holder="")))


def test_a_code_never_leads_nowhere(yard: Yard) -> None:
    Shop.objects.filter(pk=yard.shop.pk).update(public_url="http://kiln.example")
    with pytest.raises(refusals.NoPublicAddress):
        yard.issue()


def test_E25_a_maker_promises_nothing_for_film_the_owner_brought(yard: Yard) -> None:
    line = {"title": "Film turns yellow", "years": 7, "remedy": "New film.", "warrantor": "maker"}
    draft = yard.published(lines=[AN_EDGE, line])
    for roll in yard.rolls:
        type(roll.product).objects.filter(pk=roll.product_id).update(
            maker_address="3 Mill Lane, Example Town"
        )
    job = yard.job()
    bonnet = FilmPiece.objects.get(panel_work__job=job, panel_work__panel="bonnet")
    FilmPiece.objects.filter(pk=bonnet.pk).update(supplied_by_owner=True)
    prepared = actions.prepare_certificate(job=job, plan_version=draft, handed_over_on=TODAY, now=NOW)
    by_maker = [promise for promise in prepared.snapshot.promises if promise.by_maker]
    assert by_maker
    assert all(bonnet.pk not in promise.pieces for promise in by_maker)
    assert {promise.warrantor for promise in by_maker} == {"Alder"}


def test_E40_only_finished_panels_are_on_it_and_the_rest_comes_as_a_new_edition(yard: Yard) -> None:
    job = yard.job(panels=("bonnet", "left-wing"), finished=("bonnet",))
    first = yard.issue(job)
    assert [panel["key"] for panel in first.snapshot["panels"]] == ["bonnet"]
    later = datetime(2026, 12, 2, 16, tzinfo=UTC)
    wing = PanelWork.objects.get(job=job, panel="left-wing")
    jobs.confirm_panel(panel_work=wing, actor=yard.actor, now=later, finished=True, finished_at=later)
    second = actions.replace_certificate(certificate=first, why="second wing", actor=yard.actor, now=later)
    first.refresh_from_db()
    assert (first.state, second.state, second.edition, second.number) == (
        "replaced",
        "issued",
        2,
        first.number,
    )
    starts = {
        cover.piece.panel_work.panel: cover.starts_on
        for cover in second.covers.select_related("piece__panel_work")
    }
    assert starts == {"bonnet": TODAY, "left-wing": date(2026, 12, 2)}


@pytest.mark.parametrize(
    ("handed_over_on", "years", "months", "last_day"),
    [
        (date(2024, 2, 29), 1, 0, date(2025, 2, 28)),
        (date(2024, 2, 29), 4, 0, date(2028, 2, 29)),
        (date(2026, 1, 31), 0, 1, date(2026, 2, 28)),
        (date(2026, 8, 31), 0, 6, date(2027, 2, 28)),
    ],
)
def test_E43_E44_last_days_are_counted_from_the_original_start(
    yard: Yard, handed_over_on: date, years: int, months: int, last_day: date
) -> None:
    """Corresponding date, clamped to the month's end (Regulation (EEC, Euratom) 1182/71 Art. 3(2)(c))."""
    version = yard.plan
    line = CoverLine(
        plan_version=version, title="t", years=years, months=months, remedy="r", position=9, warrantor="shop"
    )
    line.save()
    prepared = actions.prepare_certificate(
        job=yard.job(), plan_version=version, handed_over_on=handed_over_on, now=NOW
    )
    promise = next(each for each in prepared.snapshot.promises if each.line_id == line.pk)
    assert promise.last_day == last_day


def test_E45_every_promise_has_its_own_last_day(yard: Yard) -> None:
    shot = read_snapshot(yard.issue().snapshot)
    assert [promise.last_day for promise in shot.promises] == [date(2027, 11, 25), date(2027, 2, 25)]
    assert shot.last_day == date(2027, 11, 25)


def test_E46_a_wrong_name_is_corrected_as_edition_two_and_the_first_is_kept(yard: Yard) -> None:
    job = yard.job()
    first = yard.issue(job)
    bytes_then = stored_bytes.read(first.pdf_sha256)
    party = first.holder
    jobs.change_party(party=party, values={"name": "B. Example"}, actor=yard.actor, now=NOW)
    second = actions.replace_certificate(certificate=first, why="name", actor=yard.actor, now=NOW)
    first.refresh_from_db()
    assert (second.number, second.edition, second.predecessor_id) == (first.number, 2, first.pk)
    assert first.state == "replaced"
    assert stored_bytes.read(first.pdf_sha256) == bytes_then
    assert "replaces edition 1 of November 25, 2026" in " ".join(printed(second).split())
    assert second.code != first.code


def test_a_correction_that_changes_nothing_is_refused(yard: Yard) -> None:
    certificate = yard.issue()
    with pytest.raises(refusals.NothingDiffers):
        actions.replace_certificate(certificate=certificate, why="again", actor=yard.actor, now=NOW)


def test_E47_it_is_withdrawn_only_for_a_reason_of_the_list_and_never_deleted(yard: Yard) -> None:
    certificate = yard.issue()
    for reason in ("unpaid", "missed_check", ""):
        with pytest.raises(refusals.ReasonNeeded):
            actions.withdraw_certificate(
                certificate=certificate, reason=reason, note="x", actor=yard.actor, now=NOW
            )
    actions.withdraw_certificate(
        certificate=certificate, reason="contract_undone", note="both agreed", actor=yard.actor, now=NOW
    )
    certificate.refresh_from_db()
    assert (certificate.state, certificate.withdrawn_reason) == ("withdrawn", "contract_undone")
    with pytest.raises(IntegrityError), transaction.atomic():
        Certificate.objects.filter(pk=certificate.pk).delete()
    with pytest.raises(refusals.NotInForce):
        actions.withdraw_certificate(
            certificate=certificate, reason="issued_in_error", note="x", actor=yard.actor, now=NOW
        )


@pytest.mark.postgres
def test_an_issued_certificate_never_changes(yard: Yard) -> None:
    certificate = yard.issue()
    for change in ({"last_day": date(2040, 1, 1)}, {"pdf_sha256": "0" * 64}, {"number": "KL-26-0002-04"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Certificate.objects.filter(pk=certificate.pk).update(**change)


def test_E48_issuing_the_same_job_twice_yields_one(yard: Yard) -> None:
    job = yard.job()
    first = actions.prepare_certificate(job=job, plan_version=yard.plan, handed_over_on=TODAY, now=NOW)
    second = actions.prepare_certificate(job=job, plan_version=yard.plan, handed_over_on=TODAY, now=NOW)
    actions.issue_prepared(prepared=first, actor=yard.actor, now=NOW)
    with pytest.raises(refusals.AlreadyInForce):
        actions.issue_prepared(prepared=second, actor=yard.actor, now=NOW)
    assert Certificate.objects.count() == 1
    assert first.snapshot.number != second.snapshot.number  # never used again; gaps are allowed


def test_E49_sent_again_are_the_same_bytes_and_one_click_sends_once(yard: Yard) -> None:
    certificate = yard.issue()
    one = actions.resend_certificate(certificate=certificate, nth=1, actor=yard.actor, now=NOW)
    same = actions.resend_certificate(certificate=certificate, nth=1, actor=yard.actor, now=NOW)
    other = actions.resend_certificate(certificate=certificate, nth=2, actor=yard.actor, now=NOW)
    assert one.pk == same.pk != other.pk
    assert one.attachments[0]["sha256"] == certificate.pdf_sha256
    kept = Change.objects.filter(act="sent again").order_by("pk")
    assert [row.after["pdf"] for row in kept] == [certificate.pdf_sha256] * 2


def test_E52_language_and_profile_are_chosen_at_issue_and_frozen(yard: Yard) -> None:
    plan = yard.published(territory="Deutschland", language="de")
    certificate = yard.issue(plan_version=plan, legal_profile="eu-de")
    Shop.objects.filter(pk=yard.shop.pk).update(legal_profile="other", language="en")
    assert (certificate.language, certificate.legal_profile) == ("de", "eu-de")
    shot = read_snapshot(certificate.snapshot)
    assert shot.legal.version
    assert "kraft Gesetzes" in shot.legal.statements[0].words


@pytest.mark.parametrize(
    ("moment", "local_day"),
    [
        (datetime(2026, 11, 26, 4, 59, tzinfo=UTC), date(2026, 11, 25)),  # 23:59 in New York
        (datetime(2026, 11, 26, 5, 0, tzinfo=UTC), date(2026, 11, 26)),
    ],
)
def test_E53_dates_are_the_shops_own_days(yard: Yard, moment: datetime, local_day: date) -> None:
    prepared = actions.prepare_certificate(
        job=yard.job(), plan_version=yard.plan, handed_over_on=local_day, now=moment
    )
    assert prepared.snapshot.issued_on == local_day
    assert prepared.snapshot.shop.time_zone == "America/New_York"


def test_E54_a_longer_term_quoted_before_is_warned_about(yard: Yard) -> None:
    job = yard.job(quoted_months=60)
    prepared = actions.prepare_certificate(job=job, plan_version=yard.plan, handed_over_on=TODAY, now=NOW)
    item = next(each for each in check(prepared.snapshot) if each.identifier == "0.6")
    assert item.asks_reason
    assert "5 years" in str(item.message) or "60 months" in str(item.message)


def test_the_year_of_a_number_is_the_shops_year_and_a_restored_shop_counts_apart(yard: Yard) -> None:
    new_year = datetime(2027, 1, 1, 3, tzinfo=UTC)  # still 2026 in New York
    prepared = actions.prepare_certificate(
        job=yard.job(), plan_version=yard.plan, handed_over_on=TODAY, now=new_year
    )
    assert prepared.snapshot.number.startswith("KL-26-0001-")
    Shop.objects.filter(pk=yard.shop.pk).update(number_series="B")
    again = actions.prepare_certificate(
        job=yard.job(vehicle=yard.vehicle(vin="", vin_kind="none")),
        plan_version=yard.plan,
        handed_over_on=TODAY,
        now=NOW,
    )
    assert again.snapshot.number.startswith("KL-26B-0001-")


def test_one_issued_beforehand_is_replaced_when_the_planned_day_moves(yard: Yard) -> None:
    job = yard.job(planned_handover_on=TODAY)
    first = yard.issue(job)
    assert replace_moved(NOW) == 0
    Job.objects.filter(pk=job.pk).update(planned_handover_on=date(2026, 11, 30))
    assert replace_moved(NOW) == 1
    assert replace_moved(NOW) == 0
    second = Certificate.objects.get(predecessor=first)
    assert (second.starts_on, second.last_day) == (date(2026, 11, 30), date(2027, 11, 30))
    assert {cover.starts_on for cover in second.covers.all()} == {date(2026, 11, 30)}


def test_a_plan_with_nothing_for_this_film_certifies_nothing(yard: Yard) -> None:
    CoverLine.objects.none()
    job = yard.job(finished=())
    with pytest.raises(NothingToCertify):
        yard.issue(job)


def test_the_other_shop_sees_nothing_of_it(yard: Yard, world: object, codes: Callable[[], str]) -> None:
    from shopwarranty.shops.scope import shop_scope

    certificate = yard.issue(code=codes)
    theirs: ShopPeople = world.theirs  # type: ignore[attr-defined]
    with shop_scope(theirs.shop):
        assert not Certificate.objects.filter(pk=certificate.pk).exists()
    client = theirs.client(theirs.owner)
    for path in ("", "certificate.pdf", "replace/", "withdraw/"):
        answer = client.get(f"/s/{theirs.shop.slug}/certificates/{certificate.pk}/{path}")
        assert answer.status_code == 404, path


@pytest.mark.usefixtures("plain_pdf")
def test_a_mail_that_still_waits_does_not_follow_a_withdrawal_and_say_that_the_promise_stands(
    yard: Yard,
) -> None:
    certificate = yard.issue()
    tell_issued(certificate, now=NOW)
    actions.withdraw_certificate(
        certificate=certificate, reason="issued_in_error", note="wrong vehicle", actor=yard.actor, now=NOW
    )
    waiting = Message.objects.filter(state="waiting").values_list("key", flat=True)
    assert list(waiting) == [f"certificate:{certificate.pk}:withdrawn"]
