"""Claims to film makers: one PDF without people in it, stages with time and who, deadlines from the terms."""

import io
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import DatabaseError, transaction
from pypdf import PdfReader

from shopwarranty.claims.maker import actions
from shopwarranty.claims.maker.actions import Answer, Claimed
from shopwarranty.claims.maker.dossier import photos_of
from shopwarranty.claims.maker.listing import claimable, standing
from shopwarranty.claims.maker.paper import claim_pdf
from shopwarranty.claims.maker.refusals import (
    AmountNeeded,
    AtAnotherStage,
    HowSent,
    NothingClaimed,
    OfAnotherFilm,
    ReasonNeeded,
)
from shopwarranty.claims.models import MakerClaim, MakerClaimPiece
from shopwarranty.defects.models import Defect, DefectPhoto
from shopwarranty.films.models import Lot, MakerTerms, Roll
from shopwarranty.jobs.models import FilmPiece, PanelMember, Photo, Reading
from shopwarranty.outbox.models import Message
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Change
from shopwarranty.web.formats import full_date
from tests import builders
from tests.builders import TODAY, days_ago, noon
from tests.conftest import NOW, ShopPeople

HOLDER, PLATE, VIN = "Quillon Marchbanks", "ZZTOP 77", "0SYNTHET1C0000077"


@pytest.fixture
def lot(ours: ShopPeople) -> Lot:
    return builders.a_lot(builders.a_product(maker="Hollow Lake Films", name="Clear 7"), number="HL-7")


def a_defect(lot: Lot, *, found: int = 20, panel: str = "left-front-door", ours: Any = None) -> Defect:
    """On a vehicle of its own, laid with film of the lot a hundred days ago."""
    holder = builders.a_holder(HOLDER, email="quillon@example.com", address="9 Secret Row")
    vehicle = builders.a_vehicle(
        plate=f"{PLATE}{Defect.objects.count()}", holder=holder, vin=VIN if found == 20 else ""
    )
    job = builders.a_job(vehicle=vehicle, panels=(panel,), handed_over_on=days_ago(100), lot=lot)
    return builders.a_defect(builders.a_visit(job, days_ago(found)), builders.places_of(job)[0])


def started(
    lot: Lot, *defects: Defect, ours: ShopPeople, asked: str | None = "640.00", **more: Any
) -> MakerClaim:
    claimed = Claimed(
        defects,
        more.pop("words", "Haze over the whole roll."),
        None if asked is None else Decimal(asked),
        **more,
    )
    return actions.start_claim(
        product=lot.product, lot=lot, claimed=claimed, actor=Actor.of(ours.desk), now=NOW
    )


def sent(claim: MakerClaim, ours: ShopPeople, **more: Any) -> None:
    said = {"mail": "", "how": "By post", "answer_due_on": None, **more}
    actions.send_claim(claim=claim, **said, actor=Actor.of(ours.desk), now=NOW)


