"""Rounds of the long parts that show whether the statistics keep their promises, and how fast they are."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from tests.bench import calibration, review_speed
from tests.bench.rounds import Figures, Round, Value
from tests.bench.simulator import Scenario

IDLE_FACTORS = 30
RUNS = {200: 600, 800: 600, 3000: 200}
ALIKE = (1.0, 1.0, 1.0)
PLAIN = Scenario(heat_ratio=1.0, cold_ratio=1.0, installer_ratios=ALIKE)
"""Nothing but panels, places, lots and frailty."""

AVERAGE_FRAILTY = 1.40
"""Mean of the simulator's frailties and places: first_year is what a place fails by without them."""


def coverage() -> tuple[Round, ...]:
    scenarios = [
        Scenario(vehicles=vehicles, baseline=baseline, idle=2, callbacks=share, attends_after_callback=comes)
        for vehicles in RUNS
        for baseline in ("early", "rising", "bathtub")
        for share, comes in ((0.0, 1.0), (0.35, 0.85))
    ]
    rare = [Scenario(vehicles=200, baseline=b, first_year=0.008, idle=2) for b in ("early", "rising")]
    calm = [
        Scenario(vehicles=800, baseline=b, vehicle_sd=0.0, panel_sd=0.0, idle=2) for b in ("early", "bathtub")
    ]
    return tuple(Round(_named(s), _covering(s)) for s in (*scenarios, *rare, *calm))


def _named(scenario: Scenario) -> str:
    frailty = "" if scenario.vehicle_sd else " no frailty"
    callbacks = " callbacks" if scenario.callbacks else ""
    return f"{scenario.vehicles} {scenario.baseline} {scenario.first_year:g}{frailty}{callbacks}"


def _covering(scenario: Scenario) -> Callable[[int], Figures]:
    def run(seed: int) -> Figures:
        known = calibration.truth(scenario, seed)
        found = calibration.coverage(scenario, RUNS[scenario.vehicles], seed, known)
        kinds: dict[str, Value] = {kind: t.written for kind, t in found.by_kind.items()}
        figures = {
            "all": found.pooled.written,
            **kinds,
            "thin": found.thin.written,
            "failures": found.failures,
        }
        return Figures(found.passed, figures)

    return run


def curves() -> tuple[Round, ...]:
    scenarios = [Scenario(vehicles=v, baseline=b) for v in (200, 800) for b in ("early", "rising", "bathtub")]
    return tuple(Round(_named(s), _curve(s)) for s in scenarios)


def _curve(scenario: Scenario, runs: int = 300) -> Callable[[int], Figures]:
    def run(seed: int) -> Figures:
        found = calibration.curve_coverage(scenario, (16, 95, 370), runs, seed)
        held = {f"day {day}": t.written for day, t in found.by_day.items()}
        over = {f"mean over truth, day {day}": ratio for day, ratio in found.over_truth.items()}
        return Figures(found.passed, {**held, **over})

    return run


def idle() -> tuple[Round, ...]:
    scenarios = [
        Scenario(vehicles=200, idle=IDLE_FACTORS),
        Scenario(vehicles=200, baseline="rising", idle=IDLE_FACTORS),
        Scenario(vehicles=800, idle=IDLE_FACTORS),
        Scenario(vehicles=800, baseline="bathtub", idle=IDLE_FACTORS),
    ]
    return tuple(Round(_named(s), _idle(s)) for s in scenarios)


def _idle(scenario: Scenario, runs: int = 1000) -> Callable[[int], Figures]:
    def run(seed: int) -> Figures:
        found = calibration.idle_reviews(scenario, runs, seed)
        return Figures(
            found.passed,
            {
                "claimed": found.claimed.written,
                "headline": found.headline.written,
                "contrasts": found.contrasts,
                "failures": found.failures,
            },
        )

    return run


