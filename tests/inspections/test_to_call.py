"""Who is on the list of calls, and that its count says the same."""

from datetime import timedelta

import pytest

from shopwarranty.inspections import selectors
from shopwarranty.inspections.models import Check, CheckRules, ContactAttempt
from tests import builders as b
from tests.conftest import NOW, ShopPeople


def called() -> set[Check]:
    rows = set(selectors.to_call(b.TODAY, NOW))
    first, number = selectors.first_to_call(b.TODAY, NOW, 12)
    assert (set(first), number, selectors.calls(b.TODAY, NOW)) == (rows, len(rows), len(rows))
    return rows


def stays_away(check: Check, times: int) -> None:
    for nth in range(times):
        booking = b.a_booking(check, on=b.days_ago(nth + 1), lane=nth + 1)
        booking.quarters.all().delete()
        type(booking).objects.filter(pk=booking.pk).update(state="not_kept")


@pytest.mark.parametrize(
    ("often", "away", "is_called"),
    [(None, 2, True), (None, 3, False), (2, 1, True), (2, 2, False), (0, 0, True), (0, 1, False)],
)
def test_whoever_stayed_away_as_often_as_the_shop_says_is_left_alone(
    ours: ShopPeople, often: int | None, away: int, is_called: bool
) -> None:
    if often is not None:
        CheckRules.objects.update_or_create(shop=ours.shop, defaults={"offers_at_most": often})
    check = b.a_check()
    stays_away(check, away)
    assert called() == ({check} if is_called else set())


@pytest.mark.parametrize(("hours", "is_called"), [(-1, True), (0, True), (1, False)])
def test_who_asked_to_be_called_later_is_called_then(ours: ShopPeople, hours: int, is_called: bool) -> None:
    """The last call counts, not an earlier one."""
    check = b.a_check()
    again = {"check_due": check, "vehicle": check.job.vehicle, "member": ours.desk, "result": "call_again"}
    ContactAttempt.objects.create(at=NOW - timedelta(days=2), again_at=NOW + timedelta(days=9), **again)
    later = NOW + timedelta(hours=hours)
    ContactAttempt.objects.create(at=NOW - timedelta(days=1), again_at=later, **again)
    assert called() == ({check} if is_called else set())
