"""Vehicles, plates, people; cases E04 to E14 and E16, E17."""

from datetime import date

import pytest

from shopwarranty.jobs import actions
from shopwarranty.jobs.forms.vehicles import VehicleForm
from shopwarranty.jobs.models import Holding, Party, Plate, Vehicle
from shopwarranty.jobs.record import load_record
from shopwarranty.shops.models import Change
from shopwarranty.trade.defects import KINDS
from shopwarranty.web.trade_names import trade_name
from tests.conftest import NOW, World

from .conftest import VIN, Bench


def vehicle(bench: Bench, **more: object) -> Vehicle:
    values = {"body_style": "saloon", "actor": bench.actor, "now": NOW, **more}
    return actions.add_vehicle(**values)  # type: ignore[arg-type]


def party(bench: Bench, name: str, **more: object) -> Party:
    return actions.add_party(name=name, actor=bench.actor, now=NOW, **more)


def plate(bench: Bench, of: Vehicle, text: str, since: date, **more: bool) -> None:
    actions.set_plate(vehicle=of, text=text, since=since, actor=bench.actor, now=NOW, **more)


def hold(bench: Bench, of: Vehicle, who: Party, since: date, role: str = "holder") -> None:
    actions.hold_vehicle(vehicle=of, party=who, role=role, since=since, actor=bench.actor, now=NOW)


def test_e04_an_old_plate_keeps_its_dates_and_still_finds_the_vehicle(bench: Bench) -> None:
    plate(bench, bench.vehicle, "7fn 402", date(2025, 1, 1))
    plate(bench, bench.vehicle, "PRIVATE 1", date(2026, 3, 1))
    rows = {row.text: (row.since, row.until) for row in bench.vehicle.plates.all()}
    assert rows == {
        "7FN 402": (date(2025, 1, 1), date(2026, 3, 1)),
        "PRIVATE 1": (date(2026, 3, 1), None),
    }
    assert Plate.objects.get(searched="7FN402").vehicle == bench.vehicle
    assert load_record(bench.job()).plate == "PRIVATE 1"


def test_e05_the_same_plate_later_on_another_vehicle_ends_on_the_first_when_said(bench: Bench) -> None:
    other = vehicle(bench)
    plate(bench, bench.vehicle, "7FN 402", date(2025, 1, 1))
    plate(bench, other, "7FN-402", date(2026, 2, 1), ends_elsewhere=True)
    first, second = Plate.objects.order_by("since")
    assert (first.vehicle, first.until) == (bench.vehicle, date(2026, 2, 1))
    assert (second.vehicle, second.until) == (other, None)


def test_the_same_plate_typed_otherwise_is_no_new_one(bench: Bench) -> None:
    for text in ("7FN 402", "7fn-402"):
        plate(bench, bench.vehicle, text, date(2025, 1, 1))
    assert Plate.objects.count() == 1


def test_a_plate_taken_off_leaves_the_vehicle_without_one(bench: Bench) -> None:
    plate(bench, bench.vehicle, "7FN 402", date(2025, 1, 1))
    plate(bench, bench.vehicle, "", date(2026, 1, 1))
    assert load_record(bench.job()).plate == ""


def test_e06_a_vin_may_be_read_on_arrival(bench: Bench) -> None:
    new = vehicle(bench, vin_kind="to_read", vin="ignored")
    assert (new.vin, new.vin_kind) == ("", "to_read")


def test_e07_a_chassis_number_of_any_length_is_kept_with_its_reason(bench: Bench) -> None:
    new = vehicle(bench, vin="b 42-77", vin_kind="chassis", vin_reason="built 1974")
    assert (new.vin, new.vin_reason) == ("B 42-77", "built 1974")
    assert vehicle(bench, vin_kind="none", vin_reason="trailer").vin == ""


def test_e08_a_vin_failing_its_check_digit_is_saved(bench: Bench) -> None:
    # computed check digit 3, found 1 (worked with the rule of 49 CFR 565)
    assert vehicle(bench, vin="0DEMKWRA1TF000123", vin_kind="vin").vin == "0DEMKWRA1TF000123"


def test_e09_a_vin_with_a_letter_o_is_refused_with_a_suggestion(bench: Bench) -> None:
    with pytest.raises(actions.VinRefused) as refused:
        vehicle(bench, vin="ODEMXWRA1TF000129", vin_kind="vin")
    assert refused.value.suggestion == "0DEMXWRA1TF000129"
    assert refused.value.faults[0].position == 1


def test_a_known_vin_leads_to_its_vehicle(bench: Bench) -> None:
    with pytest.raises(actions.VinKnown) as refused:
        vehicle(bench, vin=VIN.lower(), vin_kind="vin")
    assert refused.value.vehicle == bench.vehicle


def test_correcting_a_vin_is_checked_and_kept_in_the_history(bench: Bench) -> None:
    new = vehicle(bench)
    with pytest.raises(actions.VinKnown):
        actions.change_vehicle(
            vehicle=new, values={"vin": VIN, "vin_kind": "vin"}, actor=bench.actor, now=NOW
        )
    new.refresh_from_db()
    actions.change_vehicle(
        vehicle=new, values={"vin": "11111111111111111", "vin_kind": "vin"}, actor=bench.actor, now=NOW
    )
    change = Change.objects.get(act="vehicle changed")
    assert change.before == {"vin": "", "vin_kind": "to_read"}


