"""The awkward cases of the job and the tests that hold each of them, as `fixtures/cases.csv` says.

A case no test holds says why; one that tests hold in part says in `not_held` what they leave out.
Test files are parsed and never imported.
"""

import ast
import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FEWEST_WORDS_OF_A_REASON = 8
IN_WORDS = re.compile(r"\bE\d{2}\b")
IN_A_NAME = re.compile(r"(?<=_)E\d{2}(?=_|$)", re.IGNORECASE)
RANGE = re.compile(r"\bE(\d{2}) to E(\d{2})\b")


@dataclass(frozen=True, slots=True)
class Case:
    identifier: str
    title: str
    tests: tuple[str, ...]
    not_held: str


def cases() -> list[Case]:
    with (ROOT / "fixtures" / "cases.csv").open(encoding="utf-8", newline="") as rows:
        return [
            Case(r["id"], r["title"], tuple(r["tests"].split()), r["not_held"]) for r in csv.DictReader(rows)
        ]


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def asserted_in(path: Path) -> Iterator[ast.FunctionDef]:
    for node in parsed(path).body:
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
            yield node


def named_in(path: Path) -> set[str]:
    """Cases that the file's own words, its tests' words or their names speak of."""
    tests = list(asserted_in(path))
    own = ast.get_docstring(parsed(path)) or ""
    words = " ".join([own, *(ast.get_docstring(node) or "" for node in tests)])
    names = {found.upper() for node in tests for found in IN_A_NAME.findall(node.name)}
    between = {f"E{n:02d}" for first, last in RANGE.findall(words) for n in range(int(first), int(last) + 1)}
    return set(IN_WORDS.findall(words)) | names | between


def test_every_case_from_e01_to_e96_is_there_once_and_in_order() -> None:
    assert [case.identifier for case in cases()] == [f"E{n:02d}" for n in range(1, 97)]
    titles = [case.title for case in cases()]
    assert all(titles)
    assert len(set(titles)) == len(titles)


def test_every_case_has_one_to_three_tests_or_says_why_it_has_none() -> None:
    for case in cases():
        assert len(case.tests) == len(set(case.tests)) <= 3, case
        enough = len(case.not_held.split()) >= FEWEST_WORDS_OF_A_REASON
        assert case.tests or enough, case
        assert not case.not_held or enough, case


def test_every_test_a_case_names_exists() -> None:
    for case in cases():
        for test in case.tests:
            path, _, name = test.partition("::")
            assert (ROOT / path).is_file(), test
            assert name in {node.name for node in asserted_in(ROOT / path)}, test


def test_every_case_a_test_speaks_of_is_in_the_table() -> None:
    known = {case.identifier for case in cases()}
    spoken = {path: named_in(path) for path in sorted((ROOT / "tests").rglob("test_*.py"))}
    assert {path.name: names - known for path, names in spoken.items() if names - known} == {}
    assert set().union(*spoken.values()) >= {"E04", "E15", "E58", "E96"}  # names, words and ranges are read
