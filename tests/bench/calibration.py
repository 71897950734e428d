"""Does the review say what is true as often as it promises? Simulated shops, seeded, with the truth known.

Every function takes how many runs to make, so that the tests run a handful and the long parts the full
number. Truth is the population ratio: the limit of the same fit in a very large shop, which the frailty
of vehicles puts a little nearer to 1 than the ratio of a single place.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from shopwarranty.analysis.arrays import FloatArray
from shopwarranty.analysis.bands import CHECK_BANDS
from shopwarranty.analysis.curve import shares_failed
from shopwarranty.analysis.effects import Contrast, Ground, contrasts, fitted_with, prepare
from shopwarranty.analysis.expected import expected_under
from shopwarranty.analysis.exposure import Lives, clusters_from_zero
from shopwarranty.analysis.family import effects_of
from shopwarranty.analysis.groups import GroupFigure, figures, whole_of
from shopwarranty.analysis.hazard import Fit, fit
from shopwarranty.analysis.lots import LotFigure, lots
from shopwarranty.analysis.patterns import Factor, Looks, Patterned, looks_of, packed_by
from shopwarranty.analysis.questions import Question
from shopwarranty.analysis.results import Effect
from shopwarranty.analysis.sample_size import Today, times_needed
from shopwarranty.analysis.verdicts import CLAIM_AT, FEWEST_EXPECTED
from tests.bench.simulator import Scenario, Simulated, simulate
from tests.bench.tally import Tally, tally

ADJUSTMENT = ("panel", "place", "installer")
KINDS = {"heated": "edge", "idle 0": "edge", "cold": "job", "idle 1": "job", "installer": "installer"}
BOUNDS = {"pooled": (0.93, 0.975), "thin": (0.93, 1.0)}


def streams(seed: int, runs: int, salt: int = 0) -> Iterator[np.random.Generator]:
    """Independent generators, one a run, the same for the same seed."""
    for child in np.random.SeedSequence([seed, salt]).spawn(runs):
        yield np.random.default_rng(child)


def asked_of(shop: Simulated, lives: Lives, *names: str) -> tuple[Ground, tuple[Factor, ...]]:
    kept = lives.watched
    chosen = [f.only(kept) for f in shop.named(*ADJUSTMENT)]
    return prepare(lives.only(kept), chosen, CHECK_BANDS), tuple(f.only(kept) for f in shop.named(*names))


@cache
def truth(
    scenario: Scenario, seed: int, shops: int = 4, vehicles: int = 30_000
) -> dict[tuple[str, str], float]:
    """Population log ratios by (factor, level): the same fit in `shops` very large shops, averaged."""
    large = replace(scenario, vehicles=vehicles, panel_log_sd=0.0)
    found: dict[tuple[str, str], list[float]] = {}
    for rng in streams(seed, shops, salt=99):
        shop = simulate(large, rng)
        ground, factors = asked_of(shop, shop.lives, *measured(scenario))
        for factor in factors:
            patterned, fitted = fitted_with(ground, (factor,))
            for level in factor.compared:
                at = patterned.columns.index((factor.name, level))
                found.setdefault((factor.name, factor.levels[level]), []).append(fitted.log_ratio[at])
    return {key: float(np.mean(values)) for key, values in found.items()}


def measured(scenario: Scenario) -> tuple[str, ...]:
    return ("heated", "cold", "installer", "lot", *(f"idle {k}" for k in range(scenario.idle)))


def kind_of(contrast: Contrast, scenario: Scenario) -> str:
    if contrast.factor == "lot":
        return "newest lot" if contrast.level == f"lot {scenario.lots - 1}" else "lot"
    return KINDS[contrast.factor]


@dataclass(frozen=True, slots=True)
class Coverage:
    """Share of 95 % intervals that hold the truth, by type of factor, all types, and thin levels apart."""

    by_kind: dict[str, Tally]
    pooled: Tally
    thin: Tally
    failures: float

    @property
    def passed(self) -> bool:
        """Thin levels are few; without any there is nothing to hold them to."""
        kinds = all(t.reaches(*BOUNDS["pooled"]) for t in self.by_kind.values())
        return kinds and (not self.thin.answers or self.thin.reaches(*BOUNDS["thin"]))


def coverage(scenario: Scenario, runs: int, seed: int, known: dict[tuple[str, str], float]) -> Coverage:
    """Intervals of `runs` shops against the `known` population log ratios."""
    kinds: dict[str, list[list[bool]]] = {}
    everything: list[list[bool]] = []
    thin: list[list[bool]] = []
    failures = []
    for rng in streams(seed, runs):
        shop = simulate(scenario, rng)
        ground, factors = asked_of(shop, shop.lives, *measured(scenario))
        mine: dict[str, list[bool]] = {}
        few: list[bool] = []
        for contrast in (c for f in factors for c in contrasts(ground, f)):
            held = _holds(contrast, known[contrast.factor, contrast.level])
            if min(contrast.expected, contrast.reference_expected) < FEWEST_EXPECTED:
                few.append(held)
            else:
                mine.setdefault(kind_of(contrast, scenario), []).append(held)
        for kind, answers in mine.items():
            kinds.setdefault(kind, []).append(answers)
        everything.append([held for answers in mine.values() for held in answers])
        thin.append(few)
        failures.append(len(ground.looks.failures))
    by_kind = {kind: tally(rows) for kind, rows in sorted(kinds.items())}
    return Coverage(by_kind, tally(everything), tally(thin), float(np.mean(failures)))


def _holds(contrast: Contrast, log_ratio: float) -> bool:
    low, high = contrast.interval()
    return bool(low <= np.exp(log_ratio) <= high)


@dataclass(frozen=True, slots=True)
class CurveCoverage:
    """95 % intervals of the share failed that hold the truth, and the mean estimate over it, by age."""

    by_day: dict[int, Tally]
    over_truth: dict[int, float]

    @property
    def passed(self) -> bool:
        return all(t.reaches(*BOUNDS["pooled"]) for t in self.by_day.values() if t.answers)


def curve_coverage(scenario: Scenario, days: tuple[int, ...], runs: int, seed: int) -> CurveCoverage:
    """Ages with nothing but an upper limit are left out; truth from one very large unwatched shop."""
    even = replace(scenario, panel_log_sd=0.0, newest_lot_ratio=1.0)
    large = simulate(replace(even, vehicles=40_000), np.random.default_rng([seed, 98])).record
    true = {day: float((large.failed_at <= day).mean()) for day in days}
    held: dict[int, list[list[bool]]] = {day: [] for day in days}
    ratios: dict[int, list[float]] = {day: [] for day in days}
    for rng in streams(seed, runs):
        for share in shares_failed(simulate(even, rng).lives, days):
            if share is not None and not share.limit_only:
                held[share.day].append([share.low <= true[share.day] <= share.high])
                ratios[share.day].append(share.estimate / true[share.day])
    return CurveCoverage(
        {day: tally(rows) for day, rows in held.items()},
        {day: float(np.mean(values)) for day, values in ratios.items() if values},
    )


@dataclass(frozen=True, slots=True)
class Idle:
    """Reviews of factors that do nothing: how many claimed anything, and how many a headline."""

    claimed: Tally
    headline: Tally
    contrasts: int
    failures: float

    @property
    def passed(self) -> bool:
        return self.claimed.reaches(0.0, 0.05) and self.headline.reaches(0.0, 0.05)


def family(shop: Simulated, claimed: tuple[str, ...]) -> tuple[Effect, ...]:
    """The claims of one review, as the product makes them."""
    names = tuple(dict.fromkeys((*ADJUSTMENT, *claimed)))
    return effects_of(Question(shop.lives, shop.named(*names), claimed, ADJUSTMENT), CHECK_BANDS)


def idle_reviews(scenario: Scenario, runs: int, seed: int) -> Idle:
    """Reviews of `scenario.idle` factors without effect; all other ratios stay as in the scenario."""
    claimed, headline, failures, size = [], [], [], 0
    for rng in streams(seed, runs):
        shop = simulate(scenario, rng)
        effects = family(shop, tuple(f"idle {k}" for k in range(scenario.idle)))
        called = [e for e in effects if e.verdict.claimed]
        claimed.append([bool(called)])
        headline.append([any(e.holm <= CLAIM_AT for e in called)])
        failures.append(int(shop.lives.found.sum()))
        size = len(effects)
    return Idle(tally(claimed), tally(headline), size, float(np.mean(failures)))


@dataclass(frozen=True, slots=True)
class Power:
    """How often a true doubling is called, and what the page says is still needed (as M: 1 is enough)."""

    called: Tally
    times_needed: float
    share_needing_none: float
    failures: float
    false_claims: Tally

    @property
    def passed(self) -> bool:
        """Held to 80 % only where today's places suffice on average."""
        return self.times_needed > 1.0 or self.called.reaches(0.80, 1.0)


