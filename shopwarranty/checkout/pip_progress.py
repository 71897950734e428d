"""Reading how far pip has come from what it prints."""

import re
from dataclasses import dataclass

PINNED = re.compile(r"^[A-Za-z0-9][\w.\-]*(?:\[[\w,.\-]+\])?==", re.MULTILINE)
FOUND = re.compile(r"^(?:Collecting|Requirement already satisfied:) ([A-Za-z0-9][\w.\-]*)")
IGNORED = re.compile(r"^Ignoring [\w.\-]+: markers")
INSTALLING = re.compile(r"^Installing collected packages: (.+)$")


@dataclass(frozen=True, slots=True)
class Step:
    """`verb` is what pip is doing; `done` of `total` packages, the last one being `name`."""

    verb: str
    done: int
    total: int
    name: str = ""


@dataclass(slots=True)
class PipReader:
    """Takes pip's lines one by one. `total` is how many packages the lock pins."""

    total: int
    found: int = 0
    to_install: int = 0

    def read(self, line: str) -> Step | None:
        if IGNORED.match(line):
            self.total -= 1
        elif match := FOUND.match(line):
            self.found += 1
            return Step("fetching", self.found, self.total, match[1])
        elif match := INSTALLING.match(line):
            self.to_install = match[1].count(",") + 1
            return Step("installing", 0, self.to_install)
        return None


def pinned(lock: str) -> int:
    """How many packages a lock file pins, those of other systems included."""
    return len(PINNED.findall(lock))
