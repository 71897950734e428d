"""The description of the format, made from the tables of columns: for the page, and as Markdown."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.trade import catalogue, defects, words
from shopwarranty.trade.bodies import BODIES

from .columns import Column, Kind, Level, Words, of_level
from .finding_columns import FINDING_COLUMNS
from .job_columns import JOB_COLUMNS

LEVEL_WORDS: Final[dict[Level, Words]] = {
    Level.JOB: gettext_lazy("The job and its vehicle"),
    Level.PANEL: gettext_lazy("The panel"),
    Level.PIECE: gettext_lazy("The film piece"),
    Level.PLACE: gettext_lazy("The place"),
    Level.VISIT: gettext_lazy("The visit"),
    Level.FINDING: gettext_lazy("What was found, and what was done about it"),
}
KIND_WORDS: Final[dict[Kind, Words]] = {
    Kind.TEXT: gettext_lazy("text"),
    Kind.YES_NO: gettext_lazy("yes or no"),
    Kind.WHOLE: gettext_lazy("whole number"),
    Kind.NUMBER: gettext_lazy("number"),
    Kind.MONEY: gettext_lazy("sum, as 12.50"),
    Kind.DAY: gettext_lazy("day, as 2026-11-25"),
    Kind.MOMENT: gettext_lazy("moment, as 2026-11-25T14:30-05:00, or a day"),
    Kind.ENTRIES: gettext_lazy("entries, apart by |"),
}
RULES: Final[tuple[Words, ...]] = (
    gettext_lazy("UTF-8, with or without a byte order mark; commas or semicolons; first line: the header."),
    gettext_lazy("An empty cell means not recorded: never no, never zero, never clean."),
    gettext_lazy("Rows of one job stand together. Cells that repeat say the same, or are empty."),
    gettext_lazy("Headers name the unit: C or F, mm or in. An export always writes C, mm and UTC."),
    gettext_lazy("With semicolons a comma is read as the decimal mark too."),
    gettext_lazy(
        "A text that begins with = + - @ is written with one apostrophe before it, so that no spreadsheet "
        "takes it for a formula; reading takes it away again."
    ),
    gettext_lazy(
        "A vehicle is found by vehicle_first_job, else by its VIN, else by chassis number or plate if "
        "nothing in the row contradicts; else it is new. Its plates and holders are kept since when."
    ),
    gettext_lazy(
        "A holder is the same person where name and all contact data agree, on other vehicles only where "
        "e-mail or telephone are given."
    ),
    gettext_lazy(
        "An import records history: no message, no certificate, no check becomes due unless you ask for it. "
        "All of it is taken in, or nothing."
    ),
    gettext_lazy(
        "A job that is here already and says the same stays as it is; one that differs is refused. Later "
        "visits to it are added."
    ),
)


@dataclass(frozen=True, slots=True)
class DescribedColumn:
    headers: str
    holds: str
    meaning: str
    needed: bool


@dataclass(frozen=True, slots=True)
class DescribedLevel:
    title: str
    columns: tuple[DescribedColumn, ...]


@dataclass(frozen=True, slots=True)
class DescribedFile:
    name: str
    about: str
    levels: tuple[DescribedLevel, ...]


@dataclass(frozen=True, slots=True)
class KeyList:
    """Keys as they stand in a file, each with what it means."""

    title: str
    keys: tuple[tuple[str, str], ...]


def described_files() -> tuple[DescribedFile, ...]:
    about_jobs = _("One row for each job, panel, film piece and place.")
    about_looks = _("One row for each visit and place, and for each defect there.")
    return (
        DescribedFile("jobs.csv", about_jobs, _levels(JOB_COLUMNS)),
        DescribedFile("findings.csv", about_looks, _levels(FINDING_COLUMNS)),
    )


def _levels(columns: tuple[Column, ...]) -> tuple[DescribedLevel, ...]:
    levels = dict.fromkeys(column.level for column in columns)
    return tuple(
        DescribedLevel(str(LEVEL_WORDS[level]), tuple(_described(c) for c in of_level(columns, level)))
        for level in levels
    )


def _described(column: Column) -> DescribedColumn:
    holds = ", ".join(column.words) if column.kind is Kind.WORD else str(KIND_WORDS[column.kind])
    return DescribedColumn(" / ".join(column.headers), holds, str(column.meaning), column.needed)


def key_lists(*, american: bool) -> Iterator[KeyList]:
    """What the words in the files may be where the table says: from the list below."""
    yield KeyList(_("Defect kinds"), _kinds(american))
    severities = ((str(each.level), _(each.words)) for each in defects.SEVERITIES if each.level)
    yield KeyList(_("Severity"), tuple(severities))
    lists = (
        (_("Causes"), words.CAUSES),
        (_("Remedies"), words.REMEDIES),
        (_("Film families"), words.FILM_FAMILIES),
        (_("How a value is known"), words.BASES),
        (_("Laying events"), words.LAYING_EVENTS),
    )
    for title, choices in lists:
        yield KeyList(title, tuple((str(choice.key), _(choice.words)) for choice in choices))


def _kinds(american: bool) -> tuple[tuple[str, str], ...]:
    return tuple((kind.key, _(kind.name_us if american else kind.name)) for kind in defects.KINDS)


def panel_lists(*, american: bool) -> Iterator[KeyList]:
    """For each body style its panels with their places."""
    for body in BODIES:
        panels = ((panel.key, _places(panel.key, body.key)) for panel in catalogue.panels(body.key))
        name = _(body.name)
        yield KeyList(name if name == body.key else f"{body.key}: {name}", tuple(panels))


def _places(panel: str, body: str) -> str:
    found = catalogue.default_places(catalogue.panel(body, panel))
    return ", ".join(place.key for place in found)


def as_markdown() -> Iterator[str]:
    """For the README: tables of columns, rules and keys."""
    yield from (f"* {rule}" for rule in RULES)
    for file in described_files():
        yield from ("", f"### `{file.name}`", file.about)
        for level in file.levels:
            yield from ("", f"**{level.title}**", "", "| column | holds | meaning |", "| --- | --- | --- |")
            yield from (_markdown_row(column) for column in level.columns)
    for listed in key_lists(american=False):
        yield from ("", f"**{listed.title}**: {_markdown_keys(listed.keys)}")


def _markdown_row(column: DescribedColumn) -> str:
    needed = " (needed)" if column.needed else ""
    cells = (f"`{column.headers}`{needed}", column.holds, column.meaning)
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _markdown_keys(keys: Iterable[tuple[str, str]]) -> str:
    return "; ".join(f"`{key}` {meaning}" for key, meaning in keys)
