"""How long a promise runs: calendar terms, the last covered day, and whether a report came in time.

A term is added to the original start in whole calendar years and months; a day the month does not have
becomes its last day (the "corresponding date" way of counting, as in Regulation (EEC, Euratom) 1182/71
Art. 3(2)(c)); days are added last. The day so found is the last covered day, to its end in the shop's zone.
Nothing here ends anybody's rights: rights under law may run longer than any printed term.
"""

import re
from calendar import monthrange
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from enum import StrEnum
from typing import Final

from shopwarranty.warranty.sentence import Sentence, gettext_noop, say

_MOST_YEARS: Final = 200
_ISO: Final = re.compile(r"P(?:(\d{1,4})Y)?(?:(\d{1,4})M)?(?:(\d{1,4})W)?(?:(\d{1,5})D)?")
_UNITS: Final = (
    r"years?|yrs?|y|jahre?n?|años?|months?|monate?n?|mes(?:es)?|mo|m"
    r"|weeks?|wks?|w|wochen?|semanas?|days?|d|tage?n?|días?|dias?"
)
_PART: Final = re.compile(rf"(\d{{1,5}})\s*({_UNITS})\b")
_JOINED: Final = re.compile(r"\b(?:and|und)\b|(?:(?<=[a-z]s )|(?<=año ))y\b|[,+]")
_INITIALS: Final = {"y": "y", "j": "y", "a": "y", "m": "m", "w": "w", "s": "w", "d": "d", "t": "d"}

PluralOf = Callable[[str, str, int], str]
"""The shape of ngettext: singular, plural, count -> the template to fill with %(count)d."""


class TermProblem(ValueError):
    """A term that cannot be used; `sentence` says why."""

    def __init__(self, sentence: Sentence) -> None:
        super().__init__(str(sentence))
        self.sentence = sentence


@dataclass(frozen=True, slots=True)
class Term:
    """A length in calendar years, months and days. Never empty, never negative, at most 200 years."""

    years: int = 0
    months: int = 0
    days: int = 0

    def __post_init__(self) -> None:
        if min(self.years, self.months, self.days) < 0:
            raise TermProblem(say(gettext_noop("A term cannot be negative.")))
        if self.years == self.months == self.days == 0:
            raise TermProblem(say(gettext_noop("A term needs years, months or days.")))
        if self.years + self.months / 12 + self.days / 365 > _MOST_YEARS:
            raise TermProblem(say(gettext_noop("A term can be at most 200 years.")))

    @property
    def iso(self) -> str:
        """ISO 8601 duration, for example P5Y6M."""
        parts = ((self.years, "Y"), (self.months, "M"), (self.days, "D"))
        return "P" + "".join(f"{count}{unit}" for count, unit in parts if count)

    def words(self, plural: PluralOf | None = None) -> str:
        """The term as read, for example "5 years 6 months"; pass ngettext for another language."""
        ngettext = plural or in_english
        parts = (
            (ngettext("%(count)d year", "%(count)d years", self.years), self.years),
            (ngettext("%(count)d month", "%(count)d months", self.months), self.months),
            (ngettext("%(count)d day", "%(count)d days", self.days), self.days),
        )
        return " ".join(template % {"count": count} for template, count in parts if count)

    def __str__(self) -> str:
        return self.words()


def in_english(singular: str, plural: str, count: int) -> str:
    """Stands in for gettext's ngettext, whose name above is the one the catalogues look for."""
    return singular if count == 1 else plural


def parse_term(typed: str) -> Term:
    """Read "5 years", "2 y 6 m", "5 Jahre", "14 días" or ISO 8601 ("P5Y6M"); else TermProblem."""
    text = typed.strip()
    iso = _ISO.fullmatch(text.upper())
    if iso and any(iso.groups()):
        years, months, weeks, days = (int(part or 0) for part in iso.groups())
        return Term(years, months, weeks * 7 + days)
    return _term_from_words(_JOINED.sub(" ", text.lower()))


def _term_from_words(text: str) -> Term:
    parts = {_INITIALS[unit[0]]: int(count) for count, unit in _PART.findall(text)}
    rest = _PART.sub("", text).strip()
    if not parts or rest or len(_PART.findall(text)) != len(parts):
        raise TermProblem(say(gettext_noop("Write a term as 5 years, 18 months or 14 days.")))
    return Term(parts.get("y", 0), parts.get("m", 0), parts.get("w", 0) * 7 + parts.get("d", 0))


