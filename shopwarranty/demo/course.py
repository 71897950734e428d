"""What became of a job: who came to which check, what was seen, and what was done about it."""

import heapq
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from random import Random

from shopwarranty.inspections.due_dates import CheckTiming, due_window
from shopwarranty.trade.catalogue import kind_of

from .chance import stream
from .fate import Fate, Spot, fate_of, harmless_trace
from .told import Course, Defect, Finding, Job, Remedy, Sighting, Visit

CHECKS = {
    "two-week": (CheckTiming(0, 14, 7, 14), 0.84, (-4, 9)),
    "three-month": (CheckTiming(3, 0, 14, 28), 0.66, (-8, 20)),
    "yearly": (CheckTiming(12, 0, 28, 56), 0.6, (-15, 35)),
}
"""Timing as the shop's plans have it, share of holders who come, and how many days around the due day."""

NOTICED = {2: 0.14, 3: 0.5, 4: 0.9}
SINCE_WORDS = ("after the car wash", "since the hot weekend", "noticed while cleaning", "about a week")
VISIT_HOURS = (10, 11, 13)  # open on every day of the week
NOT_LOOKED = ("dirty", "hidden", "no_time", "wet")
LOST_IN_COLLISION = (66, "front-bumper", 41)
"""Job, panel, and how many days after handover the body part was replaced."""

CAUSE = {
    "tenting": "tension",
    "edge-lift": "contaminated",
    "corner-lift": "tension",
    "finger": "tension",
    "contamination": "dirty_air",
    "air-bubble": "trapped",
    "moisture-pocket": "trapped",
    "adhesive-line": "handling",
    "crease": "handling",
    "shrink-back": "tension",
    "seam-gap": "short_wrap_in",
    "stretch-mark": "tension",
}
REMEDY = {
    "air-bubble": "let_out",
    "moisture-pocket": "let_out",
    "contamination": "relay",
    "adhesive-line": "relay",
    "crease": "relay",
    "stretch-mark": "reheat",
}
DAMAGE_PANELS = frozenset({"front-bumper", "bonnet", "wing"})


@dataclass(order=True, slots=True)
class _Coming:
    """A vehicle in front of us on a day; `index` keeps the order of what is planned for one day."""

    on: date
    index: int
    check: str = field(compare=False, default="")
    panel: int | None = field(compare=False, default=None)
    since: date | None = field(compare=False, default=None)


@dataclass(slots=True)
class _Living:
    """A place now: its life's start, what awaits it, and the defect it has."""

    starts: date
    number: int
    fate: Fate
    open: int | None = None
    last: int | None = None
    hurt: bool = False


@dataclass(slots=True)
class _DefectNow:
    place: int
    kind: str
    sightings: list[Sighting]
    remedy: Remedy | None = None
    recurrence_of: int | None = None
    cause: str = ""
    sure: str = ""