def doubling(scenario: Scenario, factor: str, runs: int, seed: int) -> Power:
    """`factor` doubles the hazard among `scenario.idle` factors that do nothing."""
    called, false, times, failures = [], [], [], []
    for rng in streams(seed, runs):
        shop = simulate(scenario, rng)
        effects = family(shop, (factor, *(f"idle {k}" for k in range(scenario.idle))))
        mine = next(e for e in effects if e.contrast.factor == factor)
        others = [e for e in effects if e is not mine]
        c = mine.contrast
        now = Today(c.se, c.df, c.ratio, c.failures, c.reference_failures, c.edges + c.reference_edges)
        times.append(times_needed(now, len(effects), CLAIM_AT))
        called.append([mine.verdict.claimed])
        false.append([any(e.verdict.claimed for e in others)])
        failures.append(int(shop.lives.found.sum()))
    enough = float(np.mean(np.array(times) <= 1.0))
    return Power(tally(called), float(np.mean(times)), enough, float(np.mean(failures)), tally(false))


@dataclass(frozen=True, slots=True)
class RankingHonesty:
    """Chance to be among the worst three: said against happened in bins, and the worst panel found."""

    bins: tuple[tuple[float, float, int], ...]
    worst_in_first_three: Tally
    interval_covers: Tally
    failures_a_panel: float

    @property
    def largest_gap(self) -> float:
        """Largest difference said - happened beyond what chance leaves open, over bins; 0..1."""
        return max((_beyond(said, happened, n) for said, happened, n in self.bins), default=0.0)

    @property
    def passed(self) -> bool:
        found = self.failures_a_panel < 30 or self.worst_in_first_three.reaches(0.90, 1.0)
        return found and self.largest_gap <= 0.03


