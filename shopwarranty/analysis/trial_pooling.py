"""A trial's results as a file without people, vehicles or dates, and several shops' files put together.

JSON in UTF-8: `format` "film-trial", `version` 1, `key` (of this trial in this shop, random), `question`
(texts as set up), `plan` {most, ratio, alpha}, `by_day`, `seed`, and `pairs`: rows [number, outcome, day
of the trial on which it was settled or null]. Every pair is a stratum of its own, so pooling is adding.
Where whole jobs are compared `pairs` is empty and `jobs` holds rows [number, 1 for the other arm, last seen
clean, found failed or null, day of the trial on which it was closed or null]; blocks stay blocks.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from math import inf
from typing import Any

from scipy.special import chdtrc

from .paired_test import Discordant
from .trial_blocks import BLOCK, JobsAnswer, Unit, jobs_answer, once_of
from .trial_pairs import Answer, Outcome, PairResult, answer
from .trial_sequence import Plan

FORMAT, VERSION = "film-trial", 1
QUESTION = ("field", "usual_value", "other_value", "unit", "defect_kinds")
MOST_BYTES = 2_000_000
MOST_COUNTED = 2000


class UnreadableFile(ValueError):
    """The file is not a trial's. `reason` in plain English."""


class NotTheSameTrial(ValueError):
    """Files that ask different questions, or the same file twice, are not put together."""


@dataclass(frozen=True, slots=True)
class TrialFile:
    key: str
    question: Mapping[str, Any]
    by_day: int
    seed: int
    plan: Plan
    pairs: tuple[PairResult, ...]
    jobs: tuple[Unit, ...] = ()

    @property
    def of_jobs(self) -> bool:
        return bool(self.question.get("unit") == "jobs")


@dataclass(frozen=True, slots=True)
class Pooled:
    """Each file's own answer, all together, and p that the shops agree (None with fewer than two)."""

    each: tuple[tuple[TrialFile, Answer | JobsAnswer], ...]
    together: Answer | JobsAnswer
    agree_p: float | None


def write_file(trial: TrialFile) -> bytes:
    """The same trial always gives the same bytes."""
    content: dict[str, Any] = {
        "format": FORMAT,
        "version": VERSION,
        "key": trial.key,
        "question": dict(trial.question),
        "by_day": trial.by_day,
        "seed": trial.seed,
        "plan": {"most": trial.plan.most, "ratio": trial.plan.ratio, "alpha": trial.plan.alpha},
        "pairs": [[p.pair, p.outcome.value, p.at] for p in trial.pairs],
    }
    if trial.of_jobs:
        content["jobs"] = [
            [u.number, int(u.other), u.last_clean, None if u.found == inf else u.found, u.at]
            for u in trial.jobs
        ]
    return json.dumps(content, ensure_ascii=False, indent=1, sort_keys=True).encode()


def read_file(content: bytes) -> TrialFile:
    """Raises UnreadableFile."""
    if len(content) > MOST_BYTES:
        raise UnreadableFile("it is too large")
    try:
        found = json.loads(content)
        if found["format"] != FORMAT or found["version"] != VERSION:
            raise UnreadableFile("it is not a trial's file of a known version")
        return _checked(found)
    except UnreadableFile:
        raise
    except (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError) as error:
        raise UnreadableFile("parts of it are missing or damaged") from error


def _checked(found: Mapping[str, Any]) -> TrialFile:
    plan = Plan(int(found["plan"]["most"]), float(found["plan"]["ratio"]), float(found["plan"]["alpha"]))
    if not (1 <= plan.most <= MOST_COUNTED and 1 < plan.ratio < 100 and 0 < plan.alpha <= 0.2):
        raise UnreadableFile("its plan is out of range")
    pairs = tuple(_pair(row) for row in found["pairs"])
    if len({pair.pair for pair in pairs}) != len(pairs):
        raise UnreadableFile("a pair is in it twice")
    question = {str(name): value for name, value in found["question"].items()}
    if not set(QUESTION) <= set(question):
        raise UnreadableFile("its question is not complete")
    file = TrialFile(str(found["key"])[:64], question, int(found["by_day"]), int(found["seed"]), plan, pairs)
    return replace(file, jobs=_jobs(found["jobs"])) if file.of_jobs else file


def _jobs(rows: Sequence[Sequence[Any]]) -> tuple[Unit, ...]:
    jobs = tuple(_job(row) for row in rows)
    if len({job.number for job in jobs}) != len(jobs):
        raise UnreadableFile("a job is in it twice")
    return jobs


