"""Two who wait for each other: the database throws one out, and the program does it once more.

The failures are PostgreSQL's own, made by two connections at once (deadlocks: its documentation, 13.3.4;
serialization failures: 13.2.2).
"""

import threading
from collections.abc import Callable
from typing import Any

import pytest
from django.contrib import messages
from django.contrib.messages.storage.base import BaseStorage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import OperationalError, connection, transaction
from django.http import HttpResponse
from django.test import RequestFactory
from django.urls import reverse

from shopwarranty.shops.again import TRIES, AgainMiddleware, again, twice_is_once
from shopwarranty.shops.models import Bay
from shopwarranty.shops.scope import shop_scope
from tests.conftest import World

pytestmark = [
    pytest.mark.postgres,
    pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite throws nobody out"),
]
committing = pytest.mark.django_db(transaction=True)


class Thrown(Exception):
    def __init__(self, sqlstate: str) -> None:
        self.sqlstate = sqlstate


def throw(sqlstate: str) -> None:
    raise OperationalError from Thrown(sqlstate)


def add_to_name(pk: int) -> None:
    with connection.cursor() as cursor:
        cursor.execute("UPDATE shops_bay SET name = name || '+' WHERE id = %s", [pk])


def at_once(*acts: Callable[[], object]) -> list[BaseException]:
    """What the threads raised."""
    raised: list[BaseException] = []

    def run(act: Callable[[], object]) -> None:
        try:
            act()
        except BaseException as error:
            raised.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(act,)) for act in acts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert not any(thread.is_alive() for thread in threads)
    return raised


@pytest.fixture
def bays(world: World) -> tuple[int, list[int]]:
    with shop_scope(world.ours.shop):
        made = [Bay.objects.create(name=name, position=at).pk for at, name in enumerate("AB", 8)]
    return world.ours.shop.pk, made


def in_order(shop: int, order: list[int], met: threading.Barrier, tries: list[int]) -> Callable[[], None]:
    """Changes two rows in one transaction; the first time, both sides hold one before they want the other."""
    firsts = iter([True])

    def act() -> None:
        tries.append(shop)
        with shop_scope(shop), transaction.atomic():
            add_to_name(order[0])
            if next(firsts, False):
                met.wait(30)
            add_to_name(order[1])

    return act


def names(shop: int, made: list[int]) -> list[str]:
    with shop_scope(shop):
        return [Bay.objects.get(pk=pk).name for pk in made]


@committing
def test_of_two_that_wait_for_each_other_one_is_thrown_out_and_done_again(
    bays: tuple[int, list[int]],
) -> None:
    shop, made = bays
    met, tries = threading.Barrier(2), list[int]()
    forth, back = (in_order(shop, order, met, tries) for order in (made, made[::-1]))
    assert at_once(lambda: again(forth), lambda: again(back)) == []
    assert names(shop, made) == ["A++", "B++"]
    assert len(tries) == 3


@committing
def test_without_doing_it_again_one_of_the_two_is_lost(bays: tuple[int, list[int]]) -> None:
    """So the test above shows something."""
    shop, made = bays
    met, tries = threading.Barrier(2), list[int]()
    forth, back = (in_order(shop, order, met, tries) for order in (made, made[::-1]))
    (error,) = at_once(forth, back)
    assert getattr(error.__cause__, "sqlstate", "") == "40P01"
    assert names(shop, made) == ["A+", "B+"]


@committing
def test_a_page_whose_transaction_fits_into_no_order_is_asked_again(
    bays: tuple[int, list[int]], world: World
) -> None:
    """REPEATABLE READ: what somebody else changed since the first look may not be changed."""
    shop, (bay, _other) = bays
    tries: list[str] = []

    def view(request: Any, word: str) -> HttpResponse:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
            name = Bay.objects.get(pk=bay).name
            tries.append(request.FILES["photo"].read().decode())
            messages.success(request, word)
            if len(tries) == 1:
                assert at_once(lambda: change_from_elsewhere(shop, bay)) == []
            Bay.objects.filter(pk=bay).update(name=name + word)
        return HttpResponse("done")

    request = asked(world)
    with shop_scope(shop):
        middleware = AgainMiddleware(lambda asked: HttpResponse())
        response = middleware.process_view(request, view, (), {"word": "!"})
    assert (response.content, tries) == (b"done", ["film", "film"])
    assert names(shop, [bay]) == ["A+!"]
    assert [str(each) for each in messages.get_messages(request)] == ["!"]


@committing
def test_whoever_asked_for_the_page_gets_it_and_hears_of_nothing(world: World) -> None:
    """Through everything that stands before a page; the failure is put where the page first reads jobs."""
    thrown: list[str] = []

    def throw_once(execute: Any, sql: Any, params: Any, many: bool, context: Any) -> Any:
        if 'FROM "jobs_job"' in sql and not thrown:
            thrown.append(sql)
            throw("40001")
        return execute(sql, params, many, context)

    with connection.execute_wrapper(throw_once):
        response = world.ours.client(world.ours.owner).get(reverse("jobs", args=["kiln"]))
    assert (response.status_code, len(thrown)) == (200, 1)


def asked(world: World) -> Any:
    request: Any = RequestFactory().post("/", {"photo": SimpleUploadedFile("a.txt", b"film")})
    request.member, request.shop = world.ours.owner, world.ours.shop
    request._messages = Kept(request)
    return request


class Kept(BaseStorage):
    def _get(self, *args: Any, **kwargs: Any) -> tuple[list[Any], bool]:
        return [], True


def change_from_elsewhere(shop: int, bay: int) -> None:
    with shop_scope(shop):
        add_to_name(bay)


@committing
@pytest.mark.parametrize("kept_by", ["a statement", "a transaction"])
def test_what_was_kept_already_is_not_done_twice(kept_by: str, bays: tuple[int, list[int]]) -> None:
    shop, (bay, _other) = bays

    def half_done() -> None:
        if kept_by == "a statement":
            add_to_name(bay)
        else:
            with transaction.atomic():
                add_to_name(bay)
        throw("40001")

    with shop_scope(shop), pytest.raises(OperationalError):
        again(half_done)
    assert names(shop, [bay]) == ["A+"]


@committing
def test_an_act_that_does_nothing_twice_goes_on_whatever_was_kept(bays: tuple[int, list[int]]) -> None:
    shop, (bay, _other) = bays

    @twice_is_once
    def act(word: str) -> str:
        if Bay.objects.filter(pk=bay, name="A").update(name=word):
            throw("40P01")
        return Bay.objects.get(pk=bay).name

    with shop_scope(shop):
        assert act("C") == "C"


@committing
@pytest.mark.parametrize(("sqlstate", "tries"), [("40001", TRIES), ("40P01", TRIES), ("57014", 1)])
def test_it_gives_up_and_other_failures_are_nobodys_to_repeat(
    sqlstate: str, tries: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried: list[int] = []

    def act() -> None:
        tried.append(1)
        throw(sqlstate)

    monkeypatch.setattr("shopwarranty.shops.again.LONGEST_PAUSE", 0)
    with pytest.raises(OperationalError):
        again(act)
    assert len(tried) == tries


@pytest.mark.django_db
def test_within_a_transaction_nothing_is_repeated_but_by_whoever_opened_it() -> None:
    tried: list[int] = []

    def act() -> None:
        tried.append(1)
        throw("40001")

    with pytest.raises(OperationalError):
        again(act)
    assert len(tried) == 1
