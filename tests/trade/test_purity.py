"""The room knows no framework, no clock, no chance and nothing of ours but itself."""

import ast
from pathlib import Path

import pytest

import shopwarranty.trade

ROOM = Path(shopwarranty.trade.__file__).parent
ALLOWED = {
    "__future__",
    "collections",
    "dataclasses",
    "enum",
    "fractions",
    "functools",
    "itertools",
    "math",
    "re",
    "unicodedata",
}


def imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        if isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
    return names


@pytest.mark.parametrize("path", sorted(ROOM.glob("*.py")), ids=lambda p: p.stem)
def test_a_module_imports_plain_tools_and_the_room_only(path: Path) -> None:
    foreign = {
        name
        for name in imported(path)
        if name.partition(".")[0] not in ALLOWED and not name.startswith("shopwarranty.trade")
    }
    assert foreign == set()
