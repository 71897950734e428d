"""What happened while laying, as one cell says it: `needle 2026-11-25T15:00:00+00:00: near the handle`."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from shopwarranty.trade.words import LAYING_EVENTS

from .cells import CellRefused, moment, written
from .columns import keys_of
from .records import Entry

KINDS: Final = keys_of(LAYING_EVENTS)
LONGEST_NOTE: Final = 160


@dataclass(frozen=True, slots=True)
class LayingEvents:
    zone: ZoneInfo

    def resolve(self, events: Iterable[Entry]) -> tuple[Entry, ...] | None:
        """The same with moments in UTC; None when one of them is no such event."""
        try:
            return tuple(self._resolve(event) for event in events)
        except CellRefused:
            return None

    def _resolve(self, event: Entry) -> Entry:
        kind, _space, at = event.head.partition(" ")
        if kind not in KINDS or len(event.note) > LONGEST_NOTE:
            raise CellRefused(kind)
        return event_entry(kind, moment(at.strip(), self.zone) if at.strip() else None, event.note)

    @staticmethod
    def refusal() -> tuple[str, str]:
        """Problem and remedy."""
        words = {"words": ", ".join(KINDS)}
        return _("There is no such event."), _("Write kind moment: note; a kind is one of %(words)s.") % words


def event_entry(kind: str, at: datetime | None, note: str) -> Entry:
    return Entry(f"{kind} {written(at)}".strip(), note)


def event_parts(entry: Entry) -> tuple[str, datetime | None]:
    """Kind and moment of a resolved entry."""
    kind, _space, at = entry.head.partition(" ")
    return kind, datetime.fromisoformat(at) if at else None