def _beyond(said: float, happened: float, count: int) -> float:
    error = 2.5758 * np.sqrt(max(said * (1 - said), 1e-4) / count)
    return max(0.0, float(abs(said - happened) - error))


def ranking(scenario: Scenario, runs: int, seed: int) -> RankingHonesty:
    """Panels of `runs` shops, each with its own true ratios."""
    said: list[float] = []
    happened: list[bool] = []
    worst, held, failures = [], [], []
    for i, rng in enumerate(streams(seed, runs)):
        true = np.exp(scenario.panel_log_sd * rng.standard_normal(scenario.panels))
        shop = simulate(replace(scenario, panel_ratios=tuple(true)), rng)
        panel = shop.named("panel")[0]
        lines = figures(whole_of(shop.lives, shop.named("place")), panel.codes, panel.levels, seed=i, days=())
        ratio = np.array([f.shrunken for f in lines], dtype=np.float64)
        among = np.isin(np.arange(len(true)), np.argsort(-true)[:3])
        said.extend(f.p_worst3 or 0.0 for f in lines)
        happened.extend(bool(a) for a in among)
        worst.append([bool(np.argmax(true) in np.argsort(-ratio)[:3])])
        held.append(_ratios_held(true, lines))
        failures.append(np.mean([f.failures for f in lines]))
    bins = _bins(np.array(said, dtype=float), np.array(happened, dtype=float))
    return RankingHonesty(bins, tally(worst), tally(held), float(np.mean(failures)))


def _ratios_held(true: FloatArray, lines: tuple[GroupFigure, ...]) -> list[bool]:
    """Truth as a ratio to the whole: weighed by the exposure each panel has."""
    days = np.array([f.edge_days for f in lines])
    whole = true / (true @ days / days.sum())
    pairs = [(f.shrunken_interval, w) for f, w in zip(lines, whole, strict=True)]
    return [bool(i.low <= w <= i.high) for i, w in pairs if i is not None]


