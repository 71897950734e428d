"""Several people at once through the real web server, played by locust: the short form of `.ci/long load`."""

import pytest
from django.db import connection

from tests.bench.load import Line, played, report
from tests.many_hands import shared_database as shared_database


@pytest.mark.xdist_group("many hands")
@pytest.mark.skipif(connection.vendor != "sqlite", reason="the programs get a file of their own")
def test_a_few_people_at_once_get_every_page_they_ask_for(shared_database: None) -> None:
    database = {"DATABASE_URL": f"sqlite:///{connection.settings_dict['NAME']}"}
    figures = played(5, 600, (0.1, 0.4), database, requests=80)
    assert figures.passed, "see the table above"
    assert figures.values["failures"] == 0
    assert int(figures.values["requests"]) > 40  # the table is written a moment before the end
    assert int(figures.values["pages"]) > 5
    assert int(figures.values["empty_p95_ms"]) > 0


def test_one_failure_among_thousands_is_none_too_few() -> None:
    empty = Line("empty", 900, 0, 4.0, 9.0)
    good, bad = (Line("Aggregated", 4000, failures, 20.0, 90.0) for failures in (0, 1))
    assert report([empty, good], 50, 300, [])
    assert not report([empty, bad], 50, 300, [])
    assert not report([], 50, 300, [])
    assert not report([empty, good], 50, 300, ["a rule is broken"])
    assert not report([empty, Line("Aggregated", 40, 0, 20.0, 90.0)], 50, 300, [])