def add_term(start: date, term: Term, *, inclusive: bool = True) -> date:
    """The last covered day of a cover that starts on `start`; `inclusive=False` ends it a day sooner.

    Years and months are added to the original start and clamped to the month's end, then days.
    Raises TermProblem when the end lies after the year 9999.
    """
    if isinstance(start, datetime):
        raise TypeError("start must be a date in the shop's zone, not a datetime")
    try:
        end = _same_day_later(start, term.years * 12 + term.months) + timedelta(days=term.days)
    except (OverflowError, ValueError) as problem:
        raise TermProblem(
            say(gettext_noop("This term ends after the last day a calendar can hold."))
        ) from problem
    return end if inclusive else end - timedelta(days=1)


def _same_day_later(start: date, months: int) -> date:
    year, month = divmod(start.year * 12 + start.month - 1 + months, 12)
    return date(year, month + 1, min(start.day, monthrange(year, month + 1)[1]))


def local_date(moment: datetime, zone: tzinfo) -> date:
    """The calendar day of an aware `moment` in the shop's `zone`; ValueError for a naive one."""
    if moment.tzinfo is None or moment.utcoffset() is None:
        raise ValueError("moment must be aware: it has no offset")
    return moment.astimezone(zone).date()


def in_cover(last_day: date, reported_at: datetime, zone: tzinfo, *, first_day: date | None = None) -> bool:
    """Whether a report (its first, aware) came by the end of `last_day` in the shop's zone.

    With `first_day`, a report before the cover began is outside as well. The answer is about the printed
    term only; goodwill and rights under law are a person's decision.
    """
    reported_on = local_date(reported_at, zone)
    return reported_on <= last_day and (first_day is None or first_day <= reported_on)


class PrintedTerm(StrEnum):
    """Where a certificate stands by its printed dates: derived, never stored; rights under law may go on."""

    NOT_STARTED = "not_started"
    RUNNING = "running"
    PARTLY_ENDED = "partly_ended"
    ENDED = "ended"
    NOT_RECORDED = "not_recorded"


@dataclass(frozen=True, slots=True)
class CoverDates:
    """First and last covered day of one promise; a last day that nobody recorded is None, never "ended"."""

    first_day: date
    last_day: date | None

    def state(self, today: date) -> PrintedTerm:
        if today < self.first_day:
            return PrintedTerm.NOT_STARTED
        if self.last_day is None:
            return PrintedTerm.NOT_RECORDED
        return PrintedTerm.RUNNING if today <= self.last_day else PrintedTerm.ENDED


def printed_term_state(lines: Iterable[CoverDates], today: date) -> PrintedTerm:
    """The state of a whole certificate on the shop's `today`: ENDED only when every line has ended."""
    states = {line.state(today) for line in lines}
    if not states:
        raise ValueError("a certificate has at least one cover line")
    if len(states) == 1:
        return states.pop()
    if PrintedTerm.ENDED in states and PrintedTerm.RUNNING in states:
        return PrintedTerm.PARTLY_ENDED
    for state in (PrintedTerm.RUNNING, PrintedTerm.NOT_RECORDED):
        if state in states:
            return state
    return PrintedTerm.PARTLY_ENDED


class ReplacementCover(StrEnum):
    """How long cover runs for film laid anew under warranty. The original end is the usual policy."""

    ORIGINAL_END = "original_end"
    NEW_TERM = "new_term"


def cover_after_replacement(
    original: CoverDates,
    *,
    laid_on: date,
    term: Term,
    policy: ReplacementCover = ReplacementCover.ORIGINAL_END,
    inclusive: bool = True,
) -> CoverDates:
    """Dates of the new film piece: the original end, or a new `term` from `laid_on`; never an earlier end."""
    if policy is ReplacementCover.ORIGINAL_END or original.last_day is None:
        return CoverDates(laid_on, original.last_day)
    return CoverDates(laid_on, max(original.last_day, add_term(laid_on, term, inclusive=inclusive)))


def legal_guarantee_last_day(
    delivered_on: date, *, concluded_on: date, repaired: bool, term: Term | None = None
) -> date:
    """The EU legal guarantee's last day: 2 years from delivery, 12 months more once after a repair.

    Sources: Dir. (EU) 2019/771 Art. 10(1); Dir. (EU) 2024/1799 for contracts concluded from 31 July 2026
    (restated; member states may give more: pass their `term`).
    """
    months = 12 if repaired and concluded_on >= date(2026, 7, 31) else 0
    base = term or Term(years=2)
    return add_term(delivered_on, Term(base.years, base.months + months, base.days))
