"""The parts that `.ci/long PART` knows. To add one, write its rounds and list it here."""

from tests.bench import analysis_rounds, whole_suite
from tests.bench.rounds import Part

PARTS: dict[str, Part] = {
    "intervals": Part("95 % intervals of the review hold the truth", analysis_rounds.coverage),
    "curves": Part("intervals of the share failed by an age hold the truth", analysis_rounds.curves),
    "idle": Part("reviews of factors that do nothing claim nothing", analysis_rounds.idle),
    "doubling": Part("a true doubling is called once the page says enough is watched", analysis_rounds.power),
    "ranking": Part("the chance to be among the worst three is honest", analysis_rounds.ranking),
    "lots": Part("a bad lot is called in time, idle lots are not", analysis_rounds.lots),
    "review_speed": Part("a review of a million lives beside a library's single fit", analysis_rounds.speed),
    "queries": Part("pages of ten thousand jobs ask as often as of ten", whole_suite.query_counts),
    "postgres": Part("the whole suite on PostgreSQL, room by room", whole_suite.on_postgres),
}
