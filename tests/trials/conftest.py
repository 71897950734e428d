"""A trial of the recess and edges without post-heat, left against right, in our shop."""

from typing import Any

import pytest

from shopwarranty.jobs.models import Job
from shopwarranty.shops.history import Actor
from shopwarranty.trials.actions import Question, set_up_trial
from shopwarranty.trials.models import Trial
from tests import builders
from tests.conftest import NOW, ShopPeople

DOORS = ("left-front-door", "right-front-door")


def question(**more: Any) -> Question:
    values: dict[str, Any] = {
        "words": "Does an edge hold without post-heat?",
        "field": "post_heated",
        "usual_value": "yes",
        "other_value": "no",
        "less_careful": False,
        "unit": "sides",
        "place_kinds": ("edge",),
        "panels": ("front-door",),
        "defect_kinds": (),
        "by_day": 90,
        "ratio": 2.0,
        "check_days": (14, 90),
        **more,
    }
    return Question(**values)


def a_trial(people: ShopPeople, **more: Any) -> Trial:
    return set_up_trial(
        question=question(**more),
        pairs_needed=300,
        size_words="About 300 pairs.",
        seed=7,
        actor=Actor.of(people.owner),
        now=NOW,
    )


def open_job(*, owned: str = "shop", holder: bool = False) -> Job:
    """Both front doors started, not finished."""
    vehicle = builders.a_vehicle(holder=builders.a_holder() if holder else None, owned=owned)
    job = builders.a_job(vehicle=vehicle, panels=())
    for panel in DOORS:
        builders.a_panel(job, panel, finished_on=None)
    return job


@pytest.fixture
def trial(ours: ShopPeople) -> Trial:
    return a_trial(ours)
