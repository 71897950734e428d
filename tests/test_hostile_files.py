"""Every column of every CSV file holds what nobody would write there: a refusal names line and column.

`.ci/long fuzz` spoils 50,000 cells.
"""

import csv
import io
import logging
import os
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from itertools import cycle, islice
from pathlib import Path
from random import Random
from zoneinfo import ZoneInfo

import pytest
from django.db import transaction

from shopwarranty.analysis.flat_file import BadFile, read_question
from shopwarranty.desk.flat.faults import Fault, FilesRefused
from shopwarranty.desk.flat.finding_columns import FINDING_COLUMNS
from shopwarranty.desk.flat.job_columns import JOB_COLUMNS
from shopwarranty.jobs.logger_file import read_logger_file
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import shop_scope
from tests.conftest import NOW, World
from tests.desk.flat_files import a_look, a_row, exported, files, rows_of, table, take_in
from tests.every_row import rows_of as one_of_everything
from tests.hostile import NASTY
from tests.rules import broken
from tests.warranty.conftest import plain_pdf as plain_pdf

CELLS = int(os.environ.get("FUZZ_CELLS", "200"))
SEED = int(os.environ.get("FUZZ_SEED", "1"))
RULES_EVERY = 25
COLUMNS = (*JOB_COLUMNS, *FINDING_COLUMNS)
JOB_HEADERS = [header for column in JOB_COLUMNS for header in column.headers]
LOOK_HEADERS = [header for column in FINDING_COLUMNS for header in column.headers]


@dataclass(frozen=True, slots=True)
class Pair:
    """Both files, as rows by header."""

    jobs: Sequence[Mapping[str, object]]
    looks: Sequence[Mapping[str, object]]


@dataclass(frozen=True, slots=True)
class Spoilt:
    """One cell that is not what it was. `line` counts from 1, the header."""

    file: str
    line: int
    header: str
    text: str

    @property
    def lines(self) -> range:
        """The row ends later where the text itself breaks lines."""
        return range(self.line, self.line + 1 + self.text.count("\n"))

    def __str__(self) -> str:
        return f"{self.file} line {self.line} {self.header}={self.text[:40]!r}"


@dataclass(slots=True)
class Tally:
    taken: int = 0
    refused: int = 0
    columns: Counter[str] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)

    def line(self) -> str:
        return f"{self.taken} taken in, {self.refused} refused by name, {len(self.columns)} columns"


@pytest.fixture
def quiet() -> Iterator[None]:
    logging.disable(logging.CRITICAL)
    yield
    logging.disable(logging.NOTSET)


@pytest.fixture
def pairs(world: World, plain_pdf: None) -> list[Pair]:
    """The smallest files that are taken in, and the export of a shop in which something of everything is."""
    with shop_scope(world.theirs.shop):
        one_of_everything(world.theirs)
    whole = Pair(*(rows_of(text) for text in exported(world.theirs.shop)))
    defect = a_look(place="left", result="defect", kind="crease", severity=2)
    return [whole, Pair([a_row(), a_row(place="left")], [a_look(), defect])]


def test_the_files_are_taken_in_as_they_stand(world: World, pairs: list[Pair], tmp_path: Path) -> None:
    for pair in pairs:
        found = files(tmp_path, table(pair.jobs), table(pair.looks))
        assert take_in(found, world.ours.shop).rows == len(pair.jobs) + len(pair.looks)


def test_no_column_of_an_import_breaks_whatever_stands_in_it(
    world: World, pairs: list[Pair], tmp_path: Path, quiet: None
) -> None:
    chance, tally = Random(SEED), Tally()
    places = [("jobs.csv", header) for header in JOB_HEADERS]
    places += [("findings.csv", header) for header in LOOK_HEADERS]
    chance.shuffle(places)
    for number, (file, header) in enumerate(islice(cycle(places), CELLS)):
        pair, text = pairs[number % 2 if number >= len(places) else 1], chance.choice(NASTY)
        rows = pair.jobs if file == "jobs.csv" else pair.looks
        spoilt = Spoilt(file, 2 + chance.randrange(len(rows)), header, text)
        tally.columns[f"{file} {header}"] += 1
        taken_in(world.ours.shop, pair, spoilt, tmp_path, tally, look=number % RULES_EVERY == 0)
    print(f"\n{CELLS} cells: {tally.line()}")
    assert not tally.faults, "\n".join(sorted(set(tally.faults)))
    assert min(tally.taken, tally.refused) > CELLS / 10  # else one way out was hardly tried
    assert len(places) > CELLS or len(tally.columns) == len(places)