def test_e11_holder_and_contact_of_a_lease_are_different_parties(bench: Bench) -> None:
    firm, driver = party(bench, "Lease Example", kind="firm"), party(bench, "D. Example")
    hold(bench, bench.vehicle, firm, date(2026, 1, 1))
    hold(bench, bench.vehicle, firm, date(2026, 1, 1), "owner")
    hold(bench, bench.vehicle, driver, date(2026, 1, 1), "contact")
    record = load_record(bench.job())
    assert record.holder and record.contact and record.owner
    assert (record.holder.name, record.contact.name, record.payer) == ("Lease Example", "D. Example", None)


def test_a_new_holder_ends_the_old_ones_holding_and_keeps_it(bench: Bench) -> None:
    first, second = party(bench, "First"), party(bench, "Second")
    hold(bench, bench.vehicle, first, date(2025, 1, 1))
    hold(bench, bench.vehicle, second, date(2026, 1, 1))
    rows = Holding.objects.order_by("since").values_list("party__name", "until")
    assert list(rows) == [("First", date(2026, 1, 1)), ("Second", None)]


def test_e12_a_party_is_a_consumer_unless_said_otherwise(bench: Bench) -> None:
    assert party(bench, "A. Example").is_consumer
    assert not party(bench, "Fleet Example", kind="firm", is_consumer=False).is_consumer


def test_e13_a_holder_without_an_e_mail_is_recorded(bench: Bench) -> None:
    hold(bench, bench.vehicle, party(bench, "No Mail"), date(2026, 1, 1))
    record = load_record(bench.job())
    assert record.holder
    assert record.holder.email == ""


def test_e14_somebody_may_act_for_the_holder_from_a_day_on(bench: Bench) -> None:
    holder, other = party(bench, "A. Example"), party(bench, "Attorney Example")
    actions.represent_party(
        party=holder,
        by=other,
        since=date(2026, 5, 1),
        note="power of attorney seen",
        actor=bench.actor,
        now=NOW,
    )
    holder.refresh_from_db()
    assert (holder.represented_by, holder.represented_from) == (other, date(2026, 5, 1))
    assert holder.note == "power of attorney seen"
    fields = {type(field).__name__ + " " + field.name for field in Party._meta.get_fields()}
    assert not [name for name in fields if "File" in name or "sha256" in name]  # no copy of a document


def test_e16_the_shops_own_vehicle_makes_a_job_of_its_own_kind(bench: Bench) -> None:
    own = vehicle(bench, owned="shop")
    assert (bench.job(vehicle=own).kind, bench.job().kind) == ("own", "customer")


def test_e17_a_loose_panel_has_no_vin_and_its_job_is_a_test_panel(bench: Bench) -> None:
    loose = vehicle(bench, owned="panel", vin_kind="none", vin_reason="a bonnet on a stand")
    job = bench.front(("bonnet",), vehicle=loose)
    assert (job.kind, load_record(job).vehicle.vin) == ("test_panel", "")


def test_job_numbers_step_over_those_that_came_in_from_elsewhere(bench: Bench) -> None:
    bench.job(ref="2")
    assert [bench.job().ref for _ in range(2)] == ["1", "3"]


def test_a_body_style_without_the_panels_that_carry_film_is_refused(bench: Bench) -> None:
    made = vehicle(bench)
    job = bench.job(vehicle=made)
    actions.start_panels(
        job=job, panels=["left-rear-door"], catalogue=bench.catalogue, actor=bench.actor, now=NOW
    )
    with pytest.raises(actions.PanelsElsewhere) as refused:
        actions.change_vehicle(vehicle=made, values={"body_style": "coupe"}, actor=bench.actor, now=NOW)
    assert refused.value.panels == ("left rear door",)
    actions.change_vehicle(vehicle=made, values={"body_style": "hatchback"}, actor=bench.actor, now=NOW)
    assert Vehicle.objects.get(pk=made.pk).body_style == "hatchback"


def test_a_shop_with_us_units_reads_american_spelling(world: World) -> None:
    """Color, center: Merriam-Webster's first forms; colour, centre: Oxford's."""
    misalignment = next(kind for kind in KINDS if kind.key == "misalignment")
    ours, theirs = (world.ours.shop, "Color", "center"), (world.theirs.shop, "Colour", "centre")
    for shop, colour, centre in (ours, theirs):
        assert VehicleForm(shop=shop).fields["colour"].label == colour
        assert trade_name(misalignment, shop) == f"cut short or off {centre}"


def test_the_choice_of_light_or_dark_is_named_so_that_every_shop_spells_it_alike(bench: Bench) -> None:
    answer = bench.people.client(bench.people.owner).get("/s/kiln/jobs/").content.decode()
    assert "Appearance</label>" in answer
    assert "Colours" not in answer
