"""Defect kinds in plain words, and when a finding counts as a failure of the work.

What each kind is, how it is graded and what usually causes it: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from shopwarranty.trade.panels import PlaceKind
from shopwarranty.trade.words import FilmFamily


class Measure(StrEnum):
    """What a defect's extent is given in: mm for lengths, mm2 for area, 1 to 4 for shade."""

    LENGTH = "length"
    DEPTH = "depth"
    AREA = "area"
    COUNT = "count"
    DIAMETER = "diameter"
    SHADE = "shade"
    PRESENT = "present"


MEASURE_UNITS: dict[Measure, str] = {
    Measure.LENGTH: "mm",
    Measure.DEPTH: "mm",
    Measure.AREA: "mm2",
    Measure.COUNT: "",
    Measure.DIAMETER: "mm",
    Measure.SHADE: "",
    Measure.PRESENT: "",
}


class Counts(StrEnum):
    """What a kind says when it reaches the shop's line."""

    FAILURE = "failure"
    OUTSIDE = "outside"  # impact or the user: ends a life without being a failure
    NOTED = "noted"  # recorded, says nothing about the work


class Outcome(StrEnum):
    FAILURE = "failure"
    WATCH = "watch"
    OUTSIDE = "outside"
    NOTED = "noted"


@dataclass(frozen=True, slots=True)
class DefectKind:
    """`places` and `families`: where it is offered and where it counts, if it counts at all.

    `causes` are keys of `words.CAUSES`, usual ones first. `least_severity`: it is never less grave than this.
    """

    key: str
    name: str
    graded_by: tuple[Measure, ...]
    places: frozenset[PlaceKind]
    causes: tuple[str, ...] = ()
    counts: Counts = Counts.FAILURE
    families: frozenset[FilmFamily] = frozenset(FilmFamily)
    least_severity: int = 1
    name_us: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "name_us", self.name_us or self.name)


@dataclass(frozen=True, slots=True)
class Severity:
    level: int
    words: str


class UnknownDefectKind(LookupError):
    """No defect kind has this key."""


SEVERITIES: tuple[Severity, ...] = (
    Severity(0, "none"),
    Severity(1, "trace, seen only close up"),
    Severity(2, "visible at about 1 m, stable"),
    Severity(3, "growing or catching dirt"),
    Severity(4, "loose, tearing, or paint at risk"),
)
DEFAULT_LINE = 2

_EDGE, _RECESS, _SEAM, _FIELD = PlaceKind.EDGE, PlaceKind.RECESS, PlaceKind.SEAM, PlaceKind.FIELD
_ENDS = frozenset({_EDGE, _SEAM})
_BED = frozenset({_FIELD, _RECESS})
_ANYWHERE = frozenset(PlaceKind)
_SURFACE = frozenset({_FIELD})
_PROTECTIVE = frozenset({FilmFamily.CLEAR_PROTECTIVE, FilmFamily.COLOURED_PROTECTIVE})
_LONG, _DEEP, _WIDE = (Measure.LENGTH,), (Measure.LENGTH, Measure.DEPTH), (Measure.AREA,)
_DOTS, _YES = (Measure.COUNT, Measure.DIAMETER), (Measure.PRESENT,)

