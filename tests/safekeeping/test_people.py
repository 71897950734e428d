"""A person's data: taken out as one file, erased where nothing keeps them, restricted where the law does."""

import io
import json
import zipfile
from collections.abc import Iterator
from datetime import date, timedelta
from io import BytesIO
from typing import Any

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image

from shopwarranty.claims.models import Claim, ClaimedDefect
from shopwarranty.inspections.holder.links import holder_links
from shopwarranty.inspections.models import HolderReport
from shopwarranty.jobs.actions.intake import record_intake
from shopwarranty.jobs.models import HolderLink, Holding, Job, Party, Photo, Place, Plate, Vehicle
from shopwarranty.outbox.actions import put_message
from shopwarranty.outbox.addresses import clear_address, mark_address
from shopwarranty.outbox.models import Message
from shopwarranty.safekeeping.models import Erasure, Retention
from shopwarranty.safekeeping.personal.asking import AlreadyErased, ask_erasure
from shopwarranty.safekeeping.personal.holding_still import hold_still
from shopwarranty.safekeeping.personal.keeping import Limitation
from shopwarranty.safekeeping.personal.package import write_package
from shopwarranty.safekeeping.personal.retiring import retire
from shopwarranty.safekeeping.personal.standing import standings
from shopwarranty.shops.history import record_change
from shopwarranty.shops.models import Change, Erasing
from shopwarranty.shops.scope import shop_scope
from shopwarranty.shops.stored_bytes import DamagedFile, keep, read
from shopwarranty.warranty.models import Certificate
from shopwarranty.warranty.proof import faults_of
from tests import builders as b
from tests.conftest import NOW, ShopPeople, World
from tests.kept_apart import tables
from tests.many_hands import at_once, elsewhere
from tests.many_hands import shared_database as shared_database
from tests.warranty.conftest import VIN, Yard, make_yard
from tests.warranty.conftest import plain_pdf as plain_pdf

pytestmark = pytest.mark.postgres
TODAY = date(2026, 11, 25)
NAME, MAIL, STREET, PLATE = "Quill Odderby", "quill@odderby.example", "77 Hollow Reach", "QO 7734"
LONG_AFTER = NOW + timedelta(days=365 * 12)


@pytest.fixture
def yard(ours: ShopPeople, plain_pdf: None) -> Yard:
    return make_yard(ours)


def a_person(yard: Yard) -> Party:
    """Held a vehicle with a photo, was handed a certificate, was written to, has a private address."""
    vehicle = yard.vehicle(holder=NAME, plate=PLATE)
    party = vehicle.holdings.get().party
    Party.objects.filter(pk=party.pk).update(email=MAIL, address=STREET, note=f"Note on {NAME}")
    party.refresh_from_db()
    job = yard.job(vehicle=vehicle)
    certificate = yard.issue(job)
    Job.objects.filter(pk=job.pk).update(
        state="handed_over", handed_over_on=TODAY, handed_over_at=NOW, note=f"Belongs to {NAME}"
    )
    a_photo(vehicle, job)
    put_message(
        key=f"certificate:{certificate.pk}:issued", to=MAIL, to_name=NAME, subject=f"For {NAME}",
        text=f"Hello {NAME}", about=f"certificate:{certificate.pk}", now=NOW,
    )  # fmt: skip
    holder_links([(vehicle, party)], now=NOW)
    return party


def a_photo(vehicle: Vehicle, job: Job | None = None) -> Photo:
    content = io.BytesIO()
    Image.new("RGB", (8, 8), (vehicle.pk % 255, 9, 9)).save(content, "JPEG")
    kept = keep(content.getvalue())
    photo: Photo = Photo.objects.create(
        vehicle=vehicle, job=job, stage="handover", sha256=kept.sha256, length=kept.length,
        original_sha256="1" * 64, width=8, height=8, added_at=NOW, caption=f"{PLATE} in the yard",
    )  # fmt: skip
    return photo


def package(party: Party) -> tuple[dict[str, Any], list[str]]:
    file = BytesIO()
    write_package(party=party, file=file, now=NOW)
    with zipfile.ZipFile(file) as found:
        return json.loads(found.read("person.json")), found.namelist()


