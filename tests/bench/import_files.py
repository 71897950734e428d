"""Invented flat files of any length: the history of a shop that puts film on eight panels a job."""

import csv
import random
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

from shopwarranty.trade import catalogue

PANELS = ("front-bumper", "bonnet", "left-wing", "left-mirror", "left-front-door", "right-front-door")
JOB_HEADERS = (
    "job_ref started_at handed_over_on method method_version vehicle_first_job make model year colour"
    " body_style vin_kind plate holder holder_email panel washed washed_basis solvent_wiped laid"
    " stretch panel_confirmed_at panel_finished_at installer measured_at air_c surface_c"
    " humidity_percent piece film_maker film film_family lot roll cut_along_mm cut_across_mm place"
    " post_heated post_heated_basis post_heat_temperature_c passes passes_basis wrap_in_wanted_mm"
    " wrap_in_reached_mm covered_by left_short"
).split()
LOOK_HEADERS = (
    "job_ref visit_on origin panel piece place result kind severity extent_mm remedy remedy_on inspected_by"
).split()


def write_history(folder: Path, jobs: int, seed: int = 20261125) -> tuple[int, int]:
    """`jobs.csv` and `findings.csv` with two full checks a job. Returns how many rows each has."""
    chance = random.Random(seed)
    counts = [0, 0]
    with (
        (folder / "jobs.csv").open("w", newline="") as one,
        (folder / "findings.csv").open("w", newline="") as two,
    ):
        job_file, look_file = csv.writer(one), csv.writer(two)
        job_file.writerow(JOB_HEADERS)
        look_file.writerow(LOOK_HEADERS)
        for number in range(jobs):
            rows, looks = history_of_job(number, chance)
            job_file.writerows(rows)
            look_file.writerows(looks)
            counts = [counts[0] + len(rows), counts[1] + len(looks)]
    return counts[0], counts[1]


def history_of_job(number: int, chance: random.Random) -> tuple[list[list[object]], list[list[object]]]:
    day = date(2024, 1, 2) + timedelta(days=number % 700)
    ref, later = f"B{number:06d}", day + timedelta(days=1)
    job: list[object] = [
        ref,
        f"{day}T08:00+00:00",
        later,
        "Usual",
        1,
        ref,
        "Osk",
        "Tarn",
        2020 + number % 6,
        "grey",
        "suv",
    ]
    job += ["to_read", f"7FN {number:05d}", f"Holder {number}", f"holder{number}@example.com"]
    rows: list[list[object]] = []
    looks: list[list[object]] = []
    for panel in PANELS:
        at = f"{day}T{9 + chance.randrange(8):02d}:00+00:00"
        work: list[object] = [
            panel,
            "yes",
            "by_method",
            "yes",
            "wet",
            chance.choice(("low", "medium")),
            at,
            at,
        ]
        work += [f"Installer {chance.randrange(6)}", at, chance.randrange(160, 260) / 10, 19, 45, 1]
        film = [
            "Hollow Lake Films",
            "Clear 8",
            "clear-protective",
            f"L{number // 40:04d}",
            f"R{number // 8:05d}",
        ]
        work += [*film, 1200 + chance.randrange(400), 900]
        rows += [[*job, *work, *place] for place in _places(panel, chance)]
        looks += _looks(ref, panel, later, chance)
    return rows, sorted(looks, key=lambda look: str(look[1]))


def _places(panel: str, chance: random.Random) -> Iterator[list[object]]:
    for place in catalogue.default_places(catalogue.panel("suv", panel)):
        ends = place.kind == "edge"
        heated = chance.random() < 0.9
        line = [
            place.key,
            "yes" if heated else "no",
            "by_method",
            chance.choice((88, 90, 95)) if heated else "",
        ]
        line += [2, "by_method", 8 if ends else "", chance.randrange(4, 11) if ends else ""]
        yield [*line, "none" if place.kind != "field" else "", "no" if ends else ""]


def _looks(ref: str, panel: str, handed_over: date, chance: random.Random) -> Iterator[list[object]]:
    for days in (14, 91):
        on = handed_over + timedelta(days=days)
        for place in catalogue.default_places(catalogue.panel("suv", panel)):
            wrong = place.kind == "edge" and chance.random() < 0.02
            seen = ["defect", "edge-lift", 2, 12, "reheat", on] if wrong else ["clean", "", "", "", "", ""]
            yield [ref, on, "planned", panel, 1, place.key, *seen, "Installer 0"]
