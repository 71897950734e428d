"""The page of a lot: everything that was laid of it, whom to call, and nobody told by itself."""

from shopwarranty.films.models import Lot
from shopwarranty.outbox.models import Message
from tests import builders as b
from tests.conftest import ShopPeople


def test_E29_a_lot_held_back_lists_its_jobs_and_whom_to_call_and_writes_to_nobody(ours: ShopPeople) -> None:
    """A maker's notice about a batch; common practice, no source."""
    lot, other = b.a_lot(), b.a_lot()
    said = {"A. Example": "555-0142", "B. Example": "555-0143"}
    holders = [b.a_holder(name, telephone=number) for name, number in said.items()]
    jobs = [b.a_job(vehicle=b.a_vehicle(holder=holder), lot=lot) for holder in holders]
    untouched = b.a_job(vehicle=b.a_vehicle(holder=b.a_holder("C. Example", telephone="555-0144")), lot=other)
    client = ours.client(ours.desk)
    client.post(f"/s/kiln/lots/{lot.pk}/quarantine/", {"reason": "maker's notice"})
    assert Lot.objects.get(quarantined_at__isnull=False) == lot
    shown = client.get(f"/s/kiln/lots/{lot.pk}/").content.decode()
    assert "is on 2 vehicles, in 2 pieces" in shown
    for words in (*said, *said.values(), *(f"/jobs/{job.pk}/" for job in jobs)):
        assert words in shown
    assert "555-0144" not in shown
    assert f"/jobs/{untouched.pk}/" not in shown
    assert not Message.objects.exists()
