"""Several workers and people at once: no number is given out twice, no message goes out twice."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from shopwarranty.outbox import delivery
from shopwarranty.outbox.actions import put_message
from shopwarranty.outbox.channels import mail
from shopwarranty.outbox.models import Message
from shopwarranty.shops.history import Actor, StaleState, move_state, next_number
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import shop_scope
from tests.conftest import NOW, make_shop
from tests.many_hands import at_once, elsewhere
from tests.many_hands import shared_database as shared_database

pytestmark = [pytest.mark.postgres, pytest.mark.xdist_group("many hands")]
CLIENTS = 8


@pytest.fixture
def shop(shared_database: None) -> Shop:
    return elsewhere(lambda: make_shop("race", name="Race Lane Film").shop)  # type: ignore[no-any-return]


def inside(shop: Shop, act: Callable[[], Any]) -> Callable[[], Any]:
    def run() -> Any:
        with shop_scope(shop):
            return act()

    return run


def test_a_series_gives_every_number_once_even_from_its_very_first(shop: Shop) -> None:
    def five() -> list[int]:
        return [next_number("job") for _ in range(5)]

    results = at_once([inside(shop, five) for _ in range(CLIENTS)])
    assert [each for each in results if isinstance(each, Exception)] == []
    assert sorted(number for each in results for number in each) == list(range(1, CLIENTS * 5 + 1))


def test_series_and_shops_do_not_share_numbers(shop: Shop) -> None:
    other = elsewhere(lambda: make_shop("pace", name="Pace Lane Film").shop)
    acts = [inside(each, lambda: next_number("job")) for each in (shop, other)]
    acts += [inside(shop, lambda: next_number("defect"))]
    assert at_once(acts) == [1, 1, 1]


def put(**more: Any) -> Message:
    values: dict[str, Any] = {"key": "fact", "to": "a@example.com", "subject": "S", "text": "T", "now": NOW}
    return put_message(**values | more)


def test_a_fact_told_by_many_at_once_is_one_message(shop: Shop) -> None:
    results = at_once([inside(shop, put) for _ in range(CLIENTS)])
    assert [each for each in results if isinstance(each, Exception)] == []
    assert len({each.pk for each in results}) == 1


def test_of_several_workers_one_takes_a_message_up(shop: Shop) -> None:
    message = elsewhere(inside(shop, put))
    later = NOW + timedelta(minutes=1)
    results = at_once([inside(shop, lambda: delivery.claim(message, later)) for _ in range(CLIENTS)])
    assert sorted(results) == [False] * (CLIENTS - 1) + [True]
    assert elsewhere(inside(shop, lambda: Message.objects.get().attempts)) == 1


def test_a_round_of_several_workers_sends_each_message_once(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent: list[str] = []

    class Server:
        def open(self) -> None: ...

        def close(self) -> None: ...

        def send_messages(self, mails: list[Any]) -> int:
            sent.extend(mail.subject for mail in mails)
            return len(mails)

    monkeypatch.setattr(mail, "get_connection", Server)
    elsewhere(inside(shop, lambda: [put(key=f"fact {n}", subject=f"S{n}") for n in range(20)]))
    tallies = at_once([lambda: delivery.deliver_due(NOW) for _ in range(4)])
    assert [each for each in tallies if isinstance(each, Exception)] == []
    assert sorted(sent) == sorted(f"S{n}" for n in range(20))
    assert sum(tally.sent for tally in tallies) == 20


def test_of_several_who_move_a_state_one_wins(shop: Shop) -> None:
    message = elsewhere(inside(shop, put))

    def drop() -> None:
        row = Message.objects.get(pk=message.pk)
        move_state(row, old="waiting", new="dropped", actor=Actor("tool"), at=NOW)

    results = at_once([inside(shop, drop) for _ in range(CLIENTS)])
    assert sum(isinstance(each, StaleState) for each in results) == CLIENTS - 1
    assert results.count(None) == 1
