"""The real programs, killed at moments drawn at random: what was said is kept, and nobody is told twice."""

from collections.abc import Mapping
from urllib.parse import quote

import pytest
from django.db import connection

from tests.bench.fault_rounds import killed, killed_in_acts

pytestmark = pytest.mark.xdist_group("many hands")
SEED = 20261125


def address_of(values: Mapping[str, object]) -> str:
    """DATABASE_URL of the database that the tests use."""
    if connection.vendor == "sqlite":
        return f"sqlite:///{values['NAME']}"
    who = ":".join(quote(str(values[name])) for name in ("USER", "PASSWORD"))
    return f"postgres://{who}@{values['HOST']}:{values['PORT']}/{values['NAME']}"


@pytest.mark.postgres
def test_whatever_is_killed_nobody_is_told_twice_and_nothing_is_lost(shared_database: None) -> None:
    rounds = 20 if connection.vendor == "sqlite" else 6
    figures = killed(SEED, {"DATABASE_URL": address_of(connection.settings_dict)}, rounds)
    assert figures.passed, "see the tally above"
    assert figures.values["told_twice"] == 0
    assert int(figures.values["taken_by_server"]) > 0
    assert int(figures.values["bookings"]) > 0


@pytest.mark.parametrize(("rounds", "postgres"), [(10, False), (20, True)], ids=["SQLite", "PostgreSQL"])
def test_what_was_acknowledged_stays_and_nothing_is_done_twice(rounds: int, postgres: bool) -> None:
    """Web server, worker and, where it is a server, the database, while people do what they do all day."""
    figures = killed_in_acts(SEED, rounds, postgres=postgres)
    assert figures.passed, "see the tally above"
    assert figures.values["told_twice"] == 0
    for act in ("acknowledged", "panels_acknowledged", "standing"):
        assert int(figures.values[act]) > 0
    assert not postgres or int(figures.values["killed_database"]) > 0
