"""A yard to hand over from."""

import pytest

from tests.conftest import ShopPeople
from tests.warranty.conftest import Yard, make_yard


@pytest.fixture
def yard(ours: ShopPeople) -> Yard:
    return make_yard(ours)
