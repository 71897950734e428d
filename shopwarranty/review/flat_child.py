"""The process that reviews somebody's flat file: bounded in memory and time, all told on standard input.

It reads a line of JSON with the options, then the file, and answers with JSON on standard output. It knows no
settings, no database and no secret, and may write no file. Run by `flat_review`, never by hand.
"""

from __future__ import annotations

import json
import resource
import sys
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

INSTALLER = "installer"
SEED = 20


def bounded(memory_bytes: int, cpu_s: int) -> None:
    """What is allocated beyond the memory raises; beyond the time the system ends the process."""
    resource.setrlimit(resource.RLIMIT_AS, (memory_bytes, memory_bytes))
    resource.setrlimit(resource.RLIMIT_CPU, (cpu_s, cpu_s))
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def answer(asked: dict[str, Any], raw: bytes) -> dict[str, Any]:
    """The review with what a page words itself, or complaints with line and column, or what was too much."""
    from shopwarranty.analysis.flat_file import BadFile

    try:
        return reviewed(asked, text_of(raw))
    except BadFile as bad:
        return {"complaints": [[c.line, c.column, c.wrong.name, dict(c.values)] for c in bad.complaints]}
    except MemoryError:
        return {"too_much": "memory"}


def text_of(raw: bytes) -> str:
    from shopwarranty.analysis.flat_file import BadFile, Complaint, Wrong

    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise BadFile([Complaint(line, "", Wrong.NOT_UTF8)]) from error


def reviewed(asked: dict[str, Any], text: str) -> dict[str, Any]:
    from shopwarranty.analysis.flat_file import read_question
    from shopwarranty.analysis.review import analyse
    from shopwarranty.analysis.review_json import as_object

    question = read_question(text, asked["factors"], asked["adjust"])
    review = analyse(question, seed=SEED)
    if not asked["installers"]:
        review = without_installers(review)
    return {
        "review": as_object(review),
        "sides": [[e.contrast.reference_failures, e.contrast.reference_edges] for e in review.effects],
        "phrases": [[e.verdict.phrase.name, e.verdict.other] for e in review.effects],
        "notices": [[n.kind.name, list(n.values)] for n in review.notices],
    }


def without_installers(review: Any) -> Any:
    """No figure by installer and no comparison of them; the others stay held beside who laid it."""
    return replace(
        review,
        groups=tuple((name, figures) for name, figures in review.groups if name != INSTALLER),
        effects=tuple(e for e in review.effects if e.contrast.factor != INSTALLER),
        notices=tuple(n for n in review.notices if not _about_installers(n.values)),
    )


def _about_installers(values: Sequence[tuple[str, str | int]]) -> bool:
    said = dict(values)
    return said.get("factor") == INSTALLER and "level" in said


def main() -> None:
    asked = json.loads(sys.stdin.buffer.readline())
    import_what_is_needed()
    bounded(asked["memory_bytes"], asked["cpu_s"])
    said = answer(asked, sys.stdin.buffer.read())
    sys.stdout.write(json.dumps(said, ensure_ascii=True, allow_nan=False))


def import_what_is_needed() -> None:
    """Before the bounds, so that they measure the file and not the libraries."""
    import shopwarranty.analysis.flat_file
    import shopwarranty.analysis.review
    import shopwarranty.analysis.review_json  # noqa: F401


if __name__ == "__main__":
    main()
