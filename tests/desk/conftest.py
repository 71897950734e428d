"""A yard to hand over from."""

import pytest

from tests.conftest import ShopPeople
from tests.many_hands import shared_database as shared_database
from tests.warranty.conftest import Yard, make_yard
from tests.warranty.conftest import plain_pdf as plain_pdf


@pytest.fixture
def yard(ours: ShopPeople) -> Yard:
    return make_yard(ours)