def _job(row: Sequence[Any]) -> Unit:
    number, other, clean, found, at = row
    failed = inf if found is None else float(found)
    job = Unit(int(number), bool(other), float(clean), failed, None if at is None else int(at))
    if not (1 <= job.number <= 10**6 and 0 <= job.last_clean < job.found and job.last_clean < inf):
        raise UnreadableFile("a job's days are not possible")
    return job


def _pair(row: Sequence[Any]) -> PairResult:
    number, outcome, at = row
    result = PairResult(int(number), Outcome(outcome), None if at is None else int(at))
    if (result.at is None) != (result.outcome is Outcome.OPEN):
        raise UnreadableFile("an open pair cannot be settled")
    return result


def pool(files: Sequence[TrialFile]) -> Pooled:
    """In any order of the files the same to the last digit. Raises NotTheSameTrial, ValueError for none."""
    ordered = sorted(files, key=lambda each: each.key)
    _same_question(ordered)
    return _pool_jobs(ordered) if ordered[0].of_jobs else _pool_pairs(ordered)


def _plan_of(ordered: Sequence[TrialFile]) -> Plan:
    return Plan(sum(f.plan.most for f in ordered), ordered[0].plan.ratio, ordered[0].plan.alpha)


def _pool_pairs(ordered: Sequence[TrialFile]) -> Pooled:
    together = [
        PairResult(index, pair.outcome, pair.at)
        for index, pair in enumerate(pair for each in ordered for pair in each.pairs)
    ]
    each = tuple((file, answer(file.pairs, file.plan)) for file in ordered)
    return Pooled(each, answer(together, _plan_of(ordered)), _agree(ordered))


def _pool_jobs(ordered: Sequence[TrialFile]) -> Pooled:
    """Blocks of a shop stay its own; looked at only once, a shop is a stratum with a curve of its own."""
    blocks = [max((unit.block + 1 for unit in file.jobs), default=0) for file in ordered]
    starts = (0, *accumulate(blocks))
    moved = [
        [replace(unit, number=unit.number + BLOCK * start) for unit in file.jobs]
        for file, start in zip(ordered, starts, strict=False)
    ]
    together = jobs_answer([unit for units in moved for unit in units], _plan_of(ordered))
    once = once_of([_settled(file.jobs) for file in ordered])
    each = tuple((file, jobs_answer(file.jobs, file.plan)) for file in ordered)
    return Pooled(each, replace(together, once=once), _scores_agree([a for _, a in each]))


def _settled(units: Sequence[Unit]) -> list[Unit]:
    closed = Counter(unit.block for unit in units if unit.at is not None)
    return [unit for unit in units if closed[unit.block] == BLOCK]


def _scores_agree(answers: Sequence[JobsAnswer]) -> float | None:
    """Chi-square of the shops' scores about their common ratio; rough with few failing jobs."""
    told = [a.once for a in answers if a.once.variance > 0]
    if len(told) < 2:
        return None
    common = sum(t.score for t in told) / sum(t.variance for t in told)
    apart = sum((t.score - common * t.variance) ** 2 / t.variance for t in told)
    return float(chdtrc(len(told) - 1, apart))


def _same_question(files: Sequence[TrialFile]) -> None:
    if not files:
        raise ValueError("no files")
    if len({file.key for file in files}) != len(files):
        raise NotTheSameTrial("the same file is there twice")
    asked = {
        json.dumps([[f.question[k] for k in QUESTION], f.by_day, f.plan.ratio, f.plan.alpha], sort_keys=True)
        for f in files
    }
    if len(asked) > 1:
        raise NotTheSameTrial("the questions differ")


def counts_of(file: TrialFile) -> Discordant:
    outcomes = [pair.outcome for pair in file.pairs]
    return Discordant(outcomes.count(Outcome.OTHER), outcomes.count(Outcome.USUAL))


def _agree(files: Sequence[TrialFile]) -> float | None:
    """Pearson's chi-square over the shops that have discordant pairs; rough below five a shop."""
    counts = [c for c in map(counts_of, files) if c.total]
    other, total = sum(c.other for c in counts), sum(c.total for c in counts)
    if len(counts) < 2:
        return None
    if other in (0, total):
        return 1.0
    share = other / total
    statistic = sum((c.other - c.total * share) ** 2 / (c.total * share * (1 - share)) for c in counts)
    return float(chdtrc(len(counts) - 1, statistic))