def texts_naming(*words: str) -> list[str]:
    """Every text and JSON column of every table of the shops that still says one of the words."""
    found = []
    with connection.cursor() as cursor:
        for model in tables():
            for field in model._meta.local_concrete_fields:
                if field.get_internal_type() in ("CharField", "TextField", "EmailField", "JSONField"):
                    cursor.execute(f'SELECT CAST("{field.column}" AS TEXT) FROM "{model._meta.db_table}"')
                    said = [
                        text for (text,) in cursor.fetchall() if any(word in (text or "") for word in words)
                    ]
                    found += [f"{model._meta.db_table}.{field.column}: {text[:80]}" for text in said]
    return found


def test_limitation_ends_as_the_published_rules_say() -> None:
    """UCC 2-725: four years from the day. BGB 195, 199: three years from the end of the year (both from
    memory). 29 February ends on the 28th: BGB 188 (3), from memory."""
    assert Limitation(4).last_day(date(2026, 11, 25)) == date(2030, 11, 25)
    assert Limitation(3, from_year_end=True).last_day(date(2026, 3, 1)) == date(2029, 12, 31)
    assert Limitation(6).last_day(date(2028, 2, 29)) == date(2034, 2, 28)


def test_a_copy_holds_the_persons_records_and_files_and_nobody_elses(yard: Yard) -> None:
    party = a_person(yard)
    other = yard.vehicle(holder="Somebody Else", plate="XX 1", vin="0DEMXWRA1TF000999")
    a_photo(other)
    said, names = package(party)
    (certificate,) = Certificate.objects.filter(holder=party)
    (photo,) = Photo.objects.filter(vehicle__holdings__party=party)
    assert sorted(names) == sorted(
        ["person.json", f"certificates/{certificate.number}-1.pdf", f"photos/{photo.pk}.jpg"]
    )
    assert said["person"][0]["address"] == STREET
    assert said["certificates"][0]["snapshot"]["holder"]["name"] == NAME
    assert said["plates"][0]["text"] == PLATE
    assert said["messages"][0]["text"] == f"Hello {NAME}"
    assert "Somebody Else" not in json.dumps(said)
    assert yard.people.installer.name not in json.dumps(said)
    assert said["files_that_cannot_be_read"] == []


def test_taking_a_copy_out_stands_in_the_history_and_is_for_owners_only(world: World, yard: Yard) -> None:
    party = a_person(yard)
    url = reverse("personal-data-copy", args=["kiln", party.pk])
    assert world.ours.client(world.ours.desk).post(url).status_code == 403
    answer = world.ours.client(world.ours.owner).post(url)
    with zipfile.ZipFile(BytesIO(b"".join(answer))) as found:
        assert "person.json" in found.namelist()
    (row,) = Change.objects.filter(act="personal data exported")
    assert (row.row, row.member_id) == (party.pk, world.ours.owner.pk)


def test_e15_who_asks_in_mid_term_is_restricted_told_why_and_erased_when_the_time_is_over(yard: Yard) -> None:
    """Awkward case E15: restrict, stop optional mail, explain, schedule erasure at term + limitation."""
    party = a_person(yard)
    reminder = put_message(
        key="reminder", to=MAIL, subject="Soon", text="Soon", is_optional=True, now=NOW,
        not_before=NOW + timedelta(days=9),
    )  # fmt: skip
    row = ask_erasure(party=party, how="by letter", actor=yard.actor, today=TODAY, now=NOW)
    party.refresh_from_db()
    reminder.refresh_from_db()
    (certificate,) = Certificate.objects.all()
    assert (party.restricted_at, party.reminders_stopped_at, party.name) == (NOW, NOW, NAME)
    assert reminder.state == Message.State.DROPPED
    # the US profile: four years after the last covered day (UCC 2-725)
    assert row.erase_on == Limitation(4).last_day(certificate.last_day)
    (told,) = Message.objects.filter(key__startswith="erasure:")
    assert certificate.number in told.text
    assert not list(faults_of(certificate))
    day_before = NOW + (row.erase_on - TODAY)
    retire(day_before)
    assert texts_naming(NAME)
    retire(day_before + timedelta(days=1))
    row.refresh_from_db()
    assert row.erased_at == day_before + timedelta(days=1)
    assert texts_naming(NAME, MAIL, STREET, PLATE, VIN) == []


