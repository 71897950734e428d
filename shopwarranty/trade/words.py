"""The short lists every room shares, as stable keys with plain words beside them.

Keys are stored and exchanged; words are shown, through translation. None of these lists has an entry for "not
recorded": a value nobody gave is no value.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


@dataclass(frozen=True, slots=True)
class Choice:
    """`words_us` is the American spelling where it differs."""

    key: str
    words: str
    words_us: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "words_us", self.words_us or self.words)


class FilmFamily(StrEnum):
    """Never pooled in one rate."""

    COLOUR_CHANGE = "colour-change"
    CLEAR_PROTECTIVE = "clear-protective"
    COLOURED_PROTECTIVE = "coloured-protective"


class CauseGroup(StrEnum):
    WORK = "work"
    FILM = "film"
    VEHICLE = "vehicle"
    USE = "use"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Cause:
    key: str
    words: str
    group: CauseGroup


@dataclass(frozen=True, slots=True)
class Remedy:
    """`starts_life`: the place is looked at afresh from then on. `uses_film`: it costs film from a roll."""

    key: str
    words: str
    starts_life: bool
    uses_film: bool = False


FILM_FAMILIES = (
    Choice(FilmFamily.COLOUR_CHANGE, "colour-change vinyl", "color-change vinyl"),
    Choice(FilmFamily.CLEAR_PROTECTIVE, "clear protective film"),
    Choice(FilmFamily.COLOURED_PROTECTIVE, "coloured protective film", "colored protective film"),
)

# How a technique or condition value is known.
BASES = (
    Choice("stated", "stated"),
    Choice("measured", "measured"),
    Choice("by_method", "by method, confirmed"),
    Choice("imported", "imported"),
)

LAID = (Choice("dry", "dry"), Choice("wet", "wet"), Choice("mixed", "mixed"))

STRETCH = (
    Choice("none", "none"),
    Choice("low", "low"),
    Choice("medium", "medium"),
    Choice("high", "high"),
)

HARDWARE = (
    Choice("none", "nothing to remove"),
    Choice("removed", "removed"),
    Choice("loosened", "loosened"),
    Choice("trimmed_in_place", "trimmed in place"),
)

# What became of a part that was taken off.
REMOVED_PARTS = (
    Choice("refitted", "refitted"),
    Choice("replaced", "replaced"),
    Choice("given_back", "given back"),
)

COVERED_BY = (
    Choice("none", "nothing"),
    Choice("rubber", "rubber"),
    Choice("cap", "cap"),
    Choice("trim", "trim"),
)

BLADE_KINDS = (
    Choice("carbon", "carbon steel"),
    Choice("stainless", "stainless steel"),
    Choice("tape", "cutting tape"),
    Choice("other", "other"),
)

SQUEEGEES = (
    Choice("felt", "felt edge"),
    Choice("hard", "hard"),
    Choice("medium", "medium"),
    Choice("soft", "soft"),
)

SUBSTRATES = (
    Choice("paint", "factory paint"),
    Choice("repaint", "repainted"),
    Choice("bare", "bare plastic or metal"),
    Choice("film", "older film"),
    Choice("coating", "coating"),
)

LAYING_EVENTS = (
    Choice("laid_again", "lifted and laid again"),
    Choice("needle", "air let out with a needle"),
    Choice("fold", "fold touched down"),
    Choice("recut", "cut again"),
)

INSTRUMENTS = (
    Choice("infrared", "infrared thermometer"),
    Choice("contact", "contact thermometer"),
    Choice("room", "room thermometer and hygrometer"),
    Choice("logger", "logger"),
    Choice("other", "other"),
)

VISIT_ORIGINS = (
    Choice("planned", "planned check"),
    Choice("walk_in", "walked in"),
    Choice("defect", "came back because of a defect"),
    Choice("claim", "claim"),
)

VISIT_MEDIA = (Choice("in_person", "in person"), Choice("photo", "by photo"))

# Answers about safety notes. They block nothing and have no default.
SAFETY_ANSWERS = (
    Choice("yes", "yes"),
    Choice("no", "no"),
    Choice("not_asked", "not asked"),
)

NOT_LOOKED_REASONS = (
    Choice("dirty", "dirty"),
    Choice("wet", "wet"),
    Choice("hidden", "could not be reached or seen"),
    Choice("no_time", "no time"),
    Choice("not_in_photo", "not in the photo"),
    Choice("other", "other"),
)

DEVIATION_REASONS = (
    Choice("trim_in_way", "trim in the way"),
    Choice("film_short", "film short"),
    Choice("film_pulled_back", "film pulled back"),
    Choice("shape", "shape of the panel"),
    Choice("no_time", "no time"),
    Choice("holder_wish", "as the customer asked"),
    Choice("trial", "part of a trial"),
    Choice("other", "other"),
)

UNKNOWN_LOT_REASONS = (
    Choice("label_lost", "label lost"),
    Choice("off_cut", "off-cut without a label"),
    Choice("owner_supplied", "film brought by the customer"),
    Choice("not_recorded_then", "not recorded at the time"),
    Choice("other", "other"),
)

CAUSES = (
    Cause("unknown", "not known", CauseGroup.UNKNOWN),
    Cause("contaminated", "dirt, wax or silicone at the edge", CauseGroup.WORK),
    Cause("short_wrap_in", "wrapped in too little", CauseGroup.WORK),
    Cause("tension", "film under tension", CauseGroup.WORK),
    Cause("not_post_heated", "not post-heated", CauseGroup.WORK),
    Cause("trapped", "air or fluid left under the film", CauseGroup.WORK),
    Cause("dirty_air", "dust or static while laying", CauseGroup.WORK),
    Cause("knife_work", "knife work", CauseGroup.WORK),
    Cause("layout", "pattern or layout", CauseGroup.WORK),
    Cause("conditions", "too cold, warm or damp while laying", CauseGroup.WORK),
    Cause("handling", "folded, paused or moved while laying", CauseGroup.WORK),
    Cause("film_or_lot", "the film or its lot", CauseGroup.FILM),
    Cause("film_age", "age of the film", CauseGroup.FILM),
    Cause("paint", "paint or repair below the film", CauseGroup.VEHICLE),
    Cause("texture", "surface the film cannot hold on", CauseGroup.VEHICLE),
    Cause("early_wash", "washed too early", CauseGroup.USE),
    Cause("washing", "washing or chemicals", CauseGroup.USE),
    Cause("weather", "sun and weather", CauseGroup.USE),
    Cause("impact", "stones, impact or contact", CauseGroup.USE),
    Cause("other", "other", CauseGroup.UNKNOWN),
)

REMEDIES = (
    Remedy("reheat", "heated and pressed again", starts_life=True),
    Remedy("relay", "cleaned and laid again", starts_life=True),
    Remedy("relief", "relieved or laid in with an inlay", starts_life=True, uses_film=True),
    Remedy("trim", "trimmed back", starts_life=True),
    Remedy("patch", "patched", starts_life=True, uses_film=True),
    Remedy("let_out", "air or water let out", starts_life=True),
    Remedy("replace_piece", "film piece replaced", starts_life=True, uses_film=True),
    Remedy("replace_panel", "film on the panel replaced", starts_life=True, uses_film=True),
    Remedy("cut_out", "film cut out over what must stay clear", starts_life=True),
    Remedy("clean", "cleaned", starts_life=False),
    Remedy("wait", "left to settle, to be looked at again", starts_life=False),
    Remedy("paint_repair", "paint repaired", starts_life=False),
    Remedy("refund", "part of the price refunded", starts_life=False),
    Remedy("none", "nothing done", starts_life=False),
)


def pairs(choices: Iterable[Choice | Cause | Remedy]) -> tuple[tuple[str, str], ...]:
    """(key, words), as a form or a model field takes them."""
    return tuple((choice.key, choice.words) for choice in choices)


def keys(choices: Iterable[Choice | Cause | Remedy]) -> frozenset[str]:
    return frozenset(choice.key for choice in choices)


def words_for(choices: Iterable[Choice | Cause | Remedy], key: str) -> str:
    """Raises KeyError for a key the list does not have."""
    return dict(pairs(choices))[key]


LISTS: tuple[tuple[Choice | Cause | Remedy, ...], ...] = (
    FILM_FAMILIES,
    BASES,
    LAID,
    STRETCH,
    HARDWARE,
    REMOVED_PARTS,
    COVERED_BY,
    BLADE_KINDS,
    SQUEEGEES,
    SUBSTRATES,
    LAYING_EVENTS,
    INSTRUMENTS,
    VISIT_ORIGINS,
    VISIT_MEDIA,
    SAFETY_ANSWERS,
    NOT_LOOKED_REASONS,
    DEVIATION_REASONS,
    UNKNOWN_LOT_REASONS,
    CAUSES,
    REMEDIES,
)


def all_words() -> tuple[str, ...]:
    """Every phrase once, sorted, both spellings: for the message catalogue."""
    entries = [entry for group in LISTS for entry in group]
    american = {entry.words_us for entry in entries if isinstance(entry, Choice)}
    return tuple(sorted({entry.words for entry in entries} | american))
