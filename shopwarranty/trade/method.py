"""A shop method's values, and what they mean for one panel or one place.

A method is a JSON-able mapping with any of these parts, each a mapping of technique field to value:

    {"job": {...}, "panel": {...}, "edge": {...}, "recess": {...}, "seam": {...}, "field": {...},
     "panels": {"front-door": {"panel": {...}, "edge": {...}, "places": {"handle": {...}}}}}

Under "panels" the key is a panel's, or its kind for both sides at once. What is nearer wins: the method's
value for the kind of place, then the panel kind's, then the panel's, and within each of these the single
place's. A value of None takes back what a wider part said. Nothing here knows a job; a field that does not
appear is one the method does not say.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from shopwarranty.trade.catalogue import kind_of
from shopwarranty.trade.panels import PlaceKind
from shopwarranty.trade.technique import (
    FIELDS,
    Level,
    TechniqueField,
    Value,
    ValueRefused,
    accept,
)

MethodValues = Mapping[str, object]

PARTS: dict[str, Level] = {
    "job": Level.JOB,
    "panel": Level.PANEL,
    **{str(kind): Level.PLACE for kind in PlaceKind},
}


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a method, and where: `path` such as "panels.front-door.edge.passes"."""

    path: str
    reason: str

    def __str__(self) -> str:
        return f"{self.path}: {self.reason}"


@dataclass(frozen=True, slots=True)
class Difference:
    """A value that is not the method's. None on either side: not said."""

    key: str
    usual: Value
    done: Value


def faults(values: MethodValues, shop_fields: Iterable[TechniqueField] = ()) -> tuple[Fault, ...]:
    """Everything wrong with a method's values, in the order written; empty when it can be used."""
    known = {field.key: field for field in (*FIELDS, *shop_fields)}
    found: list[Fault] = []
    for part, content in values.items():
        found += _panels_faults(content, known) if part == "panels" else _part_faults(part, content, known)
    return tuple(found)


def job_values(values: MethodValues) -> dict[str, Value]:
    return _merged([_mapping(values.get("job"))])


def panel_values(values: MethodValues, panel_key: str) -> dict[str, Value]:
    """What the method says for this panel, field by field."""
    return _merged(_mapping(layer.get("panel")) for layer in _layers(values, panel_key))


def place_values(
    values: MethodValues, panel_key: str, place_key: str, place_kind: PlaceKind | str
) -> dict[str, Value]:
    """What the method says for this place, field by field."""

    def nearer() -> Iterator[Mapping[str, object]]:
        for layer in _layers(values, panel_key):
            yield _mapping(layer.get(str(place_kind)))
            yield _mapping(_mapping(layer.get("places")).get(place_key))

    return _merged(nearer())


def differences(usual: Mapping[str, Value], done: Mapping[str, Value]) -> tuple[Difference, ...]:
    """Fields recorded with another value than usual. A field not recorded is not a difference."""
    return tuple(
        Difference(key, usual.get(key), value)
        for key, value in done.items()
        if value is not None and value != usual.get(key)
    )


def _layers(values: MethodValues, panel_key: str) -> tuple[Mapping[str, object], ...]:
    """From the widest to the nearest: the method, the panel's kind, the panel."""
    named = _mapping(values.get("panels"))
    kind = kind_of(panel_key)
    own = () if kind == panel_key else (_mapping(named.get(panel_key)),)
    return (values, _mapping(named.get(kind)), *own)


def _merged(layers: Iterable[Mapping[str, object]]) -> dict[str, Value]:
    merged: dict[str, Value] = {}
    for layer in layers:
        for key, value in layer.items():
            merged[key] = value if isinstance(value, bool | int | float | str) else None
    return {key: value for key, value in merged.items() if value is not None}


def _mapping(content: object) -> Mapping[str, object]:
    return content if isinstance(content, Mapping) else {}


def _part_faults(path: str, content: object, known: Mapping[str, TechniqueField]) -> list[Fault]:
    part = path.rpartition(".")[2]
    if part not in PARTS:
        return [Fault(path, "not a part of a method")]
    if not isinstance(content, Mapping):
        return [Fault(path, "fields with values are wanted")]
    return [fault for key, value in content.items() for fault in _field_faults(path, part, key, value, known)]


def _field_faults(
    path: str, part: str, key: str, value: object, known: Mapping[str, TechniqueField]
) -> list[Fault]:
    here, field = f"{path}.{key}", known.get(key)
    if field is None:
        return [Fault(here, "no such technique field")]
    if field.level is not PARTS[part]:
        return [Fault(here, f"belongs to the {field.level}, not here")]
    if field.level is Level.PLACE and part not in {str(kind) for kind in field.places}:
        return [Fault(here, f"does not apply to a {part}")]
    return _value_faults(here, field, value)


def _value_faults(path: str, field: TechniqueField, value: object) -> list[Fault]:
    try:
        accept(field, value)
    except ValueRefused as refused:
        return [Fault(path, refused.reason)]
    return []


def _panels_faults(content: object, known: Mapping[str, TechniqueField]) -> list[Fault]:
    if not isinstance(content, Mapping):
        return [Fault("panels", "panels with their values are wanted")]
    found: list[Fault] = []
    for panel_key, parts in content.items():
        path = f"panels.{panel_key}"
        if not isinstance(parts, Mapping):
            found.append(Fault(path, "parts with values are wanted"))
            continue
        for part, inner in parts.items():
            found += _panel_part_faults(f"{path}.{part}", part, inner, known)
    return found


def _panel_part_faults(
    path: str, part: str, content: object, known: Mapping[str, TechniqueField]
) -> list[Fault]:
    if part == "job":
        return [Fault(path, "belongs to the job, not to one panel")]
    if part != "places":
        return _part_faults(path, content, known)
    if not isinstance(content, Mapping):
        return [Fault(path, "places with their values are wanted")]
    return [
        fault for key, fields in content.items() for fault in _place_faults(f"{path}.{key}", fields, known)
    ]


def _place_faults(path: str, content: object, known: Mapping[str, TechniqueField]) -> list[Fault]:
    """One named place: any place field will do, since the kind of place is not known here."""
    if not isinstance(content, Mapping):
        return [Fault(path, "fields with values are wanted")]
    found: list[Fault] = []
    for key, value in content.items():
        field = known.get(key)
        if field is None or field.level is not Level.PLACE:
            found.append(Fault(f"{path}.{key}", "no such technique field of a place"))
        else:
            found += _value_faults(f"{path}.{key}", field, value)
    return found