@pytest.fixture
def erased(yard: Yard) -> Iterator[Party]:
    party = a_person(yard)
    files = [*Certificate.objects.values_list("pdf_sha256", flat=True)]
    files += Photo.objects.values_list("sha256", flat=True)
    places = Place.objects.count()
    ask_erasure(party=party, how="", actor=yard.actor, today=LONG_AFTER.date(), now=LONG_AFTER)
    party.refresh_from_db()
    yield party
    assert Place.objects.count() == places
    for sha256 in files:
        with pytest.raises(DamagedFile):
            read(sha256)


def test_after_erasure_no_column_of_any_table_names_the_person(erased: Party) -> None:
    assert texts_naming(NAME, MAIL, STREET, PLATE, VIN) == []
    assert HolderLink.objects.filter(revoked_at=None).count() == 0
    assert erased.restricted_at is not None


def test_the_history_of_what_hangs_on_a_person_names_them_no_more(yard: Yard) -> None:
    """Marks acknowledged by name, reasons in words, an address that was marked and cleared again."""
    party = a_person(yard)
    vehicle, job, work = Vehicle.objects.get(), Job.objects.get(), Job.objects.get().panels.first()
    assert work
    record_intake(
        panel_work=work, marks="chip", acknowledged_by=NAME, reason="late", actor=yard.actor, now=NOW
    )
    claim = Claim.objects.create(
        number="C9", vehicle=vehicle, claimant=party, first_reported_at=NOW, received_at=NOW,
        state_since=NOW, state="closed",
    )  # fmt: skip
    item = ClaimedDefect.objects.create(claim=claim, words="Lifts")
    report = HolderReport.objects.create(vehicle=vehicle, party=party, sent_at=NOW)
    check = b.a_check(job, state="waived", state_why=f"{NAME} moved away", settled_at=NOW)
    for row in (item, report, check):
        record_change(row=row, act="settled", actor=yard.actor, at=NOW, why=f"{NAME} said so")
    mixed = MAIL.replace("quill", "Quill")
    marked = mark_address(channel="mail", address=mixed, source="server", why=NAME, now=NOW)
    clear_address(row=marked, actor=yard.actor, now=NOW)
    ask_erasure(party=party, how="", actor=yard.actor, today=LONG_AFTER.date(), now=LONG_AFTER)
    assert texts_naming(NAME, MAIL, mixed) == []


def test_after_erasure_what_was_promised_and_laid_is_still_known(erased: Party) -> None:
    (certificate,) = Certificate.objects.all()
    assert certificate.snapshot["promises"]
    assert certificate.number in certificate.snapshot["number"]
    assert not list(faults_of(certificate))
    assert Job.objects.get().panels.filter(finished_at__isnull=False).count() > 5


def test_every_page_about_an_erased_person_still_opens(world: World, erased: Party) -> None:
    client, (job,) = world.ours.client(world.ours.owner), Job.objects.all()
    (certificate,), (photo,) = Certificate.objects.all(), Photo.objects.all()
    names = [
        ("party", erased), ("personal-data", erased), ("job", job), ("job-photos", job), ("job-card", job),
        ("vehicle", job.vehicle), ("certificate", certificate), ("one-photo", photo),
    ]  # fmt: skip
    for name, row in names:
        assert client.get(reverse(name, args=["kiln", row.pk])).status_code == 200, name
    for name in (
        "jobs",
        "certificates",
        "messages",
        "history",
        "today",
        "checks",
        "export-jobs",
        "retention",
    ):
        assert client.get(reverse(name, args=["kiln"])).status_code == 200, name
    answer = client.get(reverse("certificate-pdf", args=["kiln", certificate.pk]), follow=True)
    assert "was erased" in answer.content.decode()
    assert client.get(reverse("photo", args=["kiln", photo.pk, "full"])).status_code == 404


