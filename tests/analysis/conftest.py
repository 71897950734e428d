"""The statistics are pure: their tests need no database, no settings and no folders."""

import pytest


@pytest.fixture(autouse=True)
def own_folders() -> None:
    """Nothing here writes a file."""
