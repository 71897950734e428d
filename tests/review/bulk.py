"""Many jobs with lives at once, made in bulk: for speed, for query counts and for looking at the page.

Lives are drawn, not derived from visits: failures come at a constant hazard, a few in the first fortnight.
Some panels fail more often than others, places without post-heat three times as often.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import numpy as np

from shopwarranty.defects.models import Life
from shopwarranty.films.models import FilmProduct, Lot
from shopwarranty.jobs.models import FilmPiece, Job, PanelMember, PanelWork, Place, Reading, Vehicle
from shopwarranty.trade import catalogue
from tests.builders import TODAY

CHECKS = np.array([14, 90, 365, 730])
COMES = np.array([0.8, 0.6, 0.6, 0.5])
PER_YEAR = 0.02
OFTEN = {"front-door": 2.5, "front-bumper": 1.6, "rear-door": 1.4, "bonnet": 0.6, "roof": 0.4}
PANELS = (*catalogue.USUAL_FRONT, "left-rear-door", "right-rear-door", "roof", "rear-bumper")


def noon(day: date) -> datetime:
    return datetime.combine(day, time(12), tzinfo=UTC)


def many_jobs(
    jobs: int,
    members: Sequence[Any] = (),
    *,
    seed: int = 1,
    first: date = TODAY - timedelta(days=900),
    per_year: float = PER_YEAR,
) -> None:
    """So many finished jobs with twelve panels each, all places, readings, lots in order, and their lives."""
    rng = np.random.default_rng(seed)
    film = FilmProduct.objects.create(maker="Hollow Lake", name="Clear 8", family="clear-protective")
    matt = FilmProduct.objects.create(maker="Hollow Lake", name="Clear matt", family="clear-protective")
    lots = Lot.objects.bulk_create([Lot(product=film, number=f"61-{900 + n}") for n in range(8)])
    lots += Lot.objects.bulk_create([Lot(product=matt, number=f"72-{100 + n}") for n in range(3)])
    days = [first + timedelta(days=int(d)) for d in np.sort(rng.integers(0, 860, jobs))]
    vehicles = Vehicle.objects.bulk_create(
        [Vehicle(make="Osk", model="Tarn", body_style="suv" if n % 4 else "saloon") for n in range(jobs)]
    )
    made = Job.objects.bulk_create(
        [
            Job(ref=f"B{n:05d}", vehicle=v, started_at=noon(d), entered_at=noon(d))
            for n, (v, d) in enumerate(zip(vehicles, days, strict=True))
        ]
    )
    cold = rng.normal(18, 4, jobs)
    Reading.objects.bulk_create(
        [
            Reading(
                job=j,
                at=noon(d) - timedelta(hours=1),
                entered_at=noon(d),
                surface_c=float(c),
                surface_c_basis="measured",
                air_c=float(c + 2),
                air_c_basis="measured",
                humidity=50.0,
                humidity_basis="measured",
            )
            for j, d, c in zip(made, days, cold, strict=True)
        ]
    )
    works = PanelWork.objects.bulk_create(
        [
            PanelWork(
                job=j,
                panel=panel,
                walk=walk,
                finished_at=noon(d),
                confirmed_at=noon(d),
                hardware=str(rng.choice(["removed", "loosened"])),
                hardware_basis="stated",
                washed=True,
                washed_basis="by_method",
            )
            for j, d in zip(made, days, strict=True)
            for walk, panel in enumerate(PANELS)
        ]
    )
    if members:
        PanelMember.objects.bulk_create(
            [
                PanelMember(panel_work=w, member=members[n // len(PANELS) % len(members)])
                for n, w in enumerate(works)
            ]
        )
    pieces = FilmPiece.objects.bulk_create([_piece(n, w, lots, jobs) for n, w in enumerate(works)])
    places = Place.objects.bulk_create([place for piece in pieces for place in _places(piece, rng)])
    frailty = np.exp(rng.normal(-0.18, 0.6, jobs))
    Life.objects.bulk_create(
        _lives(places, dict(zip((j.pk for j in made), frailty, strict=True)), per_year, rng)
    )


def _piece(number: int, work: PanelWork, lots: Sequence[Lot], jobs: int) -> FilmPiece:
    job = number // len(PANELS)
    lot = lots[8 + job % 3] if job % 5 == 0 else lots[min(7, job * 8 // jobs)]
    if job % 23 == 0:
        return FilmPiece(panel_work=work, product=lot.product, lot_unknown_reason="label_lost")
    return FilmPiece(panel_work=work, product=lot.product, lot=lot)


def _places(piece: FilmPiece, rng: np.random.Generator) -> list[Place]:
    panel = catalogue.panel("suv", piece.panel_work.panel)
    heated = rng.random() < 0.8
    said = "stated" if rng.random() < 0.7 else "by_method"
    unknown = rng.random() < 0.08
    return [
        Place(
            piece=piece,
            key=place.key,
            kind=place.kind.value,
            walk=walk,
            post_heated=None if unknown else heated,
            post_heated_basis="" if unknown else said,
            passes=2 + int(rng.random() < 0.3),
            passes_basis="stated",
        )
        for walk, place in enumerate(catalogue.default_places(panel))
    ]


def _lives(
    places: Sequence[Place], frailty: dict[int, float], per_year: float, rng: np.random.Generator
) -> list[Life]:
    seen: dict[int, Any] = {}
    lives = []
    for place in places:
        work = place.piece.panel_work
        assert work.finished_at is not None
        started = work.finished_at.date()
        if work.job_id not in seen:
            seen[work.job_id] = CHECKS[(rng.random(4) < COMES) & ((TODAY - started).days >= CHECKS)]
        looks = seen[work.job_id]
        looks = looks[rng.random(len(looks)) > 0.05]
        rate = per_year * OFTEN.get(catalogue.kind_of(work.panel), 1.0) * frailty[work.job_id]
        rate *= 3.0 if place.post_heated is False else 1.0
        fails = rng.exponential(365 / rate) if rng.random() > 0.01 else rng.uniform(0, 14)
        clean = max((int(day) for day in looks if day < fails), default=None)
        found = min((int(day) for day in looks if day >= fails), default=None)
        lives.append(
            Life(
                place=place,
                job_id=work.job_id,
                family="clear-protective",
                starts_on=started,
                clean_day=clean,
                failed_day=found,
                all_clean_day=clean,
                all_failed_day=found,
                ended="open" if found is None else "failed",
                ended_day=found,
            )
        )
    return lives
