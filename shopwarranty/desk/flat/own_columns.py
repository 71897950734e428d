"""Headers of fields that a shop defined: `field:key`, or everything that a shop without it needs to know.

`field:key:level:kind:unit:name` (level job, panel or place; kind yes_no, choice or number; unit and name may
be left out), and `field:key:basis` for how its values are known.
"""

from dataclasses import dataclass
from typing import Final

PREFIX: Final = "field:"
LEVELS: Final = ("job", "panel", "place")
KINDS: Final = ("yes_no", "choice", "number")


@dataclass(frozen=True, slots=True)
class OwnColumn:
    """`level` and `kind` are "" in the short form: the shop knows them."""

    key: str
    level: str = ""
    kind: str = ""
    unit: str = ""
    name: str = ""
    is_basis: bool = False


def own_column(header: str) -> OwnColumn | None:
    """None when the header names no field."""
    key, *more = header.removeprefix(PREFIX).split(":", 4)
    key = key.strip()
    if not key or len(key) > 40:
        return None
    if more == ["basis"]:
        return OwnColumn(key, is_basis=True)
    if not more:
        return OwnColumn(key)
    level, kind, unit, name = (*more, "", "", "")[:4]
    if level not in LEVELS or kind not in KINDS or len(unit) > 12 or len(name) > 80:
        return None
    return OwnColumn(key, level, kind, unit.strip(), name.strip())


def own_header(column: OwnColumn) -> str:
    parts = [column.key, column.level, column.kind, column.unit, column.name]
    return PREFIX + ":".join(parts).rstrip(":")


def basis_header(key: str) -> str:
    return f"{PREFIX}{key}:basis"
