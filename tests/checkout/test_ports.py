import socket
from collections.abc import Iterator

import pytest

from shopwarranty.checkout.options import port
from shopwarranty.checkout.ports import choose, is_free, next_free
from shopwarranty.checkout.screen import Refusal

HERE = "127.0.0.1"


@pytest.fixture
def taken() -> Iterator[int]:
    with socket.socket() as other:
        other.bind((HERE, 0))
        other.listen()
        yield other.getsockname()[1]


def quiet(what: str, text: str) -> None:
    """Says nothing."""


def test_a_free_port_is_taken_as_it_is() -> None:
    with socket.socket() as other:
        other.bind((HERE, 0))
        free = other.getsockname()[1]
    said: list[str] = []
    assert choose(free, HERE, tell=lambda what, text: said.append(text)) == free
    assert said == []


def test_a_taken_port_is_named_and_the_next_free_one_used(taken: int) -> None:
    said: list[str] = []
    other = choose(taken, HERE, tell=lambda what, text: said.append(text))
    assert other == next_free(taken, HERE) > taken
    assert str(taken) in said[0]
    assert str(other) in said[0]


@pytest.mark.parametrize("answer", ["", "y", "Y", "yes"])
def test_at_a_terminal_the_next_port_is_offered(taken: int, answer: str) -> None:
    asked: list[str] = []

    def ask(question: str) -> str:
        asked.append(question)
        return answer

    assert str(choose(taken, HERE, ask, quiet)) in asked[0]


def test_declining_the_offer_starts_nothing(taken: int) -> None:
    with pytest.raises(Refusal, match="--port"):
        choose(taken, HERE, lambda _: "n", quiet)


def test_a_port_taken_by_a_listener_is_not_free(taken: int) -> None:
    assert not is_free(taken)


def test_no_port_above_the_highest_is_offered() -> None:
    with pytest.raises(Refusal, match="65535"):
        next_free(65535)


@pytest.mark.parametrize("text", ["0", "65536", "-1", "80a", ""])
def test_a_number_that_is_no_port_is_refused(text: str) -> None:
    with pytest.raises(Exception, match="is not a port"):
        port(text)
