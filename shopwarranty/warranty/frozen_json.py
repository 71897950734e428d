"""Frozen dataclasses as JSON and back, with one canonical form whose hash proves that nothing changed."""

import hashlib
import json
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from types import UnionType
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

T = TypeVar("T")


def as_json(value: Any) -> Any:
    """Dataclasses become objects, tuples lists, days and moments ISO 8601 text."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: as_json(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple | list):
        return [as_json(each) for each in value]
    return value.isoformat() if isinstance(value, date) else value


def from_json(kind: type[T], value: Any) -> T:
    """What `as_json` wrote. Fields an older writer did not know get their default."""
    hints = get_type_hints(kind)
    known = {field.name: value[field.name] for field in fields(kind) if field.name in value}  # type: ignore[arg-type]
    return kind(**{name: _read(hints[name], each) for name, each in known.items()})


def canonical(value: Any) -> bytes:
    """The one way to write JSON that is hashed: sorted keys, no spaces, UTF-8."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def hash_of(value: Any) -> str:
    """SHA-256 over the canonical form of JSON, in hex."""
    return hashlib.sha256(canonical(value)).hexdigest()


def _read(hint: Any, value: Any) -> Any:
    if get_origin(hint) is UnionType:
        inner = next(each for each in get_args(hint) if each is not type(None))
        return None if value is None else _read(inner, value)
    if get_origin(hint) is tuple:
        return tuple(_read(get_args(hint)[0], each) for each in value)
    if isinstance(hint, type) and is_dataclass(hint):
        return from_json(hint, value)
    if hint in (date, datetime):
        return hint.fromisoformat(value)
    return value
