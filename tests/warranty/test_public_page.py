"""The public page: genuine, replaced, withdrawn, ended; nothing about anybody; compares, and counts."""

from datetime import UTC, datetime
from typing import Any

import pytest
from django.test import Client

from shopwarranty.jobs import actions as jobs
from shopwarranty.warranty import actions, matching
from shopwarranty.warranty.matching import AskedTooOften, NotRecorded, matches, sweep
from shopwarranty.warranty.models import Certificate, MatchTry
from tests.conftest import NOW
from tests.warranty.conftest import TODAY, VIN, Yard

pytestmark = pytest.mark.usefixtures("plain_pdf")
SECRETS = ("A. Example", "holder@example.com", "7FN", VIN, VIN[-6:], "Sample Street", "61-0934", "R3")


def address(certificate: Certificate) -> str:
    return f"/certificate/{certificate.number}/{certificate.code}/"


def page(certificate: Certificate) -> str:
    answer = Client().get(address(certificate))
    assert answer.status_code == 200
    return answer.content.decode()


@pytest.fixture
def today(monkeypatch: pytest.MonkeyPatch) -> Any:
    def set_to(moment: datetime) -> None:
        monkeypatch.setattr("django.utils.timezone.now", lambda: moment)

    set_to(NOW)
    return set_to


def test_a_genuine_one_says_so_and_shows_nothing_about_anybody(yard: Yard, today: Any) -> None:
    text = page(yard.issue())
    assert "Genuine and in force." in text
    assert "November 25, 2027" in text
    assert [secret for secret in SECRETS if secret in text] == []


def test_it_is_kept_nowhere_and_told_to_nobody(yard: Yard, today: Any) -> None:
    answer = Client().get(address(yard.issue()))
    assert "no-store" in answer["Cache-Control"]
    assert answer["Referrer-Policy"] == "no-referrer"
    assert "noindex" in answer["X-Robots-Tag"]
    assert answer["X-Frame-Options"] == "DENY"


def test_replaced_and_withdrawn_are_said_with_their_day(yard: Yard, today: Any) -> None:
    first = yard.issue()
    jobs.change_party(party=first.holder, values={"name": "B. Example"}, actor=yard.actor, now=NOW)
    second = actions.replace_certificate(certificate=first, why="name", actor=yard.actor, now=NOW)
    assert "replaced by a later edition" in page(first)
    assert "Replaced on November 25, 2026" in page(first)
    assert second.code not in page(first)
    assert "Genuine and in force." in page(second)
    actions.withdraw_certificate(
        certificate=second, reason="issued_in_error", note="x", actor=yard.actor, now=NOW
    )
    assert "Withdrawn on November 25, 2026" in page(second)
    assert "Rights under the law" in page(second)


@pytest.mark.parametrize(
    ("moment", "words"),
    [
        (datetime(2027, 2, 26, 12, tzinfo=UTC), "Part of what it promised has ended"),
        (
            datetime(2027, 11, 26, 4, 59, tzinfo=UTC),
            "Part of what it promised has ended",
        ),  # 23:59 on the 25th
        (datetime(2027, 11, 26, 5, 0, tzinfo=UTC), "Its printed term has ended"),
    ],
)
def test_E78_the_last_day_counts_to_its_end_in_the_shops_zone(
    yard: Yard, today: Any, moment: datetime, words: str
) -> None:
    certificate = yard.issue()
    today(moment)
    text = page(certificate)
    assert words in text
    assert "Rights under the law may continue" in text


def test_E96_a_wrong_code_and_an_unknown_number_cannot_be_told_apart(yard: Yard, today: Any) -> None:
    certificate = yard.issue()
    other = "KL-26-0099-07"
    wrong = Client().get(f"/certificate/{certificate.number}/ABCDABCDABCDABCD/")
    unknown = Client().get(f"/certificate/{other}/{certificate.code}/")
    nothing = Client().get(f"/certificate/{other}/ABCDABCDABCDABCD/")
    pages = {
        answer.content.decode().replace(certificate.number, "#").replace(other, "#")
        for answer in (wrong, unknown, nothing)
    }
    assert {answer.status_code for answer in (wrong, unknown, nothing)} == {404}
    assert len(pages) == 1