def text_of(content: bytes) -> str:
    pages = PdfReader(io.BytesIO(content)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_several_defects_of_one_lot_stand_in_one_claim(ours: ShopPeople, lot: Lot) -> None:
    claim = started(lot, a_defect(lot), a_defect(lot, found=30), ours=ours)
    assert claim.number == "M0001" and claim.pieces.count() == 2
    other = builders.a_lot(lot.product)
    with pytest.raises(OfAnotherFilm):
        started(lot, a_defect(other), ours=ours)
    with pytest.raises(NothingClaimed):
        started(lot, ours=ours, words=" ")


def test_the_pdf_holds_what_the_maker_needs(ours: ShopPeople, lot: Lot) -> None:
    roll = builders.a_roll(
        lot, label="R-501", received_on=days_ago(200), opened_on=days_ago(120), stored_where="Rack 2, dry"
    )
    defect = a_defect(lot)
    piece = defect.place.piece
    FilmPiece.objects.filter(pk=piece.pk).update(roll=roll)
    Reading.objects.create(
        job=piece.panel_work.job,
        at=noon(days_ago(100)) - timedelta(hours=1),
        entered_at=NOW,
        air_c=20.0,
        air_c_basis="measured",
        surface_c=18.0,
        surface_c_basis="measured",
        humidity=45.0,
        humidity_basis="measured",
    )
    text = text_of(claim_pdf(started(lot, defect, ours=ours)))
    film = ("HL-7", "Hollow Lake Films Clear 7", "R-501", "Rack 2, dry")
    for words in (*film, "M0001", "640.00 USD", "Osk Tarn 2025", defect.number, "edge lift"):
        assert words in text
    # 20 C, 18 C and 45 % in the units of the shop; the day it was laid
    assert "68" in text and "64" in text and "45" in text
    assert full_date(days_ago(100), ours.shop) in text


def test_the_pdf_names_nobody(ours: ShopPeople, lot: Lot) -> None:
    defect = a_defect(lot)
    PanelMember.objects.create(panel_work=defect.place.piece.panel_work, member=ours.installer)
    for with_vin in (False, True):
        text = text_of(claim_pdf(started(lot, defect, ours=ours, with_vin=with_vin)))
        for personal in (
            HOLDER,
            PLATE,
            "quillon@example.com",
            "9 Secret Row",
            ours.installer.name,
            ours.desk.name,
        ):
            assert personal not in text
        assert (VIN in text) is with_vin


def test_what_is_not_recorded_is_said_in_the_pdf(ours: ShopPeople, lot: Lot) -> None:
    builders.a_roll(lot, label="R-900")
    text = text_of(claim_pdf(started(lot, a_defect(lot), ours=ours, asked=None)))
    assert "ot recorded" in text and "No photo." in text and "to be settled with you" in text


def a_photo(defect: Defect, content: bytes = b"x", **more: Any) -> Photo:
    job = defect.place.piece.panel_work.job
    values = {"stage": "check", "place": defect.place, "length": 1, "width": 1, "height": 1, **more}
    photo: Photo = Photo.objects.create(
        vehicle=job.vehicle,
        job=job,
        sha256=stored_bytes.keep(content).sha256,
        original_sha256="0" * 64,
        added_at=NOW,
        **values,
    )
    return photo


def test_a_copy_with_parts_made_unreadable_goes_instead_of_the_photo(ours: ShopPeople, lot: Lot) -> None:
    defect = a_defect(lot)
    plain, marked = a_photo(defect), a_photo(defect, b"y")
    DefectPhoto.objects.create(defect=defect, photo=plain)
    copy = a_photo(defect, b"z", marked_from=marked, marks=[{"kind": "blur"}])
    a_photo(defect, b"i", stage="intake")
    assert photos_of(defect) == [plain, copy]


def test_a_claim_sent_is_kept_byte_for_byte_and_goes_by_mail_once(ours: ShopPeople, lot: Lot) -> None:
    claim = started(lot, a_defect(lot), ours=ours)
    sent(claim, ours, mail="claims@maker.example", how="")
    message = Message.objects.get(key=f"maker-claim:{claim.pk}:sent")
    assert message.to == "claims@maker.example" and message.attachments[0]["sha256"] == claim.pdf_sha256
    assert stored_bytes.read(claim.pdf_sha256).startswith(b"%PDF")
    with pytest.raises(AtAnotherStage):
        sent(claim, ours)
    with pytest.raises(HowSent):
        sent(started(lot, ours=ours), ours, how=" ")


def test_every_stage_has_its_time_and_who(ours: ShopPeople, lot: Lot) -> None:
    claim = started(lot, a_defect(lot), ours=ours)
    sent(claim, ours)
    owner = Actor.of(ours.owner)
    heard = Answer("answered", TODAY, "We look at it.", "HL-22")
    actions.note_answer(claim=claim, answer=heard, actor=owner, now=NOW)
    with pytest.raises(AmountNeeded):
        actions.note_answer(claim=claim, answer=Answer("credited", TODAY), actor=owner, now=NOW)
    paid = Answer("credited", TODAY, credited=Decimal("310.50"))
    actions.note_answer(claim=claim, answer=paid, actor=owner, now=NOW)
    claim.refresh_from_db()
    assert (claim.state, claim.credited, claim.maker_reference) == ("credited", Decimal("310.50"), "HL-22")
    steps = Change.objects.filter(table="claims_makerclaim", row=claim.pk).order_by("pk")
    assert list(steps.values_list("act", "who")) == [
        ("begun", ours.desk.name),
        ("sent", ours.desk.name),
        ("answered", ours.owner.name),
        ("credited", ours.owner.name),
    ]
    with pytest.raises(AtAnotherStage):
        actions.note_answer(claim=claim, answer=Answer("refused", TODAY), actor=owner, now=NOW)


def test_deadlines_come_from_the_makers_terms(ours: ShopPeople, lot: Lot, monkeypatch: Any) -> None:
    MakerTerms.objects.create(
        product=lot.product,
        title="Terms",
        dated=days_ago(300),
        sha256="0" * 64,
        file_name="t.txt",
        report_days=25,
        answer_days=14,
    )
    claim = started(lot, a_defect(lot, found=21), a_defect(lot, found=22), ours=ours)
    assert claim.file_by == days_ago(22) + timedelta(days=25)
    assert standing(TODAY).to_send == 1 and standing(TODAY).overdue == 0
    assert standing(TODAY + timedelta(days=4)).overdue == 1
    body = ours.client(ours.owner).get(f"/s/kiln/claims/makers/{claim.pk}/send/").content.decode()
    assert f'value="{(TODAY + timedelta(days=14)).isoformat()}"' in body
    sent(claim, ours, answer_due_on=TODAY + timedelta(days=14))
    assert standing(TODAY + timedelta(days=14)).overdue == 0
    assert standing(TODAY + timedelta(days=15)).overdue == 1


def test_without_terms_there_is_no_deadline(ours: ShopPeople, lot: Lot) -> None:
    assert started(lot, a_defect(lot), ours=ours).file_by is None


def test_outstanding_is_what_was_asked_and_not_answered_and_unknown_is_counted_apart(
    ours: ShopPeople, lot: Lot
) -> None:
    for asked in ("100.10", "200.20", None):
        sent(started(lot, ours=ours, asked=asked), ours)
    started(lot, ours=ours, asked="50.00")
    found = standing(TODAY)
    assert (found.open, found.outstanding, found.unknown) == (4, Decimal("300.30"), 1)


def test_a_defect_in_an_open_or_credited_claim_is_not_offered_again(ours: ShopPeople, lot: Lot) -> None:
    defect = a_defect(lot)
    claim = started(lot, defect, ours=ours)
    assert not claimable(lot.product, lot).exists()
    assert list(claimable(lot.product, lot, claim)) == [defect]
    with pytest.raises(ReasonNeeded):
        actions.drop_claim(claim=claim, why=" ", actor=Actor.of(ours.desk), now=NOW)
    actions.drop_claim(claim=claim, why="Was our own mistake.", actor=Actor.of(ours.desk), now=NOW)
    assert list(claimable(lot.product, lot)) == [defect]


@pytest.mark.postgres
def test_what_was_sent_cannot_be_changed_in_the_database(ours: ShopPeople, lot: Lot) -> None:
    claim = started(lot, a_defect(lot), ours=ours)
    claimed = Claimed((), "Only the roll.", None)
    actions.change_claim(claim=claim, claimed=claimed, actor=Actor.of(ours.desk), now=NOW)
    actions.change_claim(
        claim=claim, claimed=Claimed((a_defect(lot),), "", None), actor=Actor.of(ours.desk), now=NOW
    )
    claim.refresh_from_db()
    sent(claim, ours)
    with pytest.raises(AtAnotherStage):
        actions.change_claim(claim=claim, claimed=claimed, actor=Actor.of(ours.desk), now=NOW)
    for change in (
        lambda: MakerClaim.objects.filter(pk=claim.pk).update(words="Other"),
        lambda: MakerClaimPiece.objects.filter(maker_claim=claim).delete(),
    ):
        with pytest.raises(DatabaseError), transaction.atomic():
            change()


def test_a_claim_is_written_sent_and_answered_at_the_desk(ours: ShopPeople, lot: Lot) -> None:
    defect, client = a_defect(lot), ours.client(ours.desk)
    root = "/s/kiln/claims/makers/"
    assert "Lot HL-7" in client.get(f"{root}new/").content.decode()
    empty = client.post(f"{root}new/?lot={lot.pk}", {"words": "", "asked": "-3"})
    assert empty.status_code == 200 and 'value="-3"' in empty.content.decode()
    kept = client.post(
        f"{root}new/?lot={lot.pk}", {"defects": [str(defect.pk)], "words": "Haze", "asked": "12.30"}
    )
    claim = MakerClaim.objects.get()
    assert kept["Location"].endswith(f"{root}{claim.pk}/") and claim.asked == Decimal("12.30")
    page = client.get(f"{root}{claim.pk}/").content.decode()
    assert defect.number in page and "Never the holder" in page
    assert client.get(f"{root}{claim.pk}/claim.pdf").content.startswith(b"%PDF")
    assert "Give a mail address" in client.post(f"{root}{claim.pk}/send/", {"mail": ""}).content.decode()
    assert client.post(f"{root}{claim.pk}/send/", {"how": "By post"}).status_code == 302
    assert client.get(f"{root}{claim.pk}/claim.pdf").content == stored_bytes.read(
        MakerClaim.objects.get().pdf_sha256
    )
    lacking = client.post(
        f"{root}{claim.pk}/answer/", {"state": "credited", "on": TODAY.isoformat(), "words": "Yes"}
    )
    assert (
        "Write how much was credited." in lacking.content.decode()
        and "Yes</textarea>" in lacking.content.decode()
    )
    said = {"state": "credited", "on": TODAY.isoformat(), "credited": "10.00"}
    assert client.post(f"{root}{claim.pk}/answer/", said).status_code == 302
    assert "10.00 USD" in client.get(f"{root}?show=credited").content.decode()


def test_a_claim_may_begin_at_a_defect_of_film_whose_lot_is_unknown(ours: ShopPeople) -> None:
    product = builders.a_product()
    defect = a_defect(builders.a_lot(product))
    FilmPiece.objects.filter(pk=defect.place.piece_id).update(lot=None)
    client = ours.client(ours.desk)
    address = f"/s/kiln/claims/makers/new/?defect={defect.pk}"
    assert "What is wrong with this film?" in client.get(address).content.decode()
    client.post(address, {"defects": [str(defect.pk)], "words": "Yellow"})
    claim = MakerClaim.objects.get()
    assert claim.lot is None and claim.product == product
    assert "unknown or not recorded" in text_of(claim_pdf(claim))


def test_what_is_no_film_of_ours_is_not_found(ours: ShopPeople) -> None:
    client = ours.client(ours.desk)
    for wrong in ("lot=x", "lot=99999999999999999999", "defect=1", "lot=4711"):
        assert client.get(f"/s/kiln/claims/makers/new/?{wrong}").status_code == 404
    assert ours.client(ours.installer).get("/s/kiln/claims/makers/").status_code == 403


def test_the_home_page_reminds_of_what_is_past_its_day(ours: ShopPeople, lot: Lot) -> None:
    client = ours.client(ours.desk)
    assert "to a film maker" not in client.get("/s/kiln/").content.decode()
    claim = started(lot, a_defect(lot), ours=ours)
    sent(claim, ours)
    MakerClaim.objects.filter(pk=claim.pk).update(answer_due_on=days_ago(1))
    assert "A claim to a film maker is past its day" in client.get("/s/kiln/").content.decode()
    assert "to a film maker" not in ours.client(ours.installer).get("/s/kiln/").content.decode()


@pytest.mark.parametrize("page", ["", "new/", "{pk}/", "{pk}/send/"])
def test_more_claims_ask_no_more_often(
    ours: ShopPeople, lot: Lot, page: str, django_assert_max_num_queries: Any
) -> None:
    claim = started(lot, a_defect(lot), ours=ours)
    client, address = ours.client(ours.desk), f"/s/kiln/claims/makers/{page.format(pk=claim.pk)}"
    client.get(address)
    with django_assert_max_num_queries(30) as few:
        client.get(address)
    more = [a_defect(lot, found=30 + n) for n in range(6)]
    actions.change_claim(claim=claim, claimed=Claimed(more, "All", None), actor=Actor.of(ours.desk), now=NOW)
    for _ in range(5):
        started(builders.a_lot(lot.product), ours=ours)
    assert Roll.objects.count() == 0
    with django_assert_max_num_queries(len(few)):
        client.get(address)
