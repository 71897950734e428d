"""The story itself: pure, the same each time, with nothing of the real world in it."""

import os
import re
import subprocess
import sys
from collections import Counter
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path

from shopwarranty.demo import sources
from shopwarranty.demo.people import SIGN_INS
from shopwarranty.demo.stock import LENGTH_MM
from shopwarranty.demo.story import tell
from shopwarranty.demo.told import Story
from shopwarranty.trade import catalogue
from shopwarranty.trade.method import faults
from shopwarranty.trade.vin import check
from shopwarranty.trade.words import FilmFamily

TODAY = date(2026, 11, 25)
ROOT = Path(__file__).parents[2]
HASHED = (
    "import hashlib, datetime; from shopwarranty.demo.story import tell;"
    " print(hashlib.sha256(repr(tell(datetime.date(2026, 11, 25))).encode()).hexdigest())"
)
RESERVED_MAIL = re.compile(r"[a-z.]+@(example\.(com|net|org)|harrow\.example)")  # RFC 2606
FICTION_NUMBER = re.compile(r"\d{3}-555-01\d\d")  # 555-0100 to 555-0199, North American Numbering Plan


@cache
def story() -> Story:
    return tell(TODAY)


def told_in_a_process_of_its_own(hash_seed: str) -> str:
    environment = {**os.environ, "PYTHONHASHSEED": hash_seed}
    done = subprocess.run(
        [sys.executable, "-c", HASHED], cwd=ROOT, env=environment, capture_output=True, check=True
    )
    return done.stdout.decode()


def test_the_same_day_tells_the_same_story_whatever_the_process() -> None:
    assert told_in_a_process_of_its_own("1") == told_in_a_process_of_its_own("2")


def test_two_years_of_about_150_jobs_of_all_films_and_body_styles() -> None:
    jobs = story().jobs
    assert len(jobs) == 150
    assert timedelta(730) < jobs[-1].handed_over_at - jobs[0].handed_over_at < timedelta(790)
    assert {job.family for job in jobs} == set(FilmFamily)
    assert {car.body for car in story().cars} == {body.key for body in catalogue.bodies()}
    assert {job.kind for job in jobs} == {"customer", "own", "test_panel"}


def test_vins_belong_to_no_maker_and_carry_the_right_check_digit() -> None:
    """49 CFR 565: no region was given the 0 as first character (ISO 3780, from memory)."""
    vins = [car.vin for car in story().cars]
    assert len(set(vins)) == len(vins)
    assert all(vin.startswith("0") for vin in vins)
    assert all(not check(vin).faults and not check(vin).is_doubtful for vin in vins)


def test_plates_are_none_of_a_real_office_and_each_hangs_on_one_vehicle() -> None:
    plates = [car.plate for car in story().cars]
    assert len(set(plates)) == len(plates)
    assert all(re.fullmatch(r"0[A-Z]{2} \d{3}", plate) for plate in plates)


def test_nobody_can_be_reached_under_what_stands_there() -> None:
    holders = story().holders
    assert all(RESERVED_MAIL.fullmatch(holder.email) for holder in holders)
    assert all(FICTION_NUMBER.fullmatch(holder.telephone) for holder in holders)
    assert all(RESERVED_MAIL.fullmatch(email) for _role, email, _password in SIGN_INS)
    numbers = [holder.telephone for holder in holders]
    assert len(set(numbers)) == len(numbers)


def test_everything_happened_before_the_day_began() -> None:
    last = max(visit.at for course in story().courses for visit in course.visits)
    assert max(last, *(job.handed_over_at for job in story().jobs)) < datetime(2026, 11, 25)  # noqa: DTZ001
    assert max(cut.at for roll in story().rolls for cut in roll.cuts) < datetime(2026, 11, 25)  # noqa: DTZ001


def test_no_roll_gives_more_film_than_was_on_it() -> None:
    used = [sum(cut.off_roll_mm for cut in roll.cuts) for roll in story().rolls]
    assert max(used) <= LENGTH_MM
    in_stock = [roll for roll in story().rolls if roll.finished_on is None]
    assert {roll.opened_on is None for roll in in_stock} == {True, False}


def test_some_film_is_of_a_lot_nobody_knows_and_one_lot_was_set_aside() -> None:
    assert any(roll.lot is None and roll.cuts for roll in story().rolls)
    aside = [roll for roll in story().rolls if roll.lot == story().quarantined]
    assert len(aside) == 1 and aside[0].cuts and aside[0].finished_on is None


def test_pieces_meet_at_seams_and_layers_lie_on_one_another() -> None:
    pieces = [
        piece for job in story().jobs for panel in job.panels for piece in panel.pieces if piece is not None
    ]
    assert any(place.kind == "seam" for piece in pieces for place in piece.places)
    assert any(piece.layer == 2 for piece in pieces)


def test_not_everybody_comes_and_some_come_because_of_a_defect() -> None:
    visits = Counter(visit.check or visit.origin for course in story().courses for visit in course.visits)
    assert visits["handover"] == 150
    assert 100 < visits["two-week"] < 140 > visits["three-month"] > visits["yearly"] > 20
    assert visits["yearly-2"] and visits["defect"] > 20


def test_defects_grow_are_put_right_come_back_and_some_only_get_watched() -> None:
    defects = [defect for course in story().courses for defect in course.defects]
    assert any(len(defect.sightings) > 1 for defect in defects)
    assert any(defect.remedy is None for defect in defects) and any(defect.remedy for defect in defects)
    assert any(defect.recurrence_of is not None for defect in defects)
    assert any(defect.sightings[-1].severity == 1 for defect in defects)
    assert any(course.lost_panel is not None for course in story().courses)


def test_unrecorded_values_stay_unrecorded() -> None:
    places = [
        place
        for job in story().jobs
        for panel in job.panels
        for piece in panel.pieces
        for place in piece.places
    ]
    said = Counter(
        place.values.get("post_heated", (None, ""))[0] for place in places if place.kind != "field"
    )
    assert min(said[True], said[False], said[None]) > 50


def test_the_methods_say_nothing_the_trade_does_not_know() -> None:
    versions = [version for method in sources.methods() for version in method.versions]
    assert len(versions) > len(sources.methods())
    assert [fault for version in versions for fault in faults(version.values)] == []
