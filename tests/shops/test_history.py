"""What the history can keep."""

from typing import Any

import pytest

from shopwarranty.shops.history import Actor, record_change
from tests.conftest import NOW

pytestmark = pytest.mark.django_db


def test_a_row_is_kept_in_the_history_as_its_id(ours: Any) -> None:
    change = record_change(
        row=ours.owner, act="named", actor=Actor.of(ours.owner), at=NOW, after={"by": ours.desk, "how": "x"}
    )
    assert change.after == {"by": ours.desk.pk, "how": "x"}
