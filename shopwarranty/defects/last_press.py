"""What the last press on a panel changed, kept in the session of whoever pressed: it can be taken back."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from .actions import PlaceStood

KEY: Final = "panel_press"
Stands = Mapping[int, PlaceStood]


@dataclass(frozen=True, slots=True)
class LastPress:
    before: Stands
    after: Stands


def remember(session: Any, visit: int, panel: int, press: LastPress) -> None:
    stood = {"before": _rows(press.before), "after": _rows(press.after)}
    session[KEY] = {"visit": visit, "panel": panel, **stood}


def recall(session: Any, visit: int, panel: int) -> LastPress | None:
    """The press on this very panel, once: taken back twice it would be another press."""
    kept = session.get(KEY)
    if not kept or (kept["visit"], kept["panel"]) != (visit, panel):
        return None
    del session[KEY]
    return LastPress(_stands(kept["before"]), _stands(kept["after"]))


def _rows(stands: Stands) -> dict[str, Any]:
    return {str(place): one.as_row() for place, one in stands.items()}


def _stands(rows: Mapping[str, Any]) -> Stands:
    return {int(place): PlaceStood.of_row(row) for place, row in rows.items()}
