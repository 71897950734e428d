"""What RFC 5545 asks of single lines and zones where the icalendar library does something else.

The library builds components and parameters. Here: TEXT that keeps what a person typed (the library turns a
typed backslash and N into a line break), folding at exactly 75 octets, alarms in exact hours (it writes 24
hours as the nominal P1D), and zones whose onsets stand in the wall time before the change (section 3.6.5).
"""

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from typing import Final
from zoneinfo import ZoneInfo

from icalendar import Calendar, Timezone, TimezoneDaylight, TimezoneStandard, vDatetime, vText

_OCTETS: Final = 75
_CONTROLS: Final = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff]")


class PlainText(vText):
    """A TEXT value (RFC 5545 section 3.3.11): backslash first, then semicolon, comma and line break."""

    __slots__ = ()

    def to_ical(self) -> bytes:
        escaped = str(self).replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
        return escaped.replace("\n", "\\n").encode()


class Literal(vText):
    """A value that is not TEXT (URI, DURATION, already formed) and is written as it stands."""

    __slots__ = ()

    def to_ical(self) -> bytes:
        return str(self).encode()


def text(words: str) -> PlainText:
    """`words` as a TEXT value: line ends made one, control characters left out."""
    lines = re.sub("\r\n|\u2028|\u2029", "\n", words)
    return PlainText(_CONTROLS.sub("", lines))


def one_line(words: str) -> str:
    """`words` for a parameter value (section 3.1): one line, no control characters, no double quote."""
    return re.sub(r"\s+", " ", _CONTROLS.sub("", words.replace('"', "'"))).strip()


def exact_hours(length: timedelta, *, before: bool = False) -> Literal:
    """A DURATION in hours and minutes (section 3.3.6: exact), as PT24H; `before` puts a minus first."""
    minutes = int(length.total_seconds() // 60)
    if minutes <= 0:
        raise ValueError("a duration is at least a minute long")
    hours, rest = divmod(minutes, 60)
    return Literal(f"{'-' if before else ''}PT{f'{hours}H' if hours else ''}{f'{rest}M' if rest else ''}")


def fold(line: str) -> str:
    """One content line folded (section 3.1): at most 75 octets, no character split, CRLF and a space."""
    parts, current, octets = [], "", 0
    for character in line:
        size = len(character.encode())
        if octets + size > _OCTETS:
            parts.append(current)
            current, octets = "", 1
        current += character
        octets += size
    return "\r\n ".join([*parts, current])


def written(calendar: Calendar) -> bytes:
    """The calendar as bytes: folded lines, each ended by CRLF, UTF-8."""
    lines = (str(line) for line in calendar.content_lines(sorted=False) if line)
    return "".join(f"{fold(line)}\r\n" for line in lines).encode()


@lru_cache(maxsize=64)
def zone_component(name: str, first: date, last: date) -> Timezone:
    """A VTIMEZONE right for every moment between the two days.

    Its onsets are the changes the tz database knows from the year before `first` to the year after `last`.
    """
    zone = ZoneInfo(name)
    begin, end = datetime(first.year - 1, 1, 1, tzinfo=UTC), datetime(last.year + 2, 1, 1, tzinfo=UTC)
    component = Timezone()
    component.add("TZID", Literal(name))
    changes = list(_changes(zone, begin, end))
    if not changes or changes[0].date() > first:
        component.add_component(_observance(zone, begin, begin))
    for change in changes:
        component.add_component(_observance(zone, change - timedelta(seconds=1), change))
    return component


def _observance(zone: ZoneInfo, before: datetime, onset: datetime) -> TimezoneStandard | TimezoneDaylight:
    """One STANDARD or DAYLIGHT; its DTSTART is the onset in the wall time before the change."""
    old, new = before.astimezone(zone), onset.astimezone(zone)
    part = TimezoneDaylight() if new.dst() else TimezoneStandard()
    wall = onset + (old.utcoffset() or timedelta(0))
    part.add("DTSTART", vDatetime(wall.replace(tzinfo=None)))
    part.add("TZOFFSETFROM", old.utcoffset())
    part.add("TZOFFSETTO", new.utcoffset())
    part.add("TZNAME", text(new.tzname() or ""))
    return part


def _changes(zone: ZoneInfo, begin: datetime, end: datetime) -> Iterator[datetime]:
    """The moments (UTC, to the second) at which the offset changes, found day by day."""
    day = begin
    while day < end:
        following = day + timedelta(days=1)
        if day.astimezone(zone).utcoffset() != following.astimezone(zone).utcoffset():
            yield _change_between(zone, day, following)
        day = following


def _change_between(zone: ZoneInfo, before: datetime, after: datetime) -> datetime:
    old = before.astimezone(zone).utcoffset()
    while after - before > timedelta(seconds=1):
        middle = before + timedelta(seconds=int((after - before).total_seconds()) // 2)
        if middle.astimezone(zone).utcoffset() == old:
            before = middle
        else:
            after = middle
    return after
