"""Figures are kept between requests by the state of the record; tests of one process must not meet."""

from collections.abc import Iterator

import pytest
from django.core.cache import cache


@pytest.fixture(autouse=True)
def nothing_kept() -> Iterator[None]:
    cache.clear()
    yield
    cache.clear()