def test_who_is_erased_cannot_be_erased_again(yard: Yard, erased: Party) -> None:
    with pytest.raises(AlreadyErased):
        ask_erasure(party=erased, how="", actor=yard.actor, today=TODAY, now=NOW)


def test_somebody_nothing_was_promised_is_erased_at_once(yard: Yard) -> None:
    party = b.a_holder(NAME, email=MAIL, note="asked for a price")
    row = ask_erasure(party=party, how="at the desk", actor=yard.actor, today=TODAY, now=NOW)
    assert row.erased_at == NOW
    assert texts_naming(NAME, MAIL) == []


@pytest.mark.parametrize("by_the_night", [False, True])
def test_a_job_that_is_opened_just_before_keeps_the_person(
    yard: Yard, monkeypatch: pytest.MonkeyPatch, by_the_night: bool
) -> None:
    """Whoever writes a moment before it is decided has written: it is decided with the rows held still."""
    party = a_person(yard)
    vehicle = Vehicle.objects.get()
    if by_the_night:
        ask_erasure(party=party, how="", actor=yard.actor, today=TODAY, now=NOW)
        Erasure.objects.update(erase_on=TODAY)

    def hold_still_too_late(parties: Any) -> None:
        yard.job(vehicle=vehicle)
        hold_still(parties)

    for module in ("asking", "retiring"):
        monkeypatch.setattr(f"shopwarranty.safekeeping.personal.{module}.hold_still", hold_still_too_late)
    if by_the_night:
        retire(LONG_AFTER)
    else:
        ask_erasure(party=party, how="", actor=yard.actor, today=LONG_AFTER.date(), now=LONG_AFTER)
    party.refresh_from_db()
    assert (party.name, Erasure.objects.get().erased_at) == (NAME, None)


@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite has one writer at a time")
def test_who_writes_about_a_person_being_erased_waits(world: World, shared_database: None) -> None:
    """The second, on a connection of its own, gives up after a moment with the server's own words."""

    def holding(lock_timeout: str) -> None:
        with shop_scope(world.ours.shop), transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute(f"SET LOCAL lock_timeout = '{lock_timeout}'")
            party = Party.objects.get(name=NAME)
            vehicle = Vehicle.objects.create(make="Alder", model="Estate", body_style="sedan")
            Holding.objects.create(vehicle=vehicle, party=party, role="contact", since=TODAY)

    def erases() -> str:
        with shop_scope(world.ours.shop), transaction.atomic():
            hold_still([b.a_holder(NAME).pk])
        with shop_scope(world.ours.shop), transaction.atomic():
            hold_still(list(Party.objects.filter(name=NAME).values_list("pk", flat=True)))
            (said,) = at_once([lambda: holding("300ms")])
        return str(said)

    assert "lock timeout" in elsewhere(erases)
    elsewhere(lambda: holding("20s"))


def test_vin_plate_and_photos_stay_with_the_vehicle_while_somebody_else_stands_to_it(yard: Yard) -> None:
    party = a_person(yard)
    vehicle = Vehicle.objects.get()
    Holding.objects.filter(party=party).update(until=TODAY)
    buyer = b.a_holder("A. Buyer")
    Holding.objects.create(vehicle=vehicle, party=buyer, role="holder", since=TODAY)
    ask_erasure(party=party, how="", actor=yard.actor, today=LONG_AFTER.date(), now=LONG_AFTER)
    vehicle.refresh_from_db()
    photo = Photo.objects.get()
    assert (vehicle.vin, Plate.objects.get().text) == (VIN, PLATE)
    assert read(photo.sha256)
    assert texts_naming(NAME, MAIL, STREET) == []
    ask_erasure(party=buyer, how="", actor=yard.actor, today=LONG_AFTER.date(), now=LONG_AFTER)
    assert texts_naming(VIN, PLATE, "A. Buyer") == []


