"""What is wrong with a file, and where: every fault says what to do about it."""

from dataclasses import dataclass, field

from django.utils.translation import gettext, ngettext

MOST_SHOWN = 200
MOST_NOTES = 50
MOST_CHARACTERS = 60


@dataclass(frozen=True, slots=True)
class Fault:
    """`line` counts from 1, the header; 0: the whole file. `column` is the header as written there."""

    file: str
    line: int
    column: str
    value: str
    problem: str
    remedy: str

    @property
    def where(self) -> str:
        words = [self.file]
        if self.line:
            words.append(gettext("line %(line)d") % {"line": self.line})
        if self.column:
            words.append(gettext("column %(column)s") % {"column": self.column})
        return ", ".join(words)

    def __str__(self) -> str:
        value = f"“{self.value}”: " if self.value else ""
        return f"{self.where}: {value}{self.problem} {self.remedy}".rstrip()


@dataclass(slots=True)
class Faults:
    """The first two hundred, and how many there are."""

    shown: list[Fault] = field(default_factory=list)
    count: int = 0
    cells: set[tuple[int, str]] = field(default_factory=set)

    def __bool__(self) -> bool:
        return self.count > 0

    def add(self, file: str, line: int, column: str, value: object, problem: str, remedy: str = "") -> None:
        self.count += 1
        self.cells.add((line, column))
        if len(self.shown) < MOST_SHOWN:
            self.shown.append(Fault(file, line, column, shortened(str(value)), problem, remedy))

    def speaks_of(self, line: int, column: str) -> bool:
        return (line, column) in self.cells

    def take(self, other: "Faults") -> None:
        """Those of another file, in the order of its lines."""
        self.count += other.count
        self.shown += sorted(other.shown, key=lambda fault: fault.line)[: MOST_SHOWN - len(self.shown)]

    @property
    def more(self) -> int:
        return self.count - len(self.shown)

    def lines(self) -> list[str]:
        words = [str(fault) for fault in self.shown]
        if self.more:
            words.append(
                ngettext("and %(more)d more fault.", "and %(more)d more faults.", self.more)
                % {"more": self.more}
            )
        return words


@dataclass(slots=True)
class Notes:
    """What is worth a look and refuses nothing: each sentence with its first line and how often it came."""

    first: dict[str, int] = field(default_factory=dict)
    times: dict[str, int] = field(default_factory=dict)

    def add(self, words: str, line: int) -> None:
        if words in self.first or len(self.first) < MOST_NOTES:
            self.first.setdefault(words, line)
            self.times[words] = self.times.get(words, 0) + 1

    def lines(self) -> list[str]:
        return [self._line(words, line) for words, line in self.first.items()]

    def _line(self, words: str, line: int) -> str:
        times = self.times[words]
        said = ngettext("Line %(line)d: %(words)s", "Line %(line)d and %(more)d more: %(words)s", times)
        return said % {"line": line, "more": times - 1, "words": words}


class FilesRefused(Exception):
    """The files cannot be taken in; nothing was written."""

    def __init__(self, faults: Faults) -> None:
        super().__init__("\n".join(faults.lines()))
        self.faults = faults


def shortened(value: str) -> str:
    one_line = " ".join(value.split())
    return one_line if len(one_line) <= MOST_CHARACTERS else one_line[: MOST_CHARACTERS - 1] + "…"
