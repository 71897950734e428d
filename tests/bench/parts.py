"""The parts that `.ci/long PART` knows. To add one, write its rounds and list it here."""

from tests.bench import whole_suite
from tests.bench.rounds import Part

PARTS: dict[str, Part] = {
    "postgres": Part("the whole suite on PostgreSQL, room by room", whole_suite.on_postgres),
}
