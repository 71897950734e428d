"""A standard full front with three deviations: every link followed and button pressed is counted."""

from collections.abc import Callable
from typing import Any
from urllib.parse import urljoin

from django.test import Client
from django.urls import reverse

from shopwarranty.jobs.models import Deviation, Job, Place
from shopwarranty.jobs.record import load_record

from .conftest import Bench

WANTED = 25


class Hand:
    """A finger on the pages: what is not typed is a tap, and only what the page offers can be tapped."""

    def __init__(self, client: Client) -> None:
        self.client, self.taps, self.page = client, 0, ""
        self.at: Any = None

    def open(self, address: str) -> None:
        self.at = self.client.get(address)
        self.page = self.at.content.decode()

    def tap(self, address: str) -> None:
        assert f'href="{address}' in self.page.replace("&amp;", "&"), f"{address} is not offered"
        self.taps += 1
        self.open(urljoin(self.at.request["PATH_INFO"], address))

    def press(self, address: str, button: str, form: dict[str, Any], pieces: int = 0) -> None:
        """One press of a button; `pieces` are radio pieces or stepper presses made before it."""
        assert button in self.page, f"{button} is not offered"
        self.taps += 1 + pieces
        self.at = self.client.post(address, form, follow=True)
        self.page = self.at.content.decode()


def test_a_full_front_with_three_deviations_takes_at_most_25_taps(
    bench: Bench, place_of: Callable[[Job, str, str], Place]
) -> None:
    hand = Hand(bench.people.client(bench.people.installer))

    def url(name: str, pk: int) -> str:
        return reverse(name, args=["kiln", pk])

    hand.open(url("vehicle", bench.vehicle.pk))
    hand.tap(url("start-job", bench.vehicle.pk))
    form = {"method": bench.method.pk, "roll": bench.roll.pk, "panels": "front"}
    hand.press(url("start-job", bench.vehicle.pk), "Full front, 8 panels", form)
    job = Job.objects.get()
    differ = {
        "left-front-door": [("handle", {"post_heated": "no"}), ("bottom", {"passes": "1"})],
        "right-wing": [("arch", {"passes": "4"})],
    }
    for _panel in range(8):
        panel = hand.at.context["panel"]
        for key, said in differ.get(panel.key, []):
            place = place_of(job, panel.key, key)
            hand.tap(f"?place={place.pk}")
            hand.press(
                url("place", place.pk), 'value="trim_in_way"', {**said, "quick": "trim_in_way"}, pieces=1
            )
        version = hand.at.context["panel"].version
        hand.press(url("confirm-panel", panel.id), "finished", {"finished": "1", "version": version})
    record = load_record(job)
    assert len(record.finished_panels) == 8
    assert Deviation.objects.filter(undone_at__isnull=True).count() == 3
    assert hand.at.request["PATH_INFO"] == url("job", job.pk)
    print(f"\n{hand.taps} taps from the saved vehicle to a finished front with three deviations")
    assert hand.taps <= WANTED
