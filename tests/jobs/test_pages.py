"""The pages of recording, as a browser uses them: found, opened, confirmed, what differed, conditions."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from shopwarranty.jobs import actions
from shopwarranty.jobs.models import Deviation, Holding, Job, PanelWork, Party, Place, Reading, Vehicle
from shopwarranty.jobs.record import load_record
from tests.conftest import NOW

from .conftest import VIN, Bench

PlaceOf = Callable[[Job, str, str], Place]
PanelOf = Callable[[Job, str], PanelWork]


@pytest.fixture
def client(bench: Bench) -> Client:
    return bench.people.client(bench.people.installer)


def url(name: str, *args: Any, **query: Any) -> str:
    words = "&".join(f"{key}={value}" for key, value in query.items())
    return reverse(name, args=["kiln", *args]) + (f"?{words}" if words else "")


def text(answer: Any) -> str:
    return str(answer.content.decode())


NEW_VEHICLE = {
    "plate": "8ab-201",
    "vin": "11111111111111111",
    "vin_kind": "vin",
    "body_style": "van",
    "make": "Pell",
    "owned": "customer",
    "holder_kind": "person",
}


def test_the_whole_way_from_a_new_vehicle_to_a_finished_front(bench: Bench, client: Client) -> None:
    answer = client.post(url("new-vehicle"), {**NEW_VEHICLE, "holder_name": "B. Example"})
    vehicle = Vehicle.objects.get(make="Pell")
    assert answer["Location"] == url("start-job", vehicle.pk)
    form = {"method": bench.method.pk, "roll": bench.roll.pk, "panels": "front"}
    answer = client.post(url("start-job", vehicle.pk), form)
    job = Job.objects.get(vehicle=vehicle)
    assert job.panels.count() == 8
    while "/panels/" in answer["Location"]:
        panel = client.get(answer["Location"]).context["panel"]
        answer = client.post(url("confirm-panel", panel.id), {"finished": "1", "version": panel.version})
    record = load_record(job)
    assert answer["Location"] == url("job", job.pk)
    assert len(record.finished_panels) == 8
    assert record.holder and record.holder.name == "B. Example"
    assert record.plate == "8AB-201"


@pytest.mark.parametrize("typed", ["7fn 402", "7FN402", "000123", VIN, "example"])
def test_a_vehicle_is_found_by_plate_vin_its_end_and_the_holders_name(
    bench: Bench, client: Client, typed: str
) -> None:
    party = actions.add_party(name="A. Example", actor=bench.actor, now=NOW)
    who: dict[str, Any] = {"vehicle": bench.vehicle, "since": NOW.date(), "actor": bench.actor, "now": NOW}
    actions.hold_vehicle(party=party, role="holder", **who)
    actions.set_plate(text="7FN 402", **who)
    assert url("start-job", bench.vehicle.pk) in text(client.get(url("new-job"), {"q": typed}))


def test_e04_an_old_plate_still_finds_the_vehicle_and_says_until_when(bench: Bench, client: Client) -> None:
    for plate in ("OLD 1", "NEW 2"):
        actions.set_plate(vehicle=bench.vehicle, text=plate, since=NOW.date(), actor=bench.actor, now=NOW)
    page = text(client.get(url("new-job"), {"q": "old1"}))
    assert "OLD 1 until November 25, 2026" in page


def test_e05_a_plate_of_another_vehicle_asks_whether_it_moved(bench: Bench, client: Client) -> None:
    actions.set_plate(vehicle=bench.vehicle, text="8AB 201", since=NOW.date(), actor=bench.actor, now=NOW)
    page = client.post(url("new-vehicle"), NEW_VEHICLE)
    assert "This plate is recorded on another vehicle." in text(page)
    assert Vehicle.objects.count() == 1
    client.post(url("new-vehicle"), {**NEW_VEHICLE, "plate_moved": "1"})
    assert not bench.vehicle.plates.filter(until__isnull=True).exists()


def test_e06_an_empty_vin_is_to_be_read_on_arrival(bench: Bench, client: Client) -> None:
    client.post(url("new-vehicle"), {**NEW_VEHICLE, "vin": ""})
    vehicle = Vehicle.objects.get(make="Pell")
    assert vehicle.vin_kind == "to_read"
    assert "VIN to be read on arrival" in text(client.get(url("vehicle", vehicle.pk)))


def test_e07_no_vin_needs_a_reason_and_what_was_typed_stays(bench: Bench, client: Client) -> None:
    form = {**NEW_VEHICLE, "vin": "B 42", "vin_kind": "chassis"}
    page = client.post(url("new-vehicle"), form)
    assert "Say in a few words why there is no VIN." in text(page)
    assert 'value="B 42"' in text(page)
    client.post(url("new-vehicle"), {**form, "vin_reason": "kit"})
    assert Vehicle.objects.get(make="Pell").vin == "B 42"


def test_e08_a_vin_failing_its_check_digit_warns_but_saves(bench: Bench, client: Client) -> None:
    answer = client.post(url("new-vehicle"), {**NEW_VEHICLE, "vin": "0DEMKWRA1TF000123"}, follow=True)
    assert "check digit of this VIN does not agree" in text(answer)
    assert Vehicle.objects.filter(vin="0DEMKWRA1TF000123").exists()


def test_e09_a_letter_o_is_refused_with_a_suggestion_to_press(bench: Bench, client: Client) -> None:
    page = client.post(url("new-vehicle"), {**NEW_VEHICLE, "vin": "ODEMXWRA1TF000999"})
    assert "perhaps 0" in text(page)
    assert 'value="ODEMXWRA1TF000999"' in text(page)
    assert 'name="use_vin" value="0DEMXWRA1TF000999"' in text(page)
    taken = {**NEW_VEHICLE, "vin": "ODEMXWRA1TF000999", "use_vin": "0DEMXWRA1TF000999"}
    client.post(url("new-vehicle"), taken)
    assert Vehicle.objects.filter(vin="0DEMXWRA1TF000999").exists()


def test_a_known_vin_offers_its_vehicle(bench: Bench, client: Client) -> None:
    page = client.post(url("new-vehicle"), {**NEW_VEHICLE, "vin": VIN})
    assert url("start-job", bench.vehicle.pk) in text(page)


def test_somebody_recorded_already_is_asked_about_and_not_doubled(bench: Bench, client: Client) -> None:
    known = actions.add_party(name="B. Example", telephone="555-0144", actor=bench.actor, now=NOW)
    form = {**NEW_VEHICLE, "holder_name": "b. example"}
    assert "Somebody like this is recorded." in text(client.post(url("new-vehicle"), form))
    client.post(url("new-vehicle"), {**form, "known_party": known.pk})
    assert Party.objects.count() == 1
    assert Holding.objects.get().party == known


def test_a_job_sent_twice_is_opened_once(bench: Bench, client: Client) -> None:
    page = client.get(url("start-job", bench.vehicle.pk))
    form = {
        "uid": page.context["form"]["uid"].value(),
        "method": bench.method.pk,
        "roll": bench.roll.pk,
        "panels": "front",
    }
    for _press in range(2):
        assert client.post(url("start-job", bench.vehicle.pk), form).status_code == 302
    assert Job.objects.count() == 1


def test_no_method_fits_asks_why(bench: Bench, client: Client) -> None:
    form = {"method": "none", "roll": bench.roll.pk, "panels": "front"}
    assert "Say in a few words" in text(client.post(url("start-job", bench.vehicle.pk), form))
    client.post(url("start-job", bench.vehicle.pk), {**form, "no_method_reason": "chrome"})
    assert Job.objects.get().no_method_reason == "chrome"


def test_other_panels_are_chosen_with_the_film_picked_before(bench: Bench, client: Client) -> None:
    form = {"method": bench.method.pk, "roll": bench.roll.pk, "panels": "choose"}
    answer = client.post(url("start-job", bench.vehicle.pk), form)
    page = client.get(answer["Location"])
    assert page.context["film"]["roll"].value() == str(bench.roll.pk)
    job = Job.objects.get()
    quick = client.post(url("choose-panels", job.pk), {"quick": "front"})
    assert len(quick.context["form"]["panels"].value()) == 8
    client.post(url("choose-panels", job.pk), {"panels": ["roof", "bonnet"], "roll": bench.roll.pk})
    assert [row.panel for row in job.panels.all()] == ["bonnet", "roof"]


def test_a_pressed_reason_saves_the_place_with_its_deviation(
    bench: Bench, client: Client, place_of: PlaceOf
) -> None:
    job = bench.front(("left-front-door",))
    place = place_of(job, "left-front-door", "bottom")
    page = client.get(url("panel", job.panels.get().pk, place=place.pk))
    assert 'name="quick" value="film_short"' in text(page)
    form = {"version": place.version, "post_heated": "no", "wrap_in_reached_mm": "0.1", "quick": "film_short"}
    answer = client.post(url("place", place.pk), form, follow=True)
    rows = {row.field: (row.usual, row.actual, row.reason) for row in Deviation.objects.all()}
    assert rows == {
        "post_heated": ("yes", "no", "film_short"),
        "wrap_in_reached_mm": ("8", "2.54", "film_short"),
    }
    assert "Wrap-in reached 0.1\u00a0in, usual 0.31\u00a0in." in text(answer)
    place.refresh_from_db()
    assert place.wrap_in_typed == "0.1 in"


def test_the_usual_value_as_inches_round_it_is_no_deviation(
    bench: Bench, client: Client, place_of: PlaceOf
) -> None:
    place = place_of(bench.front(("bonnet",)), "bonnet", "left")
    client.post(url("place", place.pk), {"wrap_in_wanted_mm": "0.31"})
    place.refresh_from_db()
    assert place.wrap_in_wanted_mm == 8.0
    assert not Deviation.objects.exists()


def test_only_the_open_place_has_widgets(bench: Bench, client: Client, place_of: PlaceOf) -> None:
    job = bench.front()
    panel = job.panels.get(panel="bonnet")
    closed = text(client.get(url("panel", panel.pk)))
    opened = text(client.get(url("panel", panel.pk, place=place_of(job, "bonnet", "left").pk)))
    assert closed.count("<input") < 8
    assert opened.count("<input") < 45


def test_e34_post_heat_that_reads_like_the_other_unit_is_asked_about(
    bench: Bench, client: Client, place_of: PlaceOf
) -> None:
    """95 typed where the shop reads F: 95 C is 203 F (NIST SP 811 conversion), which is what was meant."""
    place = place_of(bench.front(("bonnet",)), "bonnet", "left")
    page = client.post(url("place", place.pk), {"post_heat_c": "95"})
    assert "C or F?" in text(page)
    assert not Place.objects.filter(post_heat_c__isnull=False).exists()
    client.post(url("place", place.pk), {"post_heat_c": "95", "meant__post_heat_c": "C"})
    place.refresh_from_db()
    assert (place.post_heat_c, place.post_heat_typed, place.post_heat_c_basis) == (95.0, "95 C", "measured")


def test_e33_and_e34_a_reading_keeps_the_unit_it_was_read_in(bench: Bench, client: Client) -> None:
    job = bench.job()
    client.post(url("job-readings", job.pk), {"air": "20", "surface": "18", "humidity": "46", "unit": "C"})
    reading = Reading.objects.get()
    assert (reading.air_c, reading.air_typed, reading.surface_c) == (20.0, "20 C", 18.0)
    page = client.post(url("job-readings", job.pk), {"air": "21", "unit": "F"})
    assert "C or F?" in text(page)
    client.post(url("job-readings", job.pk), {"air": "21", "unit": "F", "meant__air": "C"})
    assert Reading.objects.last().air_c == 21.0  # type: ignore[union-attr]


def test_e33_impossible_humidity_is_refused_and_an_odd_one_asked_about(bench: Bench, client: Client) -> None:
    job = bench.job()
    page = client.post(url("job-readings", job.pk), {"air": "70", "humidity": "140"})
    assert 'value="140"' in text(page)
    page = client.post(url("job-readings", job.pk), {"air": "70", "humidity": "2"})
    assert "Is this what was read?" in text(page)
    client.post(url("job-readings", job.pk), {"air": "70", "humidity": "2", "meant__humidity": "%"})
    assert Reading.objects.get().humidity == 2


def test_e31_what_was_not_measured_stays_empty(bench: Bench, client: Client) -> None:
    job = bench.job()
    assert "one figure is enough" in text(client.post(url("job-readings", job.pk), {"unit": "F"}))
    client.post(url("job-readings", job.pk), {"humidity": "50"})
    row = Reading.objects.get()
    assert (row.air_c, row.air_c_basis, row.humidity_basis) == (None, "", "measured")
    assert "Not recorded" in text(client.get(url("job", job.pk)))


def test_e35_a_panel_below_the_dew_point_is_told_and_not_blocked(bench: Bench, client: Client) -> None:
    """Air 20 C at 50 %: dew point 9.3 C (film trade's worked table); panel at 8 C lies 1.3 C below it."""
    job = bench.job()
    form = {"air": "20", "surface": "8", "humidity": "50", "unit": "C"}
    answer = client.post(url("job-readings", job.pk), form, follow=True)
    assert "below the dew point: water condenses on it." in text(answer)
    assert Reading.objects.count() == 1


def test_the_dew_point_is_told_while_typing(bench: Bench, client: Client) -> None:
    job = bench.job()
    form = {"air": "68", "surface": "64", "humidity": "46", "unit": "F"}
    said = client.get(url("dew-point", job.pk), form)
    assert "above the dew point" in text(said)
    assert text(client.get(url("dew-point", job.pk), {"air": "x"})).strip() == ""


def test_the_films_own_limits_stand_beside_the_reading(bench: Bench, client: Client) -> None:
    product = bench.roll.product
    product.apply_min_c = 18
    product.save()
    job = bench.front(("bonnet",))
    form = {"air": "16", "surface": "19", "unit": "C"}
    answer = client.post(url("job-readings", job.pk), form, follow=True)
    assert "Air 61\u00a0°F, Alder Clear 8 from 64\u00a0°F." in text(answer)


def test_e92_the_second_saver_is_shown_both_values_and_may_put_their_own(
    bench: Bench, client: Client, place_of: PlaceOf
) -> None:
    place = place_of(bench.front(("bonnet",)), "bonnet", "left")
    seen = place.version
    client.post(url("place", place.pk), {"version": seen, "passes": "4"})
    page = client.post(url("place", place.pk), {"version": seen, "passes": "3"})
    assert "Passes: now 4, yours 3." in text(page)
    place.refresh_from_db()
    assert place.passes == 4
    client.post(url("place", place.pk), {"version": place.version, "passes": "3"})
    place.refresh_from_db()
    assert place.passes == 3


def test_undo_after_confirming_takes_back_confirmation_and_finish(
    bench: Bench, client: Client, panel_of: PanelOf
) -> None:
    job = bench.front(("bonnet", "roof"))
    panel = panel_of(job, "bonnet")
    answer = client.post(url("confirm-panel", panel.pk), {"finished": "1"}, follow=True)
    assert url("unconfirm-panel", panel.pk) in text(answer)
    client.post(url("unconfirm-panel", panel.pk))
    panel.refresh_from_db()
    assert (panel.confirmed_at, panel.finished_at) == (None, None)


def test_e42_after_handover_the_place_asks_why(bench: Bench, client: Client, place_of: PlaceOf) -> None:
    job = bench.front(("bonnet",))
    actions.confirm_panel(panel_work=job.panels.get(), finished=True, actor=bench.actor, now=NOW)
    Job.objects.filter(pk=job.pk).update(state="handed_over", handed_over_at=NOW, handed_over_on=NOW.date())
    place = place_of(job, "bonnet", "left")
    page = client.post(url("place", place.pk), {"post_heated": "yes", "passes": "3"})
    assert "say why this is corrected" in text(page)
    client.post(url("place", place.pk), {"post_heated": "yes", "passes": "3", "why": "typed wrong"})
    place.refresh_from_db()
    assert place.passes == 3


def test_e41_a_late_entry_says_so(bench: Bench, client: Client) -> None:
    job = bench.front(("bonnet",), started_at=NOW - timedelta(days=3))
    assert "Typed in on November 25, 2026." in text(client.get(url("job", job.pk)))


def test_e18_and_e19_a_further_piece_is_added_on_its_page(bench: Bench, client: Client) -> None:
    job = bench.front(("bonnet",))
    panel = job.panels.get()
    form = {"lies": "beside", "name": "inlay", "roll": bench.roll.pk}
    client.post(url("new-piece", panel.pk), form)
    client.post(url("new-piece", panel.pk), {**form, "lies": "over", "name": "clear"})
    pieces = load_record(job).panels[0].pieces
    assert [(piece.name, piece.layer) for piece in pieces] == [("", 1), ("inlay", 1), ("clear", 2)]
    assert "seam" in {place.name for place in pieces[1].places}


def test_e26_a_lot_nobody_knows_is_saved_with_its_reason(bench: Bench, client: Client) -> None:
    job = bench.front(("bonnet",))
    panel = job.panels.get()
    form = {"roll": "other", "product": bench.roll.product.pk, "lot_unknown_reason": "label_lost"}
    client.post(url("panel-film", panel.pk), form)
    piece = load_record(job).panels[0].pieces[0]
    assert (piece.roll, piece.lot, piece.lot_unknown_reason) == ("", "", "label_lost")
    both = {**form, "lot_number": "61-1"}
    assert "Either the lot is known" in text(client.post(url("panel-film", panel.pk), both))


def test_panel_work_people_intake_events_and_parts_are_kept(bench: Bench, client: Client) -> None:
    job = bench.front(("bonnet",))
    panel = job.panels.get()
    client.post(
        url("panel-work", panel.pk),
        {"version": panel.version, "laid": "dry", "lead": bench.people.installer.pk, "quick": "no_time"},
    )
    client.post(url("panel-intake", panel.pk), {"substrate": "repaint", "marks": "chip"})
    client.post(url("panel-events", panel.pk), {"event-kind": "needle", "add_event": "1"})
    client.post(url("panel-events", panel.pk), {"item-name": "badge", "add_item": "1"})
    stored = load_record(job).panels[0]
    assert (stored.value("laid"), stored.own_deviations[0].reason) == ("dry", "no_time")
    assert stored.lead and stored.lead.name == bench.people.installer.name
    assert stored.intake and stored.intake.marks == "chip"
    assert ([one.kind for one in stored.laying_events], stored.removed_items[0].name) == (["needle"], "badge")
    client.post(url("settle-item", stored.removed_items[0].id), {"outcome": "refitted"})
    assert load_record(job).open_items == ()


def test_the_history_reads_as_sentences(bench: Bench, client: Client, place_of: PlaceOf) -> None:
    job = bench.front(("bonnet",))
    place = place_of(job, "bonnet", "left")
    for passes in ("4", "3"):
        client.post(url("place", place.pk), {"passes": passes, "quick": "shape"})
    page = text(client.get(url("job-history", job.pk)))
    assert "Hood, left edge: Values stated" in page
    assert "Passes: 3, before 4" in page
    assert "Shape of the panel" in page


def test_the_list_does_what_the_drawing_does(bench: Bench, client: Client) -> None:
    job = bench.front()
    page = text(client.get(url("job", job.pk, view="list")))
    for place in Place.objects.filter(piece__panel_work__job=job):
        assert f"?place={place.pk}#place" in page


def test_a_job_without_panels_says_what_to_do(bench: Bench, client: Client) -> None:
    page = text(client.get(url("job", bench.job().pk)))
    assert "No panels yet" in page
    assert url("choose-panels", Job.objects.get().pk) in page


def test_an_empty_list_of_jobs_teaches_and_a_search_without_finds_helps(bench: Bench, client: Client) -> None:
    assert "Record the first job" in text(client.get(url("jobs")))
    bench.job()
    assert "No job matches" in text(client.get(url("jobs"), {"q": "zzz"}))
    assert "Osk Tarn" in text(client.get(url("jobs"), {"q": "000123", "sort": "vehicle", "state": "open"}))


def test_every_role_may_record(bench: Bench) -> None:
    job = bench.front(("bonnet",))
    for member in (bench.people.owner, bench.people.installer, bench.people.desk):
        client = bench.people.client(member)
        for name, pk in (("job", job.pk), ("panel", job.panels.get().pk), ("vehicle", bench.vehicle.pk)):
            assert client.get(url(name, pk)).status_code == 200


def test_pages_ask_as_often_for_a_large_job_as_for_a_small_one(
    bench: Bench, client: Client, django_assert_max_num_queries: Any
) -> None:
    small, large = bench.front(("bonnet",)), bench.front()
    for panel_work in large.panels.all():
        actions.confirm_panel(panel_work=panel_work, finished=True, actor=bench.actor, now=NOW)
    for job in (small, large):
        panel = job.panels.get(panel="bonnet")
        place = Place.objects.filter(piece__panel_work=panel).first()
        assert place is not None
        for address, most in (
            (url("job", job.pk), 26),
            (url("job", job.pk, view="list"), 26),
            (url("panel", panel.pk, place=place.pk), 30),
            (url("job-card", job.pk), 26),
            (url("job-history", job.pk), 34),
        ):
            with django_assert_max_num_queries(most):
                client.get(address)


def test_the_list_of_jobs_asks_as_often_for_fifty_as_for_one(
    bench: Bench, client: Client, django_assert_max_num_queries: Any
) -> None:
    for more in (1, 49):
        for _job in range(more):
            bench.job()
        with django_assert_max_num_queries(12):
            client.get(url("jobs"))


def test_a_reading_of_one_panel_counts_for_that_panel_alone(bench: Bench, client: Client) -> None:
    job = bench.front(("bonnet", "roof"))
    panel = job.panels.get(panel="roof")
    client.post(url("job-readings", job.pk), {"air": "70", "surface": "66", "humidity": "40"})
    client.post(url("job-readings", job.pk), {"surface": "75", "panel": panel.pk})
    surfaces = [one.reading and one.reading.surface.typed for one in load_record(job).panels]
    assert surfaces == ["66 F", "75 F"]
    assert "roof" in text(client.get(url("job-readings", job.pk)))


def test_e92_a_panel_changed_in_between_is_looked_at_before_it_is_confirmed(
    bench: Bench, client: Client
) -> None:
    job = bench.front(("bonnet", "roof"))
    panel = job.panels.get(panel="bonnet")
    seen = panel.version
    client.post(url("panel-work", panel.pk), {"version": seen, "laid": "dry"})
    answer = client.post(url("confirm-panel", panel.pk), {"finished": "1", "version": seen}, follow=True)
    assert "Somebody changed this panel in between." in text(answer)
    panel.refresh_from_db()
    assert panel.confirmed_at is None
    for _press in range(2):
        client.post(url("confirm-panel", panel.pk), {"finished": "1", "version": panel.version})
    panel.refresh_from_db()
    assert panel.confirmed_at is not None


def test_e92_film_saved_in_between_is_shown_before_it_is_replaced(bench: Bench, client: Client) -> None:
    job = bench.front(("bonnet",))
    panel = job.panels.get()
    piece = panel.pieces.get()
    other = {"roll": "other", "product": bench.roll.product.pk, "lot_unknown_reason": "label_lost"}
    client.post(url("panel-film", panel.pk), {**other, "version": piece.version})
    page = client.post(url("panel-film", panel.pk), {"roll": bench.roll.pk, "version": piece.version})
    assert "Somebody saved in between: now Alder Clear 8, lot unknown." in text(page)
    piece.refresh_from_db()
    client.post(url("panel-film", panel.pk), {"roll": bench.roll.pk, "version": piece.version})
    piece.refresh_from_db()
    assert piece.roll == bench.roll


def test_no_press_on_a_handed_over_job_breaks_the_page(
    bench: Bench, client: Client, place_of: PlaceOf
) -> None:
    job = bench.front(("bonnet",))
    place = place_of(job, "bonnet", "left")
    client.post(url("place", place.pk), {"passes": "4", "quick": "shape"})
    panel = actions.confirm_panel(
        panel_work=job.panels.get(), finished=True, actor=bench.actor, now=NOW - timedelta(days=1)
    )
    event = actions.note_laying_event(panel_work=panel, kind="needle", actor=bench.actor, now=NOW)
    deviation = Deviation.objects.get()
    Job.objects.filter(pk=job.pk).update(state="handed_over", handed_over_at=NOW, handed_over_on=NOW.date())
    for address in (
        url("confirm-panel", panel.pk),
        url("unconfirm-panel", panel.pk),
        url("drop-panel", panel.pk),
        url("as-usual-again", place.pk),
        url("undo-deviation", deviation.pk),
        url("take-back-event", event.pk),
        url("job-ready", job.pk),
        url("job-work", job.pk),
        url("job-details", job.pk),
        url("job-method", job.pk),
        url("panel-work", panel.pk),
        url("panel-film", panel.pk),
        url("panel-intake", panel.pk),
        url("job-readings", job.pk),
        url("new-piece", panel.pk),
    ):
        form = {"confirm": "1", "method": bench.method.pk, "laid": "dry", "lies": "over", "air": "70"}
        assert client.post(address, form).status_code in (200, 302), address
    panel.refresh_from_db()
    assert (panel.finished_at is not None, Deviation.objects.get().undone_at) == (True, None)


def test_from_the_job_a_vehicle_that_comes_back_is_looked_at_and_its_checks_are_found(
    bench: Bench, client: Client
) -> None:
    job = bench.front(("bonnet",))
    look = url("start-look", job.pk)
    assert look not in text(client.get(url("job", job.pk)))
    Job.objects.filter(pk=job.pk).update(state="handed_over", handed_over_at=NOW, handed_over_on=NOW.date())
    assert look in text(client.get(url("job", job.pk)))
    actions.set_plate(vehicle=job.vehicle, text="A&B 1", since=NOW.date(), actor=bench.actor, now=NOW)
    page = text(client.get(url("vehicle", job.vehicle.pk)))
    assert f"{url('checks')}?q=A%26B+1&amp;show=all" in page


def test_what_is_finished_can_be_handed_over_while_a_panel_is_still_open(
    bench: Bench, client: Client
) -> None:
    job = bench.front(("bonnet", "front-bumper"))
    hand_over = url("hand-over", job.pk)
    assert hand_over not in text(client.get(url("job", job.pk)))
    first = job.panels.get(panel="bonnet")
    actions.confirm_panel(panel_work=first, finished=True, actor=bench.actor, now=NOW)
    assert hand_over in text(client.get(url("job", job.pk)))


def test_a_body_style_that_lacks_a_panel_with_film_is_said_beside_the_field(
    bench: Bench, client: Client
) -> None:
    job = bench.front(("left-rear-door",))
    form = {"body_style": "coupe", "owned": "customer", "vin_kind": "vin", "vin": "", "make": "Osk"}
    answer = client.post(url("change-vehicle", job.vehicle.pk), form)
    assert "panels that this body style does not have: left rear door" in text(answer)