def test_an_address_that_two_people_share_keeps_the_others_messages(yard: Yard) -> None:
    one, other = b.a_holder(NAME, email="home@odderby.example"), b.a_holder("P", email="home@odderby.example")
    put_message(key="p", to="home@odderby.example", to_name="P", subject="P", text="For P", now=NOW)
    ask_erasure(party=one, how="", actor=yard.actor, today=TODAY, now=NOW)
    assert Message.objects.get(key="p").text == "For P"
    ask_erasure(party=other, how="", actor=yard.actor, today=TODAY, now=NOW)
    assert Message.objects.get(key="p").text == ""


def test_a_file_that_another_shop_keeps_too_is_not_thrown_away(world: World, yard: Yard) -> None:
    party = a_person(yard)
    photo = Photo.objects.get()
    with shop_scope(world.theirs.shop):
        theirs = b.a_vehicle()
        Photo.objects.create(
            vehicle=theirs, stage="intake", sha256=photo.sha256, length=photo.length,
            original_sha256="2" * 64, width=8, height=8, added_at=NOW,
        )  # fmt: skip
    ask_erasure(party=party, how="", actor=yard.actor, today=LONG_AFTER.date(), now=LONG_AFTER)
    assert read(photo.sha256)


def test_an_open_claim_keeps_the_person_until_it_is_closed(yard: Yard) -> None:
    party = a_person(yard)
    certificate = Certificate.objects.get()
    claim = Claim.objects.create(
        number="C9", vehicle=certificate.vehicle, certificate=certificate, claimant=party,
        first_reported_at=NOW, received_at=NOW, words="Lifts", state_since=NOW,
    )  # fmt: skip
    row = ask_erasure(party=party, how="", actor=yard.actor, today=LONG_AFTER.date(), now=LONG_AFTER)
    assert (row.erased_at, row.erase_on) == (None, None)
    retire(LONG_AFTER + timedelta(days=9))
    assert Party.objects.get(pk=party.pk).name == NAME
    Claim.objects.filter(pk=claim.pk).update(state="closed", state_since=LONG_AFTER)
    retire(LONG_AFTER + timedelta(days=10))
    row.refresh_from_db()
    assert row.erase_on == Limitation(4).last_day(LONG_AFTER.date())  # from closing the claim
    retire(LONG_AFTER + timedelta(days=366 * 4 + 1))
    assert texts_naming(NAME) == []


def test_an_open_claim_that_names_nobody_keeps_whoever_stands_to_the_vehicle(yard: Yard) -> None:
    """Told by telephone, after the promise: no certificate and no claimant, and still to be decided."""
    party, vehicle = a_person(yard), Vehicle.objects.get()
    claim = Claim.objects.create(
        number="C9", vehicle=vehicle, first_reported_at=NOW, received_at=NOW, words="Lifts", state_since=NOW
    )
    row = ask_erasure(party=party, how="", actor=yard.actor, today=LONG_AFTER.date(), now=LONG_AFTER)
    claim.refresh_from_db()
    assert (row.erased_at, row.erase_on, claim.words) == (None, None, "Lifts")


def test_frozen_rows_give_their_personal_columns_up_to_an_erasure_alone(yard: Yard) -> None:
    a_person(yard)
    (certificate,) = Certificate.objects.all()
    with pytest.raises(DatabaseError), transaction.atomic():
        Certificate.objects.update(snapshot={})
    Erasing.objects.create(at=NOW)
    Certificate.objects.update(snapshot=certificate.snapshot)
    for column in ({"number": "X"}, {"last_day": TODAY}, {"snapshot_sha256": "0"}):
        with pytest.raises(DatabaseError), transaction.atomic():
            Certificate.objects.update(**column)
    with pytest.raises(DatabaseError), transaction.atomic():
        Certificate.objects.all()._raw_delete("default")
    Erasing.objects.all().delete()
    with pytest.raises(DatabaseError), transaction.atomic():
        Change.objects.update(why="nothing")


def test_an_erasure_of_one_shop_opens_no_frozen_row_of_another(world: World, yard: Yard) -> None:
    a_person(yard)
    with shop_scope(world.theirs.shop):
        Erasing.objects.create(at=NOW)
    with pytest.raises(DatabaseError), transaction.atomic():
        Certificate.objects.update(snapshot={})


