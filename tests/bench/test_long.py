"""An interrupted part goes on where it stopped, and its table says what was measured with which code."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.bench import whole_suite
from tests.bench.long import UNFINISHED, run, version
from tests.bench.results import COLUMNS, Table
from tests.bench.rounds import Figures, Part, Round


def part(ran: list[str], fails: str = "") -> Part:
    def round_of(name: str) -> Round:
        def measure(seed: int) -> Figures:
            ran.append(name)
            return Figures(name != fails, {"seed": seed, "share": 0.125, "label": name.upper()})

        return Round(name, measure)

    return Part("three rounds", lambda: tuple(round_of(name) for name in "abc"), seed=7)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "results" / "part.csv"


def a_minute_each() -> Iterator[float]:
    """A clock that is read when a part starts, then three or four times a round."""
    now = 0.0
    while True:
        yield now
        now += 20.0


def test_every_round_leaves_one_row_with_seed_version_and_figures(path: Path) -> None:
    assert run(part([]), Table(path, "v1", 7), 3600) == 0
    lines = path.read_text().splitlines()
    assert lines[0] == ",".join(COLUMNS)
    assert lines[1].startswith("a,7,v1,0.")
    assert lines[1].endswith("yes,seed=7; share=0.125; label=A")
    assert len(lines) == 4


def test_a_part_stops_before_its_time_is_over_and_the_next_run_does_the_rest(path: Path) -> None:
    ran: list[str] = []
    clock = a_minute_each()
    assert run(part(ran), Table(path, "v1", 7), 100, lambda: next(clock)) == UNFINISHED
    done = len(ran)
    assert 0 < done < 3
    assert run(part(ran), Table(path, "v1", 7), 3600) == 0
    assert ran == ["a", "b", "c"]


def test_a_finished_part_measures_nothing_again(path: Path) -> None:
    ran: list[str] = []
    for _ in range(2):
        assert run(part(ran), Table(path, "v1", 7), 3600) == 0
    assert ran == ["a", "b", "c"]


def test_other_code_or_another_seed_is_measured_anew(path: Path) -> None:
    ran: list[str] = []
    for code, seed in (("v1", 7), ("v2", 7), ("v2", 8)):
        run(part(ran), Table(path, code, seed), 3600)
    assert ran == ["a", "b", "c"] * 3
    assert {line.split(",")[2] for line in path.read_text().splitlines()[1:]} == {"v2"}


def test_a_round_that_misses_its_goal_fails_the_part_and_the_others_still_run(path: Path) -> None:
    ran: list[str] = []
    assert run(part(ran, fails="a"), Table(path, "v1", 7), 3600) == 1
    assert ran == ["a", "b", "c"]


def test_the_version_names_the_code_as_it_lies_here() -> None:
    assert version() == version()
    assert len(version()) == 12


def test_every_room_with_tests_has_its_round() -> None:
    names = [one.name for one in whole_suite.on_postgres()]
    assert {"shops", "films", "outbox", "checkout"} <= set(names)
    assert "bench" not in names