class CourseOfJob:
    """Follows one job from handover to today; everything is drawn from streams of its own."""

    def __init__(self, job: Job, spots: tuple[Spot, ...], today: date, installers: tuple[str, ...]) -> None:
        self.job, self.spots, self.today, self.installers = job, spots, today, installers
        self.handed = job.handed_over_at.date()
        self.visits: list[Visit] = []
        self.defects: list[_DefectNow] = []
        self.living = [self._first_life(spot) for spot in spots]
        self.coming: list[_Coming] = []
        self.lost: tuple[int, date] | None = self._collision()

    def told(self) -> Course:
        for coming in _planned(self.job, self.handed, self.today):
            heapq.heappush(self.coming, coming)
        for spot in self.spots:
            self._may_be_noticed(spot)
        while self.coming:
            self._look(heapq.heappop(self.coming))
        lost = self.lost or (None, None)
        return Course(tuple(self.visits), tuple(self._kept(d) for d in self.defects), lost[0], lost[1])

    def _first_life(self, spot: Spot) -> _Living:
        finished = self.job.panels[spot.panel].finished_at.date()
        return _Living(finished, 1, fate_of(spot, 1))

    def _collision(self) -> tuple[int, date] | None:
        number, panel, days = LOST_IN_COLLISION
        keys = [one.key for one in self.job.panels]
        if self.job.number != number or panel not in keys:
            return None
        return keys.index(panel), self.handed + timedelta(days=days)

    def _may_be_noticed(self, spot: Spot) -> None:
        """The holder sees it and comes back before the next planned check, or does not."""
        now = self.living[spot.index]
        rng = stream("noticed", *spot.about, now.number)
        if now.fate.fails_at < 1 or rng.random() >= NOTICED[now.fate.severity]:
            return
        since = now.starts + timedelta(days=now.fate.fails_at + rng.randint(0, 3))
        on = max(since + timedelta(days=rng.randint(3, 24)), self.handed + timedelta(days=1))
        if on < self.today:
            heapq.heappush(self.coming, _Coming(on, 100 + spot.index, "", spot.panel, since))

    def _look(self, coming: _Coming) -> None:
        seen = [spot for spot in self.spots if self._is_there(spot, coming)]
        if coming.panel is not None and not any(self._fails(s, coming.on) for s in seen):
            return
        visit, rng = len(self.visits), stream("visit", self.job.number, coming.on, coming.index)
        findings = tuple(self._finding(spot, coming, visit, rng) for spot in seen)
        if coming.check.startswith("yearly"):
            findings = tuple(self._or_damage(finding, visit, rng) for finding in findings)
        self.visits.append(_visit(coming, findings, rng, self.installers))
        for number in sorted({n for n, d in enumerate(self.defects) if d.sightings[-1].visit == visit}):
            self._put_right(number, coming, visit, rng)

    def _is_there(self, spot: Spot, coming: _Coming) -> bool:
        if self.lost and self.lost[0] == spot.panel and coming.on >= self.lost[1]:
            return False
        return coming.panel in (None, spot.panel)

    def _fails(self, spot: Spot, on: date) -> bool:
        now = self.living[spot.index]
        return (on - now.starts).days >= now.fate.fails_at and not now.hurt

    def _finding(self, spot: Spot, coming: _Coming, visit: int, rng: Random) -> Finding:
        """Drawn in the same order whatever is found."""
        unseen, tapped = rng.random() < _share_unseen(coming), rng.random() < 0.12
        why = rng.choice(NOT_LOOKED)
        severity = self._severity(spot, coming.on)
        if self.living[spot.index].starts > coming.on:
            return Finding(spot.index, "not_looked", "left")  # a time to put it right is agreed already
        if unseen and not severity:
            return Finding(spot.index, "not_looked", "tapped" if tapped else "left", why if tapped else "")
        if not severity:
            return Finding(spot.index, "clean", "tapped" if tapped else "swept")
        self._see(spot, severity, coming.on, visit)
        return Finding(spot.index, "defect", "tapped")

    def _severity(self, spot: Spot, on: date) -> int:
        """0: nothing to see. What is left alone grows until the next look."""
        now = self.living[spot.index]
        age = (on - now.starts).days
        if now.hurt:
            return 0
        if on == self.handed:
            return 2 if _is_rework(spot) and now.number == 1 else 0
        if age >= now.fate.fails_at:
            grown = 0 if now.open is None else len(self.defects[now.open].sightings)
            return min(now.fate.severity + min(grown, 1), 4)
        harmless = harmless_trace(spot) if now.number == 1 else None
        watched = age >= now.fate.trace_from or (harmless is not None and age >= harmless)
        return 1 if watched else 0

    def _see(self, spot: Spot, severity: int, on: date, visit: int) -> None:
        now = self.living[spot.index]
        if now.open is None:
            now.open = len(self.defects)
            before = now.last if now.last is not None and self._same_kind(now) else None
            self.defects.append(_DefectNow(spot.index, now.fate.kind, [], recurrence_of=before))
        defect = self.defects[now.open]
        size = now.fate.extent_mm * (0.4 if severity == 1 else 1 + 0.7 * len(defect.sightings))
        counted = defect.kind in ("air-bubble", "moisture-pocket", "contamination", "finger")
        defect.sightings.append(
            Sighting(
                visit,
                severity,
                None if counted and defect.kind != "finger" else float(max(round(size), 2)),
                float(severity) if defect.kind in ("tenting", "edge-lift") and severity > 1 else None,
                1 + severity if counted else None,
            )
        )

    def _same_kind(self, now: _Living) -> bool:
        assert now.last is not None
        return self.defects[now.last].kind == now.fate.kind

    def _or_damage(self, finding: Finding, visit: int, rng: Random) -> Finding:
        """Stones and car parks: what ends a place's life without saying anything about the work."""
        hit, spot = rng.random() < 0.006, self.spots[finding.place]
        exposed = kind_of(self.job.panels[spot.panel].key) in DAMAGE_PANELS
        if not (hit and exposed and finding.result == "clean"):
            return finding
        kind = "stone-chip" if spot.kind == "field" else "impact-damage"
        seen = Sighting(visit, 2, float(rng.randint(2, 14)), None, 1)
        self.defects.append(_DefectNow(spot.index, kind, [seen]))
        self.defects[-1].cause, self.defects[-1].sure = "impact", "likely"
        self.living[spot.index].hurt = True
        return replace(finding, result="defect", said="tapped")

    def _put_right(self, number: int, coming: _Coming, visit: int, rng: Random) -> None:
        defect, left = self.defects[number], rng.random()
        minutes, later = rng.choice((10, 15, 20, 25, 40)), rng.randint(4, 16)
        judged, heat = rng.random(), float(rng.randint(90, 104))
        handover = coming.on == self.handed
        if defect.sightings[-1].severity < 2 or self.living[defect.place].hurt:
            return
        if judged < 0.8 and not defect.cause:
            defect.cause, defect.sure = self._cause(defect), "likely" if judged < 0.5 else "guess"
        if left > 0.93 and not handover:
            return
        on = coming.on if handover or left < 0.6 else coming.on + timedelta(days=later)
        if on >= self.today:
            return
        kind = REMEDY.get(defect.kind, "reheat")
        same_day = visit if on == coming.on else None
        warm = heat if kind == "reheat" else None
        defect.remedy = Remedy(kind, on, same_day, minutes, self.visits[visit].member, warm)
        self._live_again(defect, number, on)

    def _cause(self, defect: _DefectNow) -> str:
        spot = self.spots[defect.place]
        return "not_post_heated" if spot.not_heated else CAUSE.get(defect.kind, "unknown")

    def _live_again(self, defect: _DefectNow, number: int, on: date) -> None:
        now, spot = self.living[defect.place], self.spots[defect.place]
        again = now.number + 1
        self.living[defect.place] = _Living(on, again, fate_of(spot, again), last=number)
        self._may_be_noticed(spot)

    @staticmethod
    def _kept(d: _DefectNow) -> Defect:
        return Defect(d.place, d.kind, tuple(d.sightings), d.remedy, d.recurrence_of, d.cause, d.sure)


