"""What a replaced edition said is promised no more; a claim of the only film on a job is that film's."""

from datetime import timedelta

import pytest

from shopwarranty.review.promises.ahead import work_out
from shopwarranty.review.promises.asked import Asked
from shopwarranty.review.promises.counting import counting
from shopwarranty.review.promises.record import JobRow, load_promises
from shopwarranty.warranty import actions
from shopwarranty.warranty.models import Certificate
from tests.builders import TODAY
from tests.conftest import NOW, ShopPeople
from tests.warranty.conftest import Yard, make_yard, plain_pdf  # noqa: F401 (a fixture)

from .test_promise_costs import claimed, handed


@pytest.fixture
def yard(ours: ShopPeople, plain_pdf: None) -> Yard:  # noqa: F811
    return make_yard(ours)


def corrected(yard: Yard) -> tuple[Certificate, Certificate]:
    """Issued for one day, replaced for a day a month earlier; the job is handed over."""
    job = yard.job(panels=("bonnet",))
    first = yard.issue(job, handed_over_on=TODAY)
    earlier = TODAY - timedelta(days=31)
    prepared = actions.prepare_edition(certificate=first, handed_over_on=earlier, now=NOW)
    second = actions.issue_prepared(prepared=prepared, actor=yard.actor, now=NOW)
    type(job).objects.filter(pk=job.pk).update(
        state="handed_over", handed_over_on=earlier, handed_over_at=NOW - timedelta(days=31)
    )
    return first, second


def only_job(people: ShopPeople) -> JobRow:
    (job,) = load_promises(people.shop).jobs
    return job


def test_the_last_day_is_that_of_the_edition_in_force(yard: Yard) -> None:
    first, second = corrected(yard)
    assert second.last_day < first.last_day
    assert only_job(yard.people).last_day == second.last_day


def test_a_promise_withdrawn_after_a_correction_counts_until_that_day(yard: Yard) -> None:
    _first, second = corrected(yard)
    actions.withdraw_certificate(
        certificate=second, reason="issued_in_error", note="Another car.", actor=yard.actor, now=NOW
    )
    job = only_job(yard.people)
    assert (job.gone_on, job.last_day) == (TODAY, None)


def test_claims_that_name_no_place_are_forecast_with_the_only_film_of_their_job(ours: ShopPeople) -> None:
    for number in range(24):
        job = handed(100 + 40 * number)
        if number % 2:
            claimed(job, 20 + 40 * number, placed=False)
    record = load_promises(ours.shop)
    (family,) = record.families
    of_all = work_out(counting(record, Asked(), TODAY)).claims
    of_film = work_out(counting(record, Asked(family=family), TODAY)).claims
    assert of_all.counted is not None
    assert of_film == of_all