def _bins(said: FloatArray, happened: FloatArray) -> tuple[tuple[float, float, int], ...]:
    place = np.digitize(said, (0.05, 0.25, 0.5, 0.75, 0.95))
    return tuple(
        (float(said[place == k].mean()), float(happened[place == k].mean()), int((place == k).sum()))
        for k in range(6)
        if (place == k).any()
    )


@dataclass(frozen=True, slots=True)
class LotWatch:
    """Ten lots over two years, looked at every month: false alarms, and one lot three times as bad."""

    at_most_one_false_alarm: Tally
    false_alarms_a_lot: float
    threefold_called: Tally
    threefold_by_today: Tally

    @property
    def passed(self) -> bool:
        return self.at_most_one_false_alarm.reaches(0.93, 1.0) and self.threefold_called.reaches(0.80, 1.0)


ENOUGH_EXPECTED = 6.0
A_MONTH = 30


@cache
def settled_fit(scenario: Scenario, seed: int) -> Fit:
    """The hazard of one very large shop without a bad lot: what is truly expected of a lot."""
    idle = replace(scenario, vehicles=40_000, lot_ratios=(1.0,) * scenario.lots)
    shop = simulate(idle, np.random.default_rng([seed, 97]))
    return fit(_packed(shop, shop.lives)[1].packed)


def _packed(shop: Simulated, lives: Lives) -> tuple[Looks, Patterned]:
    kept = lives.watched
    looks = looks_of(lives.only(kept), CHECK_BANDS)
    return looks, packed_by(looks, [f.only(kept) for f in shop.named("panel", "place")])


def lot_watch(scenario: Scenario, shops: int, seed: int) -> LotWatch:
    """`shops` shops without a bad lot, and as many in which one fails three times as often, each in turn."""
    quiet, alarms = [], 0
    for rng in streams(seed, shops):
        first = _first_alerts(
            simulate(replace(scenario, lot_ratios=(1.0,) * scenario.lots), rng), scenario, None
        )
        ever = sum(step is not None for step, _ in first)
        alarms += ever
        quiet.append([ever <= 1])
    called, by_today = [], []
    true = settled_fit(replace(scenario, vehicles=0), seed)
    for i, rng in enumerate(streams(seed, shops, salt=1)):
        bad = 1 + i % (scenario.lots - 1)
        ratios = tuple(3.0 if k == bad else 1.0 for k in range(scenario.lots))
        alert, enough = _first_alerts(simulate(replace(scenario, lot_ratios=ratios), rng), scenario, true)[
            bad
        ]
        by_today.append([alert is not None])
        if enough is not None:
            called.append([alert is not None and alert <= enough])
    return LotWatch(tally(quiet), alarms / (shops * scenario.lots), tally(called), tally(by_today))


def _first_alerts(
    shop: Simulated, scenario: Scenario, true: Fit | None
) -> list[tuple[int | None, int | None]]:
    """For each lot the month of its first alert, and the month its truly expected failures reached six."""
    found: list[tuple[int | None, int | None]] = [(None, None)] * scenario.lots
    months = int(scenario.years * 365) // A_MONTH
    for month in range(1, months + 1):
        lives = shop.record.lives(days_ago=(months - month) * A_MONTH)
        if not lives.found.any():
            continue
        figures_now, expected = _lots_as_of(shop, scenario, lives, true)
        for k, figure in enumerate(figures_now):
            alert, enough = found[k]
            alert = month if alert is None and figure.alert else alert
            reached = enough is None and expected[k] >= ENOUGH_EXPECTED
            found[k] = (alert, month if reached else enough)
    return found


def _lots_as_of(
    shop: Simulated, scenario: Scenario, lives: Lives, true: Fit | None
) -> tuple[tuple[LotFigure, ...], FloatArray]:
    """What the shop's own record says of its lots, and what is truly expected of each."""
    looks, patterned = _packed(shop, lives)
    lot = shop.lot[lives.watched]
    own = expected_under(looks, patterned, fit(patterned.packed))
    vehicle = clusters_from_zero(looks.lives.cluster)[0]
    figures_now = lots(lot, scenario.lots, vehicle, looks.lives.found.astype(float), own)
    known = own if true is None else expected_under(looks, patterned, true)
    return figures_now, np.bincount(lot, known, scenario.lots).astype(np.float64)
