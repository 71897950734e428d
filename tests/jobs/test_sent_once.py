"""Entries of a phone: stored once, at the time they were pressed, by their own member, or not at all."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shopwarranty.jobs.models import Deviation, Job, PanelWork, Place, Reading
from shopwarranty.shops.models import Change
from shopwarranty.shops.models.people import PhoneReceipt

from .conftest import Bench

PlaceOf = Callable[[Job, str, str], Place]


@pytest.fixture
def client(bench: Bench) -> Client:
    return bench.people.client(bench.people.installer)


def send(client: Client, bench: Bench, name: str, pk: int, entry: dict[str, Any], **fields: Any) -> Any:
    """As the script sends it, its notices unheard."""
    values = {"entry_member": bench.people.installer.pk, **entry, **fields}
    url = reverse(name, args=["kiln", pk])
    return client.post(url, values, headers={"Accept": "application/json", "X-Quiet": "1"})


def entry(**more: Any) -> dict[str, Any]:
    return {"entry_uid": str(uuid4()), "entry_age": "0", **more}


def seen(client: Client, place: Place) -> str:
    """What the form of the place says that its reader saw."""
    panel = place.piece.panel_work_id
    page = client.get(reverse("panel", args=["kiln", panel]), {"place": place.pk})
    return str(page.context["form"]["seen"].value())


def test_e91_a_reading_sent_twice_is_stored_once_and_answered_the_same(bench: Bench, client: Client) -> None:
    job, one = bench.job(), entry()
    answers = [send(client, bench, "job-readings", job.pk, one, air="70").json() for _time in range(2)]
    assert (
        answers[0] == answers[1] == {"kept": one["entry_uid"], "next": reverse("job", args=["kiln", job.pk])}
    )
    assert str(Reading.objects.get().uid) == one["entry_uid"]
    assert PhoneReceipt.objects.count() == 1
    assert Change.objects.filter(act="reading").count() == 1


def test_e91_a_place_and_its_panel_sent_twice_differ_once_and_are_finished_once(
    bench: Bench, client: Client, place_of: PlaceOf
) -> None:
    place = place_of(bench.front(("bonnet",)), "bonnet", "left")
    panel, first, second = place.piece.panel_work, entry(), entry()
    form = {"post_heated": "no", "quick": "film_short", "seen": seen(client, place)}
    for _time in range(2):
        assert send(client, bench, "place", place.pk, first, **form).status_code == 200
        done = {"finished": "1", "version": panel.version}
        assert send(client, bench, "confirm-panel", panel.pk, second, **done).status_code == 200
    assert Deviation.objects.count() == 1
    acts = Change.objects.filter(act__in=("values", "confirmed by method", "panel finished"))
    assert sorted(acts.values_list("act", flat=True)) == ["confirmed by method", "panel finished", "values"]


def test_what_waited_on_the_phone_counts_from_when_it_was_pressed(bench: Bench, client: Client) -> None:
    """Three hours in a cellar: the panel was finished and the air was read three hours ago."""
    job = bench.front(("bonnet",))
    panel, late = job.panels.get(), {"entry_age": str(3 * 3600 * 1000)}
    send(client, bench, "job-readings", job.pk, entry(**late), air="70")
    send(client, bench, "confirm-panel", panel.pk, entry(**late), finished="1", version=panel.version)
    then = timezone.now() - timedelta(hours=3)
    finished = PanelWork.objects.get(pk=panel.pk).finished_at
    assert finished is not None
    assert abs(finished - then) < timedelta(minutes=1)
    assert abs(Reading.objects.get().at - then) < timedelta(minutes=1)
    assert abs(Reading.objects.get().entered_at - timezone.now()) < timedelta(minutes=1)


def test_what_is_refused_is_answered_with_its_words_and_may_be_sent_again(
    bench: Bench, client: Client
) -> None:
    """95 where the shop reads F: the server asks which was meant, and nothing of it is stored."""
    job, one = bench.job(), entry()
    answer = send(client, bench, "job-readings", job.pk, one, air="20")
    assert answer.status_code == 422
    assert "Air" in answer.json()["refused"][0]
    assert not Reading.objects.exists()
    assert not PhoneReceipt.objects.exists()
    assert send(client, bench, "job-readings", job.pk, one, air="20", meant__air="C").status_code == 200
    assert Reading.objects.get().air_c == 20


def test_e92_two_people_at_one_place_lose_nothing_and_see_both_values(
    bench: Bench, client: Client, place_of: PlaceOf
) -> None:
    """One has no network. What only they changed is taken over; what both changed is refused once."""
    place = place_of(bench.front(("bonnet",)), "bonnet", "left")
    saw = seen(client, place)
    other = bench.people.client(bench.people.owner)
    other.post(reverse("place", args=["kiln", place.pk]), {"passes": "4", "seen": saw})
    merged = send(client, bench, "place", place.pk, entry(), post_heated="no", seen=saw)
    assert merged.status_code == 200
    place.refresh_from_db()
    assert (place.passes, place.post_heated) == (4, False)
    clash = send(client, bench, "place", place.pk, entry(), passes="3", seen=saw)
    assert clash.status_code == 422
    assert "“4”" in " ".join(clash.json()["refused"])
    assert "“3”" in " ".join(clash.json()["refused"])
    again = send(
        client, bench, "place", place.pk, entry(), passes="3", post_heated="no", **clash.json()["fresh"]
    )
    assert again.status_code == 200
    place.refresh_from_db()
    assert (place.passes, place.post_heated) == (3, False)


def test_an_entry_is_never_stored_in_the_name_of_another_member(bench: Bench, client: Client) -> None:
    job = bench.job()
    answer = send(client, bench, "job-readings", job.pk, entry(entry_member=bench.people.owner.pk), air="70")
    assert (answer.status_code, answer.json()) == (409, {"other_member": True})
    assert not Reading.objects.exists()


def test_after_handover_a_late_entry_is_refused_with_the_reason(bench: Bench, client: Client) -> None:
    job = bench.front(("bonnet",))
    panel = job.panels.get()
    Job.objects.filter(pk=job.pk).update(
        state=Job.State.HANDED_OVER, handed_over_at=timezone.now(), handed_over_on=timezone.now().date()
    )
    PanelWork.objects.filter(pk=panel.pk).update(finished_at=timezone.now())
    answer = send(client, bench, "confirm-panel", panel.pk, entry(), finished="1", version=panel.version)
    assert answer.status_code == 422
    assert "handed over" in answer.json()["refused"][0]


def test_the_same_form_without_a_script_is_answered_as_ever(bench: Bench, client: Client) -> None:
    job = bench.job()
    url = reverse("job-readings", args=["kiln", job.pk])
    assert client.post(url, {"air": "70"}).status_code == 302
    one = entry()
    assert [client.post(url, {"air": "71", **one})["Location"] for _time in range(2)] == [
        reverse("job", args=["kiln", job.pk])
    ] * 2
    assert Reading.objects.count() == 2


def test_a_page_for_keeping_names_nobody_and_hears_no_notice(bench: Bench, client: Client) -> None:
    job = bench.front(("bonnet",))
    client.post(reverse("job-readings", args=["kiln", job.pk]), {"air": "70"})
    url = reverse("job", args=["kiln", job.pk])
    copy = client.get(url, headers={"X-Keep": "1"})
    assert copy["X-Kept"] == "1"
    assert "no holder recorded" not in copy.content.decode()
    shown = client.get(url)
    assert "X-Kept" not in shown
    assert 'class="notice ' in shown.content.decode()
