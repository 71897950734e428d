"""SECURITY.md speaks of every requirement, names tests that exist, and calls nothing met without saying how.

Numbers and levels: OWASP Application Security Verification Standard 5.0.0, requirements of level 1 and 2.
"""

import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
ASKED = """
1.1: 1-2    1.2: 1-9   1.3: 1-11  1.4: 1-3  1.5: 1-2
2.1: 1-3    2.2: 1-3   2.3: 1-4   2.4: 1
3.2: 1-2    3.3: 1-4   3.4: 1-6   3.5: 1-5  3.7: 1-2
4.1: 1-3    4.2: 1     4.3: 1-2   4.4: 1-4
5.1: 1      5.2: 1-3   5.3: 1-2   5.4: 1-3
6.1: 1-3    6.2: 1-12  6.3: 1-4   6.4: 1-4  6.5: 1-5  6.6: 1-3  6.8: 1-4
7.1: 1-3    7.2: 1-4   7.3: 1-2   7.4: 1-5  7.5: 1-2  7.6: 1-2
8.1: 1-2    8.2: 1-3   8.3: 1     8.4: 1
9.1: 1-3    9.2: 1-4
11.1: 1-2   11.2: 1-3  11.3: 1-3  11.4: 1-4 11.5: 1   11.6: 1
12.1: 1-3   12.2: 1-2  12.3: 1-4
13.1: 1     13.2: 1-5  13.3: 1-2  13.4: 1-5
14.1: 1-2   14.2: 1-4  14.3: 1-3
15.1: 1-3   15.2: 1-3  15.3: 1-7
16.1: 1     16.2: 1-5  16.3: 1-4  16.4: 1-3 16.5: 1-3
"""
TEXT = (ROOT / "SECURITY.md").read_text()
ROWS = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in TEXT.splitlines()
    if re.match(r"\| \d+\.\d+\.\d+ \|", line)
]


def asked() -> list[str]:
    return [
        f"{section}.{number}"
        for section, first, last in re.findall(r"(\d+\.\d+): (\d+)(?:-(\d+))?", ASKED)
        for number in range(int(first), int(last or first) + 1)
    ]


def test_every_requirement_of_level_1_and_2_is_there_once_and_in_order() -> None:
    assert [row[0] for row in ROWS] == asked()
    assert all(len(row) == 5 for row in ROWS)


def test_every_test_that_is_named_exists() -> None:
    named = set(re.findall(r"`(tests/[\w/]+(?:\.py)?)`", TEXT))
    assert len(named) > 30
    assert [name for name in sorted(named) if not (ROOT / name).exists()] == []


def test_nothing_is_met_without_saying_how_and_nothing_open_without_a_gap() -> None:
    assert [row[0] for row in ROWS if not row[2] and not row[4]] == []
