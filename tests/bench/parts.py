"""The parts that `.ci/long PART` knows. To add one, write its rounds and list it here."""

from collections.abc import Callable

from tests.bench import (
    analysis_rounds,
    fault_rounds,
    growth_rounds,
    issuing_rounds,
    load,
    null_trials,
    photo_rounds,
    promise_shops,
    trial_power,
    whole_suite,
)
from tests.bench.rounds import Part, Round

MODULES = (
    "aliasing arrays bands curve effects expected exposure family groups hazard lots multiplicity notices"
    " npmle patterns proportions questions ranking results review sample_size sandwich stratified verdicts"
).split()
STATISTICS = (
    *(f"shopwarranty/analysis/{module}.py" for module in MODULES),
    *(f"tests/bench/{module}.py" for module in ("analysis_rounds", "calibration", "simulator", "tally")),
)
"""Nothing else of ours enters the figures of the analysis."""

TRIALS = ("trial_sequence.py", "trial_pairs.py", "trial_draw.py", "proportions.py")
POWERED = (*TRIALS, "trial_blocks.py", "trial_strata.py")

SPEED = (*STATISTICS, "shopwarranty/analysis/packing.py", "tests/bench/review_speed.py")

ISSUING = ("shopwarranty/warranty", "shopwarranty/desk/batch.py", "tests/bench/issuing_speed.py")

FORECAST = (
    *(f"shopwarranty/analysis/{name}.py" for name in ("claim_rates", "forecast", "reporting")),
    *(f"tests/bench/{name}.py" for name in ("promise_shops", "tally")),
)


def statistical(
    about: str, rounds: Callable[[], tuple[Round, ...]], code: tuple[str, ...] = STATISTICS
) -> Part:
    return Part(about, rounds, code=code)


PARTS: dict[str, Part] = {
    "intervals": statistical("95 % intervals of the review hold the truth", analysis_rounds.coverage),
    "curves": statistical("intervals of the share failed by an age hold the truth", analysis_rounds.curves),
    "idle": statistical("reviews of factors that do nothing claim nothing", analysis_rounds.idle),
    "doubling": statistical(
        "a true doubling is called once the page says enough is watched", analysis_rounds.power
    ),
    "ranking": statistical("the chance to be among the worst three is honest", analysis_rounds.ranking),
    "lots": statistical("a bad lot is called in time, idle lots are not", analysis_rounds.lots),
    "review_speed": statistical(
        "a review of a million lives beside a library's single fit", analysis_rounds.speed, SPEED
    ),
    "kills": Part(
        "web and worker killed 200 times on either database: told at most once, lost never",
        fault_rounds.kills,
    ),
    "faults": Part(
        "web, worker and database killed 300 times: nothing acknowledged is lost or done twice",
        fault_rounds.faults,
    ),
    "races": Part("32 clients race for the last place of a slot, fifty times", fault_rounds.races),
    "year": Part("a simulated year of 500 jobs ends as an oracle says", fault_rounds.year),
    "tick": Part("a tick over 100,000 jobs and 300,000 checks beside bare SQL", fault_rounds.tick),
    "trials": statistical(
        "trials of arms that are alike are rarely told apart by weekly looking; doublings are found",
        null_trials.rounds,
        (*(f"shopwarranty/analysis/{name}" for name in TRIALS), "tests/bench/null_trials.py"),
    ),
    "forecast": statistical(
        "90 % intervals of claims and cost to come hold what then happens", promise_shops.rounds, FORECAST
    ),
    "trial_power": statistical(
        "vehicles until a doubling is found, by a trial and by the ordinary review, side by side",
        trial_power.rounds,
        (*STATISTICS, *(f"shopwarranty/analysis/{name}" for name in POWERED), "tests/bench/trial_power.py"),
    ),
    "pages": Part("pages of 100,000 jobs beside an empty signed-in one", growth_rounds.pages),
    "shops": Part("a thousand shops in one PostgreSQL: plans touch one shop only", growth_rounds.shops),
    "fuzz": Part("fifty thousand forms filled with what nobody would type", whole_suite.fuzzed),
    "load": Part("fifty people at once for five minutes: every page beside an empty one", load.rounds),
    "issuing": statistical(
        "issuing beside bare rendering; a thousand in one batch", issuing_rounds.rounds, ISSUING
    ),
    "queries": Part("pages of ten thousand jobs ask as often as of ten", whole_suite.query_counts),
    "barriers": Part("axe-core finds nothing on any page in any colours", whole_suite.barriers),
    "photos": Part("a thousand mutated photos are kept clean or refused", photo_rounds.mutated),
    "postgres": Part("the whole suite on PostgreSQL, room by room", whole_suite.on_postgres),
}