def test_E96_a_number_alone_tells_nothing(yard: Yard, today: Any) -> None:
    certificate = yard.issue()
    known = Client().get(f"/certificate/{certificate.number}/")
    unknown = Client().get("/certificate/KL-26-0099-07/")
    assert known.content.decode().replace(certificate.number, "#") == unknown.content.decode().replace(
        "KL-26-0099-07", "#"
    )
    assert "The number alone tells nothing" in known.content.decode()


def test_number_and_code_typed_by_hand_lead_to_the_page(yard: Yard, today: Any) -> None:
    certificate = yard.issue()
    spoken = "-".join(certificate.code[n : n + 4] for n in range(0, 16, 4)).lower()
    answer = Client().get(
        "/certificate/", {"number": certificate.number.lower().replace("-", " "), "code": spoken}
    )
    assert answer["Location"] == address(certificate)
    mistyped = Client().get("/certificate/", {"number": "KL-26-0010-10", "code": spoken})
    assert "do not fit the rest" in mistyped.content.decode()


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("7fn 402", "Matches."),
        ("7FN-402", "Matches."),
        ("000123", "Matches."),
        (VIN.lower(), "Matches."),
        ("7FN 403", "Does not match."),
        ("00123", "Does not match."),
        ("A. Example", "Does not match."),
    ],
)
def test_a_plate_or_the_end_of_the_vin_is_compared(yard: Yard, today: Any, typed: str, said: str) -> None:
    answer = Client(enforce_csrf_checks=True).post(address(yard.issue()), {"typed": typed})
    text = answer.content.decode()
    assert said in text
    others = {"Matches.", "Does not match.", "Asked too often"} - {said}
    assert not any(other in text for other in others)


@pytest.mark.parametrize(
    ("recorded", "typed", "said"),
    [
        ({"plate": ""}, "7FN 402", "Cannot be said"),
        ({"plate": ""}, "000123", "Matches."),
        ({"vin": "", "vin_kind": "none"}, "000123", "Cannot be said"),
        ({"vin": "", "vin_kind": "none"}, "7FN 402", "Matches."),
    ],
)
def test_a_plate_or_vin_that_is_not_recorded_is_no_reason_to_say_it_differs(
    yard: Yard, today: Any, recorded: dict[str, str], typed: str, said: str
) -> None:
    certificate = yard.issue(yard.job(vehicle=yard.vehicle(**recorded)))
    text = Client().post(address(certificate), {"typed": typed}).content.decode()
    assert said in text
    assert "Does not match." not in text


def test_E04_the_present_plate_matches_too(yard: Yard, today: Any) -> None:
    certificate = yard.issue()
    jobs.set_plate(vehicle=certificate.vehicle, text="NEW 1", since=TODAY, actor=yard.actor, now=NOW)
    assert matches(certificate=certificate, typed="new1", asked_from="a", now=NOW)
    assert matches(certificate=certificate, typed="7FN402", asked_from="a", now=NOW)


def test_trying_plates_in_a_row_is_stopped_and_told(yard: Yard, today: Any) -> None:
    certificate = yard.issue()
    for number in range(matching.PER_HOUR):
        Client().post(address(certificate), {"typed": f"X {number}"})
    stopped = Client().post(address(certificate), {"typed": "7FN 402"}).content.decode()
    assert "Asked too often" in stopped
    assert "Matches." not in stopped
    assert MatchTry.objects.get().who != "127.0.0.1"


def test_many_addresses_together_are_stopped_too(yard: Yard) -> None:
    certificate = yard.issue()
    for number in range(matching.PER_DAY):
        matches(certificate=certificate, typed="x", asked_from=str(number), now=NOW)
    with pytest.raises(AskedTooOften):
        matches(certificate=certificate, typed="7FN402", asked_from="one more", now=NOW)
    assert sweep(datetime(2026, 11, 29, tzinfo=UTC)) == matching.PER_DAY + 1


def test_an_empty_plate_never_matches_an_empty_question(yard: Yard) -> None:
    certificate = yard.issue(yard.job(vehicle=yard.vehicle(plate="", vin="", vin_kind="none")))
    with pytest.raises(NotRecorded):
        matches(certificate=certificate, typed="-", asked_from="a", now=NOW)