def taken_in(shop: Shop, pair: Pair, spoilt: Spoilt, folder: Path, tally: Tally, *, look: bool) -> None:
    """Taken in or refused by name; what was written is looked at now and then, and taken back."""
    found = files(folder, spoilt_table(pair.jobs, spoilt, "jobs.csv"),
                  spoilt_table(pair.looks, spoilt, "findings.csv"))  # fmt: skip
    try:
        with transaction.atomic():
            take_in(found, shop)
            tally.faults += [f"{spoilt}: {fault}" for fault in (broken() if look else ())]
            transaction.set_rollback(True)
        tally.taken += 1
    except FilesRefused as refusal:
        tally.refused += 1
        tally.faults += [f"{spoilt}: {words}" for words in nameless(refusal.faults.shown, spoilt)]
    except Exception as error:
        tally.faults.append(f"{spoilt}: {type(error).__name__} {str(error)[:200]}")


def spoilt_table(rows: Sequence[Mapping[str, object]], spoilt: Spoilt, name: str) -> str:
    """A column is there in one unit only."""
    kept = [dict(row) for row in rows]
    if spoilt.file == name:
        kept[spoilt.line - 2][spoilt.header] = spoilt.text
    headers = list(dict.fromkeys(header for row in kept for header in row))
    twins = next((column.headers for column in COLUMNS if spoilt.header in column.headers), {})
    headers = [header for header in headers if header not in twins or header == spoilt.header]
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, headers, extrasaction="ignore")
    writer.writeheader()
    writer.writerows(kept)
    return text.getvalue()


def nameless(found: Sequence[Fault], spoilt: Spoilt) -> Iterator[str]:
    """Each fault has a line and a column of its file; one of them is where it was spoilt."""
    for fault in found:
        known = JOB_HEADERS if fault.file == "jobs.csv" else LOOK_HEADERS
        if not fault.line or fault.column not in known or not fault.problem:
            yield f"names no column: {fault}"
    there = [fault for fault in found if fault.line in spoilt.lines or fault.column == spoilt.header]
    if not there:
        yield f"speaks of other places only: {found[0]}"


# --- a file of lives for the review

LIVES = [
    {"cluster": f"v{n}", "entry_day": "0", "clean_day": "14", "failed_day": "", "all_clean_day": "14",
     "all_failed_day": "", "panel": "roof", "temperature:number": "20.5"}
    for n in range(3)
]  # fmt: skip


def test_no_column_of_a_file_of_lives_breaks_whatever_stands_in_it(quiet: None) -> None:
    chance, tally = Random(SEED), Tally()
    for header in islice(cycle(LIVES[0]), CELLS):
        spoilt = Spoilt("lives.csv", 2 + chance.randrange(3), header, chance.choice(NASTY))
        try:
            read_question(spoilt_table(LIVES, spoilt, "lives.csv"))
            tally.taken += 1
        except BadFile as refusal:
            tally.refused += 1
            elsewhere = [
                c for c in refusal.complaints if c.column not in LIVES[0] or c.line not in spoilt.lines
            ]
            tally.faults += [f"{spoilt}: {each}" for each in elsewhere]
    print(f"\n{CELLS} cells: {tally.line()}")
    assert not tally.faults, "\n".join(sorted(set(tally.faults)))
    assert min(tally.taken, tally.refused) > CELLS / 10


# --- a logger's file

LOGGED = [
    {"time": f"2026-11-25 {hour}:00", "air (C)": "20.5", "surface (C)": "19", "rh %": "50", "dew point": "10"}
    for hour in range(10, 13)
]


def test_no_column_of_a_loggers_file_breaks_whatever_stands_in_it() -> None:
    """A row that cannot be read is left out and so not counted; the others stay as they are."""
    chance, lengths = Random(SEED), Counter[int]()
    for header in islice(cycle(LOGGED[0]), CELLS):
        spoilt = Spoilt("log.csv", 2 + chance.randrange(3), header, chance.choice(NASTY))
        found = read_logger_file(spoilt_table(LOGGED, spoilt, "log.csv").encode())
        lines = found.lines(zone=ZoneInfo("America/New_York"), day_first=True)
        lengths[len([line for line in lines if line.at < NOW + timedelta(days=1)])] += 1
    print(f"\n{CELLS} cells: {dict(lengths)} lines read")
    assert set(lengths) == {2, 3}
