"""Wall-clock times of a shop and the moments they stand for, across clock changes.

A booking is meant as wall time plus zone; UTC is worked out from them, so that a later change of a zone's
rules moves the UTC and not the appointment. Times that happen twice or not at all are refused.
"""

from datetime import UTC, datetime, timedelta, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from shopwarranty.warranty.sentence import Sentence, gettext_noop, say


class WallTimeProblem(ValueError):
    """A wall time that cannot be booked; `sentence` says why."""

    def __init__(self, sentence: Sentence) -> None:
        super().__init__(str(sentence))
        self.sentence = sentence


class TimeHappensTwice(WallTimeProblem):
    """The clock is set back over this time."""


class TimeDoesNotExist(WallTimeProblem):
    """The clock is set forward over this time."""


class ZoneUnknown(WallTimeProblem):
    """No such zone in the tz database."""


def zone_named(name: str) -> ZoneInfo:
    """The zone of the tz database with that name; ZoneUnknown otherwise."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as problem:
        raise ZoneUnknown(say(gettext_noop("There is no time zone “%(zone)s”."), zone=name)) from problem


def moment_of(local: datetime, zone: tzinfo) -> datetime:
    """The UTC moment of a naive wall time; TimeHappensTwice or TimeDoesNotExist on a clock change."""
    early, late = _both(local, zone)
    if early == late:
        return early
    if early < late:
        message = gettext_noop("The clocks go back: %(time)s happens twice that day. Choose another time.")
        raise TimeHappensTwice(say(message, time=f"{local:%H:%M}"))
    message = gettext_noop("The clocks go forward: %(time)s does not exist that day. Choose another time.")
    raise TimeDoesNotExist(say(message, time=f"{local:%H:%M}"))


def is_plain(local: datetime, zone: tzinfo) -> bool:
    """True when the wall time happens exactly once."""
    early, late = _both(local, zone)
    return early == late


def moment_by_rfc5545(local: datetime, zone: tzinfo) -> datetime:
    """The UTC moment as RFC 5545 section 3.3.5 reads it.

    A time that happens twice means the first; one that does not exist is read with the offset before the gap.
    """
    return _both(local, zone)[0]


def wall_time_of(moment: datetime, zone: tzinfo) -> datetime:
    """The naive wall time of an aware moment."""
    if moment.tzinfo is None:
        raise ValueError("moment must be aware: it has no offset")
    return moment.astimezone(zone).replace(tzinfo=None, fold=0)


def days_later(local: datetime, days: int) -> datetime:
    """The same wall time that many days later: the UTC distance is not 24 hours a day over a clock change."""
    return local + timedelta(days=days)


def _both(local: datetime, zone: tzinfo) -> tuple[datetime, datetime]:
    """UTC with the offset before and after a change: equal on ordinary times, reversed inside a gap."""
    if local.tzinfo is not None:
        raise ValueError("a wall time is naive: it has no offset of its own")
    aware = local.replace(tzinfo=zone, fold=0)
    return aware.astimezone(UTC), aware.replace(fold=1).astimezone(UTC)
