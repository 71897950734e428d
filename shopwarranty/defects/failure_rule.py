"""What a look that found something says about the work. Pure: no framework, no clock.

A finding is a failure of the work when its kind counts for that kind of place and film family and its
severity reaches the shop's line. Below the line, or of a kind that does not count there, the place was looked
at and has not failed. A cause judged afterwards changes nothing here: only kinds that are damage by name are
told apart.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from shopwarranty.trade import defects as kinds
from shopwarranty.trade.defects import DEFAULT_LINE, Outcome
from shopwarranty.trade.words import FilmFamily


class Seen(StrEnum):
    """What one look says about the work at one place."""

    NOTHING = "nothing"  # not looked at, or what was said could not be found again
    HELD = "held"
    DAMAGED = "damaged"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class Sight:
    """One defect at one look. `void`: somebody looked again and could not find it."""

    defect: int
    kind: str
    severity: int
    void: bool = False


@dataclass(frozen=True, slots=True)
class OwnKind:
    """A kind the shop added. Empty `families` or `places`: all of them."""

    key: str
    is_failure: bool = True
    families: frozenset[str] = frozenset()
    places: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Rule:
    """When a finding is a failure of the work: the shop's line (1 to 4) and the kinds it added."""

    line: int = DEFAULT_LINE
    own: Mapping[str, OwnKind] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Where:
    """The place a rule is asked about. `family` empty: the film was not recorded."""

    kind: str
    family: str = ""
    left_short: bool = False


def outcome(kind: str, severity: int, where: Where, rule: Rule) -> Outcome:
    """What one defect says about the work. Raises trade's UnknownDefectKind for a key nobody knows."""
    own = rule.own.get(kind)
    if own is None:
        return _by_catalogue(kind, severity, where, rule.line)
    of_family = not own.families or where.family in own.families
    of_place = not own.places or where.kind in own.places
    if not (own.is_failure and of_family and of_place):
        return Outcome.NOTED
    return Outcome.FAILURE if severity >= rule.line else Outcome.WATCH


def judge(sights: Iterable[Sight], where: Where, rule: Rule) -> tuple[Seen, int | None]:
    """What a look that found something says, and the defect that decided it.

    A failure outweighs damage, damage what is only watched. When everything is void, the look says nothing.
    """
    standing = [sight for sight in sights if not sight.void]
    if not standing:
        return Seen.NOTHING, None
    judged = [(outcome(sight.kind, sight.severity, where, rule), sight) for sight in standing]
    for wanted, seen in ((Outcome.FAILURE, Seen.FAILED), (Outcome.OUTSIDE, Seen.DAMAGED)):
        found = [sight for said, sight in judged if said is wanted]
        if found:
            return seen, max(found, key=lambda sight: (sight.severity, -sight.defect)).defect
    return Seen.HELD, None


def _by_catalogue(kind: str, severity: int, where: Where, line: int) -> Outcome:
    """A film nobody recorded counts a kind only where every family does."""
    families = [where.family] if where.family else list(FilmFamily)
    said = {
        kinds.outcome(kind, where.kind, family, severity, line=line, left_short=where.left_short)
        for family in families
    }
    return said.pop() if len(said) == 1 else Outcome.NOTED
