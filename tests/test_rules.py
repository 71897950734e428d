"""Every rule that is checked after each test is broken once, with raw rows: a check that cannot fail is none.

What is broken is taken back, so that the check after this test finds everything in order.
"""

import shutil
from collections.abc import Callable
from datetime import timedelta
from time import process_time
from typing import Any
from uuid import uuid4

import pytest
from django.conf import settings
from django.core.files.storage import default_storage
from django.db import connection, transaction

from shopwarranty.defects.lives import rebuild_lives
from shopwarranty.defects.models import Defect, Life
from shopwarranty.inspections.models import BookedQuarter, Booking
from shopwarranty.jobs.models import PanelWork, Place, Reading
from shopwarranty.outbox.actions import put_message
from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.scope import every_shop, shop_scope
from shopwarranty.shops.stored_bytes import path_of
from shopwarranty.shops.triggers import wanted
from shopwarranty.warranty.models import Certificate, Cover
from tests import builders as b
from tests import rules
from tests.conftest import NOW, World
from tests.warranty.conftest import make_yard
from tests.warranty.conftest import plain_pdf as plain_pdf

Breaking = Callable[[World], None]
TOOL = Actor("tool")


def without_triggers(*tables: str) -> None:
    """The database would refuse; a rule is about what is there nevertheless."""
    with connection.cursor() as cursor:
        for trigger in (trigger for trigger in wanted() if trigger.table in tables):
            on = f' ON "{trigger.table}"' if connection.vendor == "postgresql" else ""
            cursor.execute(f'DROP TRIGGER IF EXISTS "{trigger.name}"{on}')


def looked_at_job() -> Any:
    job = b.a_job(handed_over_on=b.days_ago(20))
    b.looked_at(job, b.days_ago(6), {"window": 3})
    rebuild_lives()
    return job


def a_link_to_another_shop(world: World) -> None:
    with shop_scope(world.theirs.shop):
        theirs = b.a_vehicle()
    with shop_scope(world.ours.shop):
        job = b.a_job()
    without_triggers("jobs_job")
    with every_shop():
        type(job).objects.filter(pk=job.pk).update(vehicle=theirs)


def a_value_by_method_nobody_confirmed(world: World) -> None:
    with shop_scope(world.ours.shop):
        PanelWork.objects.filter(job=b.a_job()).update(washed=True, washed_basis="by_method")


def the_same_at_a_place(world: World) -> None:
    with shop_scope(world.ours.shop):
        Place.objects.filter(pk=b.places_of(b.a_job())[0].pk).update(passes=2, passes_basis="by_method")


def wrong_without_a_sighting(world: World) -> None:
    with shop_scope(world.ours.shop):
        job = b.a_job()
        b.a_finding(b.a_visit(job), b.places_of(job)[0], "defect")


def a_sighting_of_something_clean(world: World) -> None:
    with shop_scope(world.ours.shop):
        job = b.a_job()
        visit, place = b.a_visit(job, finished=False), b.places_of(job)[0]
        defect = b.a_defect(visit, place)
        defect.sightings.get().finding.__class__.objects.filter(visit=visit).update(result="clean")


def a_life_backward(world: World) -> None:
    with shop_scope(world.ours.shop):
        place = b.places_of(b.a_job())[0]
        Life.objects.create(
            job=place.piece.panel_work.job,
            place=place,
            starts_on=b.TODAY,
            clean_day=20,
            failed_day=9,
            ended="failed",
            ended_day=9,
        )


def a_life_left_out(world: World) -> None:
    with shop_scope(world.ours.shop):
        place = b.places_of(b.a_job())[0]
        Life.objects.create(job=place.piece.panel_work.job, place=place, number=2, starts_on=b.TODAY)


def two_lives_at_once(world: World) -> None:
    with shop_scope(world.ours.shop):
        place = b.places_of(b.a_job())[0]
        for number in (1, 2):
            Life.objects.create(job=place.piece.panel_work.job, place=place, number=number, starts_on=b.TODAY)


def a_certificate_that_lasts_too_long(world: World) -> None:
    with shop_scope(world.ours.shop):
        certificate = make_yard(world.ours).issue()
        without_triggers("warranty_certificate")
        Certificate.objects.update(last_day=certificate.last_day + timedelta(days=1))


