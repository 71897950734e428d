"""Cover per film piece when film is replaced, cut back or gone: E20 to E22, E25; common practice."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from shopwarranty.defects.actions import How, record_remedy
from shopwarranty.defects.lives import rebuild_lives
from shopwarranty.defects.models import Defect, Life
from shopwarranty.films.models import MakerTerms
from shopwarranty.jobs import actions as jobs
from shopwarranty.jobs.actions.pieces import end_piece, remove_panel
from shopwarranty.jobs.models import FilmPiece, Job, PanelWork, Place
from shopwarranty.shops import stored_bytes
from shopwarranty.warranty import actions
from shopwarranty.warranty.models import Certificate, Cover
from shopwarranty.warranty.moved_on import moved_on
from shopwarranty.warranty.paper_words import facts
from shopwarranty.warranty.snapshot_parts import read_snapshot
from tests import builders
from tests.conftest import NOW
from tests.warranty.conftest import AN_EDGE, TODAY, Yard

LATER = datetime(2027, 3, 8, 15, tzinfo=UTC)
LATER_DAY = date(2027, 3, 8)

pytestmark = pytest.mark.usefixtures("plain_pdf")


def issued(yard: Yard, **words: Any) -> Certificate:
    """Two panels, covered for two years from November 25, 2026."""
    job = yard.job(panels=("bonnet", "left-wing"))
    certificate = yard.issue(job, plan_version=yard.published(**words))
    Job.objects.filter(pk=job.pk).update(state="handed_over", handed_over_on=TODAY, handed_over_at=NOW)
    return certificate


def lifted(certificate: Certificate, panel: str = "bonnet") -> Defect:
    place = Place.objects.filter(
        piece__panel_work__job=certificate.job, piece__panel_work__panel=panel, kind="edge"
    ).earliest("walk")
    return builders.a_defect(builders.a_visit(certificate.job, LATER_DAY - timedelta(days=3)), place)


def put_right(yard: Yard, certificate: Certificate, kind: str) -> FilmPiece:
    how = How(film=jobs.FilmChoice(roll=yard.rolls[0]))
    remedy = record_remedy(
        defect=lifted(certificate), kind=kind, done_on=LATER_DAY - timedelta(days=2), how=how,
        actor=yard.actor, now=LATER,
    )  # fmt: skip
    assert remedy.new_piece is not None
    return remedy.new_piece


def next_edition(yard: Yard, certificate: Certificate) -> Certificate:
    return actions.replace_certificate(certificate=certificate, why="new film", actor=yard.actor, now=LATER)


def dates(certificate: Certificate, piece: FilmPiece) -> list[tuple[date, date]]:
    return list(
        Cover.objects.filter(certificate=certificate, piece=piece).values_list("starts_on", "last_day")
    )


def test_E21_a_panel_filmed_anew_takes_over_the_dates_of_the_film_before(
    yard: Yard,
) -> None:
    first = issued(yard)
    new = put_right(yard, first, "replace_piece")
    second = next_edition(yard, first)
    assert dates(second, new) == [(TODAY, date(2028, 11, 25))]
    assert not dates(second, new.replaces)  # type: ignore[arg-type]
    wing = FilmPiece.objects.get(panel_work__job=first.job, panel_work__panel="left-wing")
    assert dates(second, wing) == dates(first, wing) == [(TODAY, date(2028, 11, 25))]


def test_E21_where_the_plan_says_so_film_laid_anew_gets_a_full_term(yard: Yard) -> None:
    first = issued(yard, relaid="new_term")
    new = put_right(yard, first, "replace_piece")
    second = next_edition(yard, first)
    assert dates(second, new) == [(date(2027, 3, 6), date(2029, 3, 6))]
    assert "full term from the day it is laid" in read_snapshot(second.snapshot).terms.relaid_words


def test_E21_film_laid_anew_twice_between_two_editions_still_ends_with_the_first(yard: Yard) -> None:
    first = issued(yard)
    once = put_right(yard, first, "replace_piece")
    place = once.places.filter(kind="edge").earliest("walk")
    again = builders.a_defect(builders.a_visit(first.job, LATER_DAY - timedelta(days=1)), place)
    twice = record_remedy(
        defect=again, kind="replace_piece", done_on=LATER_DAY, actor=yard.actor, now=LATER
    ).new_piece
    assert twice is not None
    assert dates(next_edition(yard, first), twice) == [(TODAY, date(2028, 11, 25))]


def test_E20_a_piece_cut_back_goes_on_and_the_patch_ends_with_it(yard: Yard) -> None:
    first = issued(yard)
    patch = put_right(yard, first, "patch")
    old = patch.replaces
    assert old is not None
    old.refresh_from_db()
    assert old.ended_on is None
    second = next_edition(yard, first)
    assert dates(second, old) == dates(first, old)
    assert dates(second, patch) == dates(first, old)
    assert {place.kind for place in patch.places.all()} == {"field", "seam"}
    assert {place.other_piece for place in patch.places.filter(kind="seam")} == {old}
    starts = set(Life.objects.filter(place__piece=patch).values_list("starts_on", flat=True))
    assert starts == {date(2027, 3, 6)}


def test_E22_a_panel_replaced_after_a_collision_ends_its_film_without_a_failure(yard: Yard) -> None:
    first = issued(yard)
    wing = PanelWork.objects.get(job=first.job, panel="left-wing")
    remove_panel(panel_work=wing, why="collision", on=LATER_DAY, actor=yard.actor, now=LATER)
    second = next_edition(yard, first)
    assert [panel["key"] for panel in second.snapshot["panels"]] == ["bonnet"]
    assert not Cover.objects.filter(certificate=second, piece__panel_work=wing).exists()
    rebuild_lives()
    ended = Life.objects.filter(place__piece__panel_work=wing).values_list("ended", "ended_why")
    assert {how for how, _ in ended} == {"other"}


def test_a_certificate_says_that_the_record_has_moved_on_until_there_is_a_new_edition(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: LATER)
    first = issued(yard)
    assert moved_on(first) == ()
    piece = FilmPiece.objects.get(panel_work__job=first.job, panel_work__panel="bonnet")
    end_piece(piece=piece, why="removed", on=LATER_DAY, actor=yard.actor, now=LATER)
    client = yard.people.client(yard.people.owner)
    page = client.get(reverse("certificate", args=["kiln", first.pk])).content.decode()
    assert "on or after March 8, 2027" in page
    assert moved_on(next_edition(yard, first)) == ()


def test_E25_film_the_owner_brought_is_named_as_such_on_the_paper(yard: Yard) -> None:
    job = yard.job(panels=("bonnet", "left-wing"))
    FilmPiece.objects.filter(panel_work__job=job, panel_work__panel="bonnet").update(supplied_by_owner=True)
    certificate = yard.issue(job)
    said = " ".join(line for fact in facts(read_snapshot(certificate.snapshot)) for line in fact.small)
    assert "brought by the owner: hood" in said.lower()


def test_a_maker_promises_by_its_own_terms_of_the_latest_date_up_to_the_handover(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    client, page = yard.people.client(yard.people.owner), reverse("maker-terms", args=["kiln"])
    product = yard.rolls[0].product
    type(product).objects.update(maker_address="3 Mill Lane, Example Town")
    for dated, content in (
        ("2025-01-05", b"%PDF-1.7 old"),
        ("2026-01-05", b"Film: ten years."),
        ("2027-01-05", b"new"),
    ):
        said = {"product": product.pk, "title": "Film terms", "dated": dated}
        assert client.post(page, {**said, "file": sent(content)}).status_code == 302
    assert stored_bytes.read(MakerTerms.objects.get(dated="2025-01-05").sha256) == b"%PDF-1.7 old"
    by_maker = {"title": "Film turns yellow", "years": 7, "remedy": "New film.", "warrantor": "maker"}
    certificate = yard.issue(yard.job(panels=("bonnet",)), plan_version=yard.published([AN_EDGE, by_maker]))
    promise = next(each for each in read_snapshot(certificate.snapshot).promises if each.by_maker)
    assert promise.makers_terms == "Film terms of January 5, 2026"


@pytest.mark.parametrize("content", [b"", b"\xff\xfe\x00binary", b"  \n "])
def test_a_file_nobody_can_read_is_not_kept_as_terms(
    yard: Yard, monkeypatch: pytest.MonkeyPatch, content: bytes
) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    page = reverse("maker-terms", args=["kiln"])
    said = {"product": yard.rolls[0].product_id, "title": "Film terms", "dated": "2026-01-05"}
    answer = yard.people.client(yard.people.owner).post(page, {**said, "file": sent(content)})
    assert answer.status_code == 200
    assert 'value="Film terms"' in answer.content.decode()
    assert not MakerTerms.objects.exists()


def sent(content: bytes) -> Any:
    return SimpleUploadedFile("terms of the maker.pdf", content)