def _planned(job: Job, handed: date, today: date) -> Iterator[_Coming]:
    """The handover look, and the checks to which the holder came before today."""
    yield _Coming(handed, 0, "handover")
    keen = stream("keen", job.number).gauss(0, 0.1)
    for index, (key, timing, share, (low, high)) in enumerate(_due(job), 1):
        rng = stream("comes", job.number, key)
        comes, days = rng.random() < share + keen, rng.randint(low, high)
        on = due_window(handed, timing).due + timedelta(days=days)
        if comes and on < today:
            yield _Coming(on, index, key)


def _due(job: Job) -> Iterator[tuple[str, CheckTiming, float, tuple[int, int]]]:
    for key, (timing, share, around) in CHECKS.items():
        yield key, timing, share, around
    yearly, share, around = CHECKS["yearly"]
    second = CheckTiming(24, 0, yearly.days_before, yearly.days_after)
    yield "yearly-2", second, share - 0.06, around


def _share_unseen(coming: _Coming) -> float:
    if coming.check == "handover":
        return 0.015
    return 0.4 if coming.panel is not None else 0.045


def _is_rework(spot: Spot) -> bool:
    return spot.kind != "field" and stream("rework", *spot.about).random() < 0.004


def _visit(coming: _Coming, findings: tuple[Finding, ...], rng: Random, who: tuple[str, ...]) -> Visit:
    at = datetime.combine(coming.on, time(rng.choice(VISIT_HOURS), rng.choice((0, 15, 30, 45))))
    if coming.check == "handover":
        at = datetime.combine(coming.on, time(13, 45))
    words = rng.choice(SINCE_WORDS) if coming.since else ""
    origin = "defect" if coming.panel is not None else "planned"
    return Visit(coming.on, at, origin, coming.check, rng.choice(who), findings, coming.since, words)
