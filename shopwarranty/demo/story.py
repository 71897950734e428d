"""The whole story of the demo shop for a day: the same each time, and pure."""

from datetime import date

from . import sources
from .course import CourseOfJob
from .fate import BAD_LOT, BAD_LOT_FILM, spots_of
from .plans import Plan, planned
from .stock import HELD_BACK, Stockroom
from .told import Car, Course, Job, Story
from .workshop import INSTALLERS, job_of


def tell(today: date) -> Story:
    """Jobs of two years up to the day before `today`, with their film, checks, findings and remedies."""
    plan = planned(today)
    stock = Stockroom(_totals(plan.plans))
    jobs = tuple(job_of(one, plan.cars[one.car].body, today, stock) for one in plan.plans)
    stock.put_by(today)
    return Story(
        today=today,
        holders=plan.holders,
        cars=plan.cars,
        lots=tuple(stock.lots),
        rolls=stock.rolls(),
        jobs=jobs,
        courses=_courses(jobs, stock, today),
        quarantined=stock.lot_at("reed-clear", HELD_BACK),
    )


def _courses(jobs: tuple[Job, ...], stock: Stockroom, today: date) -> tuple[Course, ...]:
    families = {film.key: film.family for film in sources.films()}
    bad = stock.lot_at(BAD_LOT_FILM, BAD_LOT)
    rolls = frozenset(number for number in range(len(stock.rolls())) if stock.lot_of(number) == bad)
    return tuple(CourseOfJob(job, spots_of(job, families, rolls), today, INSTALLERS).told() for job in jobs)


def _totals(plans: tuple[Plan, ...]) -> dict[str, int]:
    totals = {film.key: 0 for film in sources.films()}
    for plan in plans:
        totals[plan.film] += 1
    return totals


def body_of(story: Story, job: Job) -> str:
    car: Car = story.cars[job.car]
    return car.body