def power() -> tuple[Round, ...]:
    """Sizes at which the page's own M stands near 1 on average; where it is above, power is only shown."""
    plain = Scenario(installer_ratios=ALIKE, heat_ratio=1.0, cold_ratio=1.0, idle=IDLE_FACTORS)
    scenarios = [
        ("heated", replace(plain, vehicles=370, heat_ratio=2.0)),
        ("heated", replace(plain, vehicles=500, heat_ratio=2.0)),
        ("cold", replace(plain, vehicles=490, cold_ratio=2.0)),
        ("cold", replace(plain, vehicles=600, cold_ratio=2.0)),
    ]
    return tuple(Round(f"{factor} {_named(s)}", _doubling(s, factor)) for factor, s in scenarios)


def _doubling(scenario: Scenario, factor: str, runs: int = 300) -> Callable[[int], Figures]:
    def run(seed: int) -> Figures:
        found = calibration.doubling(scenario, factor, runs, seed)
        return Figures(
            found.passed,
            {
                "called": found.called.written,
                "mean M": found.times_needed,
                "M at most 1": found.share_needing_none,
                "failures": found.failures,
                "false claims": found.false_claims.written,
            },
        )

    return run


def ranking() -> tuple[Round, ...]:
    scenarios = [
        replace(PLAIN, vehicles=800, panels=12, panel_log_sd=0.45, first_year=0.025),
        replace(PLAIN, vehicles=800, panels=12, panel_log_sd=0.3, first_year=0.04),
        replace(PLAIN, vehicles=200, panels=12, panel_log_sd=0.45, first_year=0.015),
    ]
    return tuple(Round(f"{_named(s)} sd {s.panel_log_sd}", _ranking(s)) for s in scenarios)


def _ranking(scenario: Scenario, runs: int = 300) -> Callable[[int], Figures]:
    def run(seed: int) -> Figures:
        found = calibration.ranking(scenario, runs, seed)
        said = {f"said {s:.2f}": f"{h:.2f} (n {n})" for s, h, n in found.bins}
        return Figures(
            found.passed,
            {
                "worst in first three": found.worst_in_first_three.written,
                "interval covers": found.interval_covers.written,
                "failures a panel": found.failures_a_panel,
                **said,
            },
        )

    return run


def lots() -> tuple[Round, ...]:
    """Lots large enough for their expected failures to reach six within the two years."""
    sizes = ((0.01, 55), (0.025, 30))
    return tuple(Round(f"{100 * share:g} % a year", _lots(share, size)) for share, size in sizes)


def _lots(share: float, size: int, shops: int = 200) -> Callable[[int], Figures]:
    def run(seed: int) -> Figures:
        scenario = replace(PLAIN, vehicles=10 * size, first_year=share / AVERAGE_FRAILTY, panel_log_sd=0.0)
        scenario = replace(scenario, lots=10)
        found = calibration.lot_watch(scenario, shops, seed)
        return Figures(
            found.passed,
            {
                "at most one false alarm": found.at_most_one_false_alarm.written,
                "false alarms a lot": found.false_alarms_a_lot,
                "3x called at E 6": found.threefold_called.written,
                "3x called by today": found.threefold_by_today.written,
            },
        )

    return run


def speed() -> tuple[Round, ...]:
    return (Round("1,000,000 lives", _speed(1_000_000)),)


def _speed(lives: int) -> Callable[[int], Figures]:
    def run(seed: int) -> Figures:
        found = review_speed.growth(lives, seed)
        large = found.large
        fit, whole = large.regression_times or 0.0, large.review_times or 0.0
        values = {
            "vehicles": large.vehicles,
            "failures": large.failures,
            "columns": large.columns,
            "reading s": large.reading,
            "regression s": large.regression,
            "review s": large.review,
            "library s": large.library or 0.0,
            "regression faster": fit,
            "review faster": whole,
            "small review s": found.small.review,
            "growth": found.times,
        }
        return Figures(fit >= 100 and whole >= 10 and found.times <= 10, values)

    return run