def a_booking_without_its_quarters(world: World) -> None:
    with shop_scope(world.ours.shop):
        booking = b.a_booking(b.a_check())
        booking.quarters.filter(pk=booking.quarters.earliest("pk").pk).delete()


def a_cancelled_booking_that_holds_time(world: World) -> None:
    with shop_scope(world.ours.shop):
        Booking.objects.filter(pk=b.a_booking(b.a_check()).pk).update(state="cancelled_shop")


def a_quarter_outside_its_booking(world: World) -> None:
    with shop_scope(world.ours.shop):
        booking = b.a_booking(b.a_check())
        first: BookedQuarter = booking.quarters.earliest("quarter")
        booking.quarters.filter(pk=first.pk).update(quarter=first.quarter - timedelta(hours=2))


def a_quarter_in_another_lane(world: World) -> None:
    with shop_scope(world.ours.shop):
        b.a_booking(b.a_check()).quarters.update(lane=2)


def put_right_by_nothing(world: World) -> None:
    with shop_scope(world.ours.shop):
        job = b.a_job()
        Defect.objects.filter(pk=b.a_defect(b.a_visit(job), b.places_of(job)[0]).pk).update(state="remedied")


def a_finding_at_another_vehicle(world: World) -> None:
    with shop_scope(world.ours.shop):
        b.a_finding(b.a_visit(b.a_job()), b.places_of(b.a_job())[0])


def a_reading_at_another_jobs_panel(world: World) -> None:
    with shop_scope(world.ours.shop):
        Reading.objects.create(job=b.a_job(), panel_work=b.a_job().panels.get(), at=NOW, entered_at=NOW)


def a_cover_of_another_vehicles_film(world: World) -> None:
    with shop_scope(world.ours.shop):
        certificate = make_yard(world.ours).issue()
        cover = Cover.objects.filter(certificate=certificate).earliest("pk")
        piece = b.a_job().panels.get().pieces.get()
        values = {"line": cover.line, "starts_on": cover.starts_on, "last_day": cover.last_day}
        Cover.objects.create(certificate=certificate, piece=piece, **values)


def a_life_that_was_not_derived(world: World) -> None:
    with shop_scope(world.ours.shop):
        job = looked_at_job()
        Life.objects.filter(job=job, clean_day=14).update(clean_day=13, all_clean_day=13)


def a_life_that_is_missing(world: World) -> None:
    with shop_scope(world.ours.shop):
        Life.objects.filter(pk=Life.objects.filter(job=looked_at_job()).earliest("pk").pk).delete()


def handed_over_without_a_certificate(world: World) -> None:
    with shop_scope(world.ours.shop):
        job = b.a_job(handed_over_on=b.TODAY)
        record_change(row=job, act="handed_over", actor=TOOL, at=NOW)


def replaced_by_nothing(world: World) -> None:
    with shop_scope(world.ours.shop):
        Certificate.objects.filter(pk=make_yard(world.ours).issue().pk).update(state="replaced")


def two_editions_in_force(world: World) -> None:
    with shop_scope(world.ours.shop):
        one = make_yard(world.ours).issue()
        without_triggers("warranty_certificate")
        values = {
            field.attname: getattr(one, field.attname)
            for field in Certificate._meta.local_concrete_fields
            if field.name not in ("id", "edition", "code", "predecessor", "state")
        }
        Certificate.objects.create(**values, edition=2, code="another", predecessor=one, state="replaced")


def paper_that_is_gone(world: World) -> None:
    with shop_scope(world.ours.shop):
        certificate = make_yard(world.ours).issue()
    default_storage.delete(path_of(certificate.pdf_sha256))


def paper_that_was_changed(world: World) -> None:
    with shop_scope(world.ours.shop):
        certificate = make_yard(world.ours).issue()
    with default_storage.open(path_of(certificate.pdf_sha256), "wb") as file:
        file.write(b"something else")


def paper_of_another_length(world: World) -> None:
    with shop_scope(world.ours.shop):
        make_yard(world.ours).issue()
        without_triggers("warranty_certificate")
        Certificate.objects.update(pdf_length=7)


def a_message_about_no_certificate(world: World) -> None:
    with shop_scope(world.ours.shop):
        put_message(key="certificate:999999:issued", to="a@example.com", subject="S", text="T", now=NOW)


def a_message_about_no_booking(world: World) -> None:
    key = f"booking:{uuid4().hex}:v0:booked"
    with shop_scope(world.ours.shop):
        put_message(key=key, to="a@example.com", subject="S", text="T", now=NOW)