KINDS: tuple[DefectKind, ...] = (
    DefectKind(
        "edge-lift",
        "edge lift",
        _DEEP,
        _ENDS | {_RECESS},  # an inlay in a recess has an edge too
        ("contaminated", "short_wrap_in", "tension", "not_post_heated", "early_wash"),
    ),
    DefectKind("corner-lift", "corner lift", _DEEP, _ENDS, ("tension", "contaminated", "layout")),
    DefectKind("tenting", "tenting", _DEEP, _BED | {_EDGE}, ("tension", "not_post_heated")),
    DefectKind(
        "finger", "finger", (Measure.COUNT, Measure.LENGTH), _ENDS | {_RECESS}, ("tension", "trapped")
    ),
    DefectKind("crease", "crease", _LONG, _ANYWHERE, ("handling",)),
    DefectKind("air-bubble", "air bubble", _DOTS, _ANYWHERE, ("trapped",)),
    DefectKind("moisture-pocket", "moisture pocket", _DOTS, _ANYWHERE, ("trapped",)),
    DefectKind("silvering", "silvering", _WIDE, _ANYWHERE, ("texture", "conditions")),
    DefectKind("contamination", "dust, hair or grit under the film", _DOTS, _ANYWHERE, ("dirty_air",)),
    # The line lies in the adhesive: an opaque film hides it.
    DefectKind(
        "adhesive-line",
        "adhesive line",
        _LONG,
        _BED,
        ("handling",),
        families=_PROTECTIVE,
    ),
    DefectKind("stretch-mark", "stretch mark", _WIDE, _ANYWHERE, ("tension",)),
    DefectKind("glue-shift", "adhesive moved or rippled", _WIDE, _ANYWHERE, ("handling",)),
    DefectKind("shrink-back", "shrink-back", (Measure.DEPTH, Measure.LENGTH), _ENDS, ("tension", "film_age")),
    DefectKind("seam-gap", "seam gap", _DEEP, frozenset({_SEAM}), ("short_wrap_in", "tension")),
    DefectKind("knife-mark", "knife mark", _DEEP, _ANYWHERE, ("knife_work",)),
    DefectKind("tear", "tear", _LONG, _ANYWHERE, ("knife_work", "tension")),
    DefectKind(
        "discolouration",
        "discolouration",
        (Measure.SHADE, Measure.AREA),
        _ANYWHERE,
        ("weather", "film_or_lot", "film_age"),
        name_us="discoloration",
    ),
    DefectKind("delamination", "layers of the film part", _WIDE, _ANYWHERE, ("film_or_lot", "washing")),
    DefectKind(
        "adhesive-failure",
        "adhesive lets go over an area",
        _WIDE,
        _ANYWHERE,
        ("paint", "contaminated", "conditions", "film_or_lot"),
    ),
    DefectKind("cracking", "cracking", _WIDE, _ANYWHERE, ("film_age", "weather")),
    DefectKind(
        "misalignment",
        "cut short or off centre",
        _LONG,
        _ANYWHERE,
        ("layout",),
        name_us="cut short or off center",
    ),
    DefectKind(
        "covered-feature",
        "film over a sensor, lamp or camera that must stay clear",
        _YES,
        _ANYWHERE,
        ("layout",),
        least_severity=4,
    ),
    DefectKind("other", "other", _YES, _ANYWHERE),
    DefectKind("impact-damage", "impact damage", _DOTS, _ANYWHERE, ("impact",), Counts.OUTSIDE),
    DefectKind("stone-chip", "stone chip", _DOTS, _ANYWHERE, ("impact",), Counts.OUTSIDE),
    DefectKind("scratch", "scratch or scuff", _LONG, _ANYWHERE, ("impact", "washing"), Counts.OUTSIDE),
    DefectKind("user-damage", "damaged in use or by others", _DEEP, _ANYWHERE, ("washing",), Counts.OUTSIDE),
    DefectKind("stain", "stain", _DOTS, _ANYWHERE, ("washing", "weather"), Counts.NOTED),
    DefectKind("gloss-loss", "loss of gloss", _WIDE, _SURFACE, ("washing", "weather"), Counts.NOTED),
    DefectKind("residue", "adhesive residue beside the film", _WIDE, _ANYWHERE, (), Counts.NOTED),
    DefectKind("paint-lift", "paint came off with the film", _WIDE, _ANYWHERE, ("paint",), Counts.NOTED),
    DefectKind("pre-existing", "was there before the film", _YES, _ANYWHERE, ("paint",), Counts.NOTED),
)

_BY_KEY = {kind.key: kind for kind in KINDS}


def kind(key: str) -> DefectKind:
    if key not in _BY_KEY:
        raise UnknownDefectKind(key)
    return _BY_KEY[key]


def severity_of(kind_key: str, said: int) -> int:
    """As said, but not below what the kind always is. 0 stays 0: nothing is there."""
    if not 0 <= said <= 4:
        raise ValueError(f"severity {said} is not one of 0 to 4")
    return max(said, kind(kind_key).least_severity) if said else 0


def kinds_for(place: PlaceKind | str) -> tuple[DefectKind, ...]:
    """The kinds offered first at this kind of place, the usual ones at the top."""
    return tuple(k for k in KINDS if PlaceKind(place) in k.places)


def counting_kinds(place: PlaceKind | str, family: FilmFamily | str) -> tuple[DefectKind, ...]:
    """The kinds that make a failure there: what a page with a rate has to state."""
    return tuple(k for k in KINDS if _counts(k, place, family))


def outcome(
    kind_key: str,
    place: PlaceKind | str,
    family: FilmFamily | str,
    severity: int,
    *,
    line: int = DEFAULT_LINE,
    left_short: bool = False,
) -> Outcome:
    """What a finding says. `line` is the shop's line between watching and failure, 1 to 4.

    A place left short on purpose has not failed by being short. Raises UnknownDefectKind, and ValueError for
    a severity, line, place or family that does not exist.
    """
    found, severity = kind(kind_key), severity_of(kind_key, severity)
    _check_line(line)
    if found.counts is not Counts.FAILURE:
        outside = found.counts is Counts.OUTSIDE and severity >= line
        return Outcome.OUTSIDE if outside else Outcome.NOTED
    if not _counts(found, place, family) or (left_short and kind_key == "misalignment"):
        return Outcome.NOTED
    return Outcome.FAILURE if severity >= line else Outcome.WATCH


def is_failure(
    kind_key: str,
    place: PlaceKind | str,
    family: FilmFamily | str,
    severity: int,
    line: int = DEFAULT_LINE,
    *,
    left_short: bool = False,
) -> bool:
    """Whether the finding is a failure of the work. See `outcome`."""
    return outcome(kind_key, place, family, severity, line=line, left_short=left_short) is Outcome.FAILURE


def all_words() -> tuple[str, ...]:
    names = {name for k in KINDS for name in (k.name, k.name_us)}
    return tuple(sorted(names | {s.words for s in SEVERITIES}))


def _counts(found: DefectKind, place: PlaceKind | str, family: FilmFamily | str) -> bool:
    at_place, in_family = PlaceKind(place) in found.places, FilmFamily(family) in found.families
    return found.counts is Counts.FAILURE and at_place and in_family


def _check_line(line: int) -> None:
    if not 1 <= line <= 4:
        raise ValueError(f"line {line} is not one of 1 to 4")
