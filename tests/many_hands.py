"""Several people at once: real threads on a database they share, which an in-memory SQLite is not.

On SQLite a copy of the test database goes into a file of its own; on PostgreSQL the test database serves.
Work with rows only inside `elsewhere` and `at_once`: the test's own thread keeps its own connection.
"""

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from threading import Barrier, Thread
from typing import Any, TypeVar

import pytest
from django.db import connection, connections

T = TypeVar("T")


@pytest.fixture
def shared_database(transactional_db: None, tmp_path: Path) -> Iterator[None]:
    if connection.vendor != "sqlite":
        yield
        return
    values = connections.settings["default"]
    before, file = values["NAME"], tmp_path / "shared.sqlite3"
    with connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [str(file)])
    values["NAME"] = str(file)
    try:
        yield
    finally:
        values["NAME"] = before


def at_once(acts: Sequence[Callable[[], Any]]) -> list[Any]:
    """Runs each act in its own thread, all from the same moment; gives what each returned or raised."""
    results: list[Any] = [None] * len(acts)
    ready = Barrier(len(acts), timeout=30)

    def run(number: int, act: Callable[[], Any]) -> None:
        try:
            connection.ensure_connection()
            ready.wait()
        except Exception as error:
            ready.abort()  # who could not come must not keep the others waiting
            results[number] = error
            connections.close_all()
            return
        try:
            results[number] = act()
        except Exception as error:
            results[number] = error
        finally:
            connections.close_all()

    threads = [Thread(target=run, args=(number, act), daemon=True) for number, act in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert not any(thread.is_alive() for thread in threads), "still at it after a minute"
    return results


def elsewhere(act: Callable[[], T]) -> T:
    """Runs one act in a thread of its own, on the shared database."""
    (result,) = at_once([act])
    if isinstance(result, Exception):
        raise result
    return result  # type: ignore[no-any-return]
