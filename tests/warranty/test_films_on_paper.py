"""What a film was called and what it was laid on, as it was then."""

import pytest

from shopwarranty.films.actions import change_product
from shopwarranty.jobs import actions as jobs
from shopwarranty.jobs.models import PanelWork
from shopwarranty.jobs.record import load_record
from shopwarranty.shops.models import Change
from tests.conftest import NOW
from tests.warranty.conftest import Yard


@pytest.mark.usefixtures("plain_pdf")
def test_e30_a_film_renamed_by_its_maker_keeps_its_old_name_on_the_certificate(yard: Yard) -> None:
    certificate = yard.issue()
    product = yard.rolls[0].product
    change_product(product=product, values={"name": "Clear 8 Plus"}, actor=yard.actor, now=NOW)
    certificate.refresh_from_db()
    assert "Clear 8" in {film["name"] for film in certificate.snapshot["films"]}
    assert "Clear 8 Plus" not in str(certificate.snapshot)
    change = Change.objects.get(act="film changed")
    assert (change.before, change.after) == ({"name": "Clear 8"}, {"name": "Clear 8 Plus"})


@pytest.mark.parametrize("substrate", ["paint", "repaint", "bare", "film", "coating", ""])
def test_e24_what_the_film_lies_on_is_kept_and_not_recorded_stays_so(yard: Yard, substrate: str) -> None:
    job = yard.job(panels=["bonnet"])
    work = PanelWork.objects.get(job=job)
    jobs.record_intake(
        panel_work=work, substrate=substrate, actor=yard.actor, now=NOW, reason="typed from the card"
    )
    intake = load_record(job).panels[0].intake
    assert intake is not None
    assert intake.substrate == substrate
