"""The owner's pages of messages: what goes when, and a shop's own words."""

from typing import Any

import pytest

from shopwarranty.inspections.models import MessageText
from shopwarranty.inspections.rules import rules_of
from shopwarranty.inspections.writing import steps
from shopwarranty.outbox.delivery import deliver_due
from shopwarranty.outbox.models import Message
from shopwarranty.shops.models import Change
from tests import builders as b
from tests.conftest import ShopPeople

TEXT = "/s/kiln/settings/writing/text/?kind=offer"
OWN = {"subject": "{what} for {name}", "text": "Hi {name},\r\n\r\n**{first}**?\r\n{link}"}
RULES = {
    "on": ["offer", "reminder_3d", "missed", "result"],
    "offers_at_most": "2",
    "send_from": "09:00",
    "send_until": "18:00",
    "send_weekdays": ["0", "1", "2", "3", "4"],
}


@pytest.fixture
def page(ours: ShopPeople) -> Any:
    return ours.client(ours.owner)


def test_what_goes_and_when_is_said_on_one_page(page: Any, ours: ShopPeople) -> None:
    assert page.post("/s/kiln/settings/writing/", RULES).status_code == 302
    rules = rules_of(ours.shop)
    assert set(rules.silent) == {"reminder_1d", "earlier", "summary"}
    assert (rules.offers_at_most, rules.send_weekdays, rules.send_on_closed_days) == (2, "01234", False)
    assert "off" in page.get("/s/kiln/settings/writing/").content.decode()


@pytest.mark.parametrize("wrong", [{"send_until": "08:00"}, {"send_weekdays": []}, {"offers_at_most": "-1"}])
def test_hours_that_leave_no_time_are_refused_and_what_was_typed_stays(
    page: Any, ours: ShopPeople, wrong: dict[str, Any]
) -> None:
    answer = page.post("/s/kiln/settings/writing/", RULES | wrong)
    assert answer.status_code == 200
    assert b'value="09:00"' in answer.content
    assert rules_of(ours.shop).offers_at_most == 3


def test_a_shops_own_text_is_used_from_the_next_message_on_and_ours_comes_back(page: Any) -> None:
    assert page.post(TEXT, OWN).status_code == 302
    b.a_check()
    steps.offer_checks(b.NOW)
    message = Message.objects.get()
    assert message.subject == "Two-week edge check for A. Example"
    assert message.text.startswith(
        "Hi A. Example,\n\nWednesday, November 18?\nhttps://kiln.example/your-film/"
    )
    assert "<b>Wednesday, November 18</b>" in message.html
    assert "does not end your warranty" in message.text
    page.post(TEXT, {**OWN, "ours": "1"})
    assert not MessageText.objects.exists()
    assert Change.objects.filter(act__startswith="text of a message").count() == 2


def test_a_word_nobody_can_fill_in_is_refused_and_named(page: Any) -> None:
    answer = page.post(TEXT, {"subject": "{what}", "text": "Hi {naem}, {result} {% now %}"})
    words = answer.content.decode()
    assert "{naem}, {result}" in words
    assert "Hi {naem}" in words
    assert not MessageText.objects.exists()


def test_looking_first_saves_nothing_and_shows_samples_alone(page: Any) -> None:
    b.a_check()
    words = page.post(TEXT, {**OWN, "text": "<script>x</script> {name}", "look": "1"}).content.decode()
    assert "As typed, with samples" in words
    assert "&lt;script&gt;x&lt;/script&gt; A. Example" in words
    assert "<script>x" not in words
    assert not MessageText.objects.exists()


def test_a_test_goes_to_oneself_and_saves_nothing(page: Any, ours: ShopPeople) -> None:
    page.post(TEXT, {**OWN, "test": "1"})
    message = Message.objects.get()
    assert (message.to, message.subject.startswith("Test: ")) == ("owner@kiln.example", True)
    deliver_due(message.not_before)
    assert not MessageText.objects.exists()


@pytest.mark.parametrize("query", ["?kind=none", "?kind=offer&language=xx", ""])
def test_a_text_that_does_not_exist_is_not_found(page: Any, query: str) -> None:
    assert page.get(f"/s/kiln/settings/writing/text/{query}").status_code == 404
