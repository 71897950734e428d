"""Small made-up worlds for the tests, each from a seed."""

import numpy as np

from shopwarranty.analysis.arrays import FloatArray, IntArray
from shopwarranty.analysis.exposure import NEVER, Lives, lives_of

CHECKS = np.array([14, 90, 365, 730])
ATTENDED = np.array([0.75, 0.55, 0.5, 0.45])


def seen_at_checks(
    failed_at: FloatArray,
    cluster: IntArray,
    rng: np.random.Generator,
    entry: IntArray | None = None,
    age: IntArray | None = None,
) -> Lives:
    """What four checks would know of places failing at these ages; vehicles miss checks as a whole.

    `age`: how old each place is today; later checks have not happened.
    """
    size, vehicles = len(failed_at), int(cluster.max()) + 1
    start = np.zeros(size, dtype=np.int64) if entry is None else entry
    today = np.full(size, CHECKS[-1]) if age is None else age
    clean, failed = np.full(size, NEVER), np.full(size, NEVER)
    for day, share in zip(CHECKS, ATTENDED, strict=True):
        here = (rng.random(vehicles) < share)[cluster] & (failed == NEVER) & (day > start) & (day <= today)
        failed = np.where(here & (failed_at <= day), day, failed)
        clean = np.where(here & (failed_at > day), day, clean)
    return lives_of(start, clean, failed, cluster)


def constant_world(seed: int, vehicles: int = 60, places: int = 12, rate: float = 2e-4) -> Lives:
    """Independent places with a constant hazard of `rate` a day."""
    rng = np.random.default_rng(seed)
    cluster = np.repeat(np.arange(vehicles), places)
    return seen_at_checks(rng.exponential(1 / rate, len(cluster)), cluster, rng)


def late_world(seed: int, vehicles: int = 60, places: int = 12, rate: float = 3e-4) -> Lives:
    """As above, a third of the vehicles watched only from day 50."""
    rng = np.random.default_rng(seed)
    cluster = np.repeat(np.arange(vehicles), places)
    entry = np.where(cluster % 3 == 0, 50, 0)
    failed_at = entry + rng.exponential(1 / rate, len(cluster))
    return seen_at_checks(failed_at, cluster, rng, entry)