def a_message_about_a_time_never_booked(world: World) -> None:
    with shop_scope(world.ours.shop):
        key = f"booking:{b.a_booking(b.a_check()).uid.hex}:v1:moved"
        put_message(key=key, to="a@example.com", subject="S", text="T", now=NOW)


def done_without_a_visit(world: World) -> None:
    with shop_scope(world.ours.shop):
        check = b.a_check(state="done")
        record_change(row=check, act="done", actor=TOOL, at=NOW)


BROKEN: dict[str, tuple[Breaking, ...]] = {
    "nothing_points_to_another_shop": (a_link_to_another_shop,),
    "by_method_only_after_the_panel_was_confirmed": (
        a_value_by_method_nobody_confirmed,
        the_same_at_a_place,
    ),
    "a_finding_is_wrong_when_and_only_when_something_was_seen": (
        wrong_without_a_sighting,
        a_sighting_of_something_clean,
    ),
    "a_life_runs_forward_and_ends_once": (a_life_backward, a_life_left_out, two_lives_at_once),
    "a_certificate_lasts_as_long_as_its_longest_cover": (a_certificate_that_lasts_too_long,),
    "a_booking_holds_exactly_its_quarters": (
        a_booking_without_its_quarters,
        a_cancelled_booking_that_holds_time,
        a_quarter_outside_its_booking,
        a_quarter_in_another_lane,
    ),
    "a_defect_put_right_has_a_remedy": (put_right_by_nothing,),
    "what_hangs_together_is_of_one_job": (
        a_finding_at_another_vehicle,
        a_reading_at_another_jobs_panel,
        a_cover_of_another_vehicles_film,
    ),
    "lives_are_what_the_record_says": (a_life_that_was_not_derived, a_life_that_is_missing),
    "a_customer_whose_vehicle_was_handed_over_has_a_certificate": (handed_over_without_a_certificate,),
    "a_replaced_certificate_has_a_successor": (replaced_by_nothing, two_editions_in_force),
    "a_certificates_paper_lies_under_its_hash": (
        paper_that_is_gone,
        paper_that_was_changed,
        paper_of_another_length,
    ),
    "a_message_is_about_something_that_happened": (
        a_message_about_no_certificate,
        a_message_about_no_booking,
        a_message_about_a_time_never_booked,
    ),
    "a_check_that_was_done_was_a_visit": (done_without_a_visit,),
}
CASES = [(rule, breaking) for rule, ways in BROKEN.items() for breaking in ways]


def test_every_rule_is_broken_once() -> None:
    assert set(BROKEN) == {rule.__name__ for rule in rules.RULES}


@pytest.mark.postgres
@pytest.mark.usefixtures("plain_pdf")
@pytest.mark.parametrize(("rule", "breaking"), CASES, ids=lambda one: getattr(one, "__name__", ""))
def test_a_rule_that_is_broken_is_named(world: World, rule: str, breaking: Breaking) -> None:
    assert rules.broken() == []
    with transaction.atomic():
        breaking(world)
        named = {fault.partition(":")[0] for fault in rules.broken()}
        transaction.set_rollback(True)
    assert rule in named
    forget_files()


def forget_files() -> None:
    """Rows were taken back, files are not."""
    shutil.rmtree(settings.MEDIA_ROOT, ignore_errors=True)


@pytest.mark.parametrize("pair", rules.SAME, ids=lambda pair: f"{pair[0].__name__} {pair[1]}")
def test_both_ways_of_a_pair_lead_somewhere(world: World, pair: tuple[Any, str, str]) -> None:
    """A path that no longer exists would be an error, not a silent pass."""
    model, one, other = pair
    with shop_scope(world.ours.shop):
        assert model.objects.filter(**{f"{one}__isnull": False, f"{other}__isnull": False}).count() == 0


def test_the_check_after_every_test_takes_no_time_worth_mentioning(world: World, plain_pdf: None) -> None:
    """Ten milliseconds on a quiet machine; the best of several tries, as this process is busy, with room."""
    with shop_scope(world.ours.shop):
        looked_at_job()
        make_yard(world.ours).issue()
    taken = []
    for _ in range(5):
        begun = process_time()
        assert rules.broken() == []
        taken.append(process_time() - begun)
    print(f"\n{min(taken) * 1000:.1f} ms")
    assert min(taken) < 0.1