def test_many_are_erased_in_as_many_questions_as_one(yard: Yard) -> None:
    def questions(people: int) -> int:
        parties = [b.a_holder(f"P {nth}") for nth in range(people)]
        for party in parties:
            b.a_vehicle(holder=party)
        Erasure.objects.bulk_create(Erasure(party=party, at=NOW, asked_on=TODAY) for party in parties)
        with CaptureQueriesContext(
            connection,
        ) as asked:
            assert retire(NOW)[0] == people
        return len(asked)

    assert questions(40) == questions(2)


def test_a_shop_may_erase_by_itself_when_the_time_is_over_and_not_a_day_before(yard: Yard) -> None:
    a_person(yard)
    later = NOW + timedelta(days=365 * 10)
    assert retire(later) == (0, 0)
    Retention.objects.create(years_after=4, erases_by_itself=True)
    last_day = Limitation(4).last_day(Certificate.objects.get().last_day)
    assert retire(NOW + (last_day - TODAY)) == (0, 0)
    assert retire(NOW + (last_day - TODAY) + timedelta(days=1))[0] == 1
    assert texts_naming(NAME, VIN) == []


def test_old_messages_are_emptied_and_young_or_waiting_ones_are_not(yard: Yard) -> None:
    Retention.objects.create(years_after=4, message_months=12)
    for key, days, state in (("old", 400, "sent"), ("young", 300, "sent"), ("waiting", 400, "waiting")):
        put_message(key=key, to=MAIL, subject="S", text="Words", now=NOW - timedelta(days=days))
        Message.objects.filter(key=key).update(state=state)
    assert retire(NOW) == (0, 1)
    assert dict(Message.objects.values_list("key", "text")) == {
        "old": "",
        "young": "Words",
        "waiting": "Words",
    }
    assert retire(NOW) == (0, 0)


def test_a_job_still_open_keeps_its_holder(yard: Yard) -> None:
    vehicle = yard.vehicle(holder=NAME)
    yard.job(vehicle=vehicle)
    party = vehicle.holdings.get().party
    standing = standings([party.pk], yard.shop, TODAY)[party.pk]
    assert standing.is_open
    assert standing.last_day is None


def test_the_owner_sees_what_stays_and_why_before_anything_happens(world: World, yard: Yard) -> None:
    party = a_person(yard)
    client, url = world.ours.client(world.ours.owner), reverse("personal-data-erase", args=["kiln", party.pk])
    page = client.get(url).content.decode()
    certificate = Certificate.objects.get()
    assert certificate.number in page
    assert Erasure.objects.count() == 0
    assert "How did they ask?" in client.post(url, {"how": ""}).content.decode()
    client.post(url, {"how": "by mail"})
    assert Erasure.objects.get().asked_how == "by mail"
    page = client.get(reverse("retention", args=["kiln"])).content.decode()
    assert NAME in page
    assert certificate.number in page


def test_how_long_data_are_kept_is_changed_with_a_trace(world: World, yard: Yard) -> None:
    client, url = world.ours.client(world.ours.owner), reverse("retention", args=["kiln"])
    assert 'value="4"' in client.get(url).content.decode()
    values = {"years_after": 7, "from_year_end": "on", "message_months": ""}
    assert client.post(url, values).status_code == 302
    row = Retention.objects.get()
    assert (row.years_after, row.from_year_end, row.message_months) == (7, True, None)
    assert Change.objects.filter(act="retention changed").count() == 1
    assert client.post(url, {"years_after": 0}).status_code == 200


def test_commands_take_a_copy_out_and_erase(yard: Yard, tmp_path: Any) -> None:
    party, out = a_person(yard), io.StringIO()
    who = ("--shop", "kiln", "--person", str(party.pk))
    call_command("export_person", *who, "--out", str(tmp_path / "p.zip"), stdout=out)
    with zipfile.ZipFile(tmp_path / "p.zip") as found:
        assert len(found.namelist()) == 3
    call_command("erase_person", *who, stdout=out)
    assert "Stays for now" in out.getvalue()
    assert Erasure.objects.count() == 0
    call_command("erase_person", *who, "--yes", "--how", "by mail", stdout=out)
    assert "Restricted; erased after" in out.getvalue()
