"""The parts that `.ci/long PART` knows. To add one, write its rounds and list it here."""

from collections.abc import Callable

from tests.bench import analysis_rounds, photo_rounds, whole_suite
from tests.bench.rounds import Part, Round

STATISTICS = (
    "shopwarranty/analysis",
    ":!shopwarranty/analysis/check_timing.py",
    ":!shopwarranty/analysis/before_after.py",
    ":!shopwarranty/analysis/held.py",
    ":!shopwarranty/analysis/packing.py",
    ":!shopwarranty/analysis/review_json.py",
    ":!shopwarranty/analysis/flat_file.py",
    "tests/bench/analysis_rounds.py",
    "tests/bench/calibration.py",
    "tests/bench/simulator.py",
    "tests/bench/tally.py",
    "requirements-test.lock",
)
"""Nothing else enters the figures of the analysis."""

SPEED = (*(path for path in STATISTICS if "packing" not in path), "tests/bench/review_speed.py")


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
    "queries": Part("pages of ten thousand jobs ask as often as of ten", whole_suite.query_counts),
    "photos": Part("a thousand mutated photos are kept clean or refused", photo_rounds.mutated),
    "postgres": Part("the whole suite on PostgreSQL, room by room", whole_suite.on_postgres),
}
