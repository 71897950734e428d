"""What signed-in people do all day, for locust: `load` starts it. LOAD_PLAN names a file with who and what.

Mostly they read the pages of the three acts; now and then somebody hands over, books or records findings.
Anything but the page asked for, or the answer that says it was done, is a failure.
"""

import json
import os
from collections import deque
from pathlib import Path
from random import choice
from typing import Any
from uuid import uuid4

from locust import FastHttpUser, between, events, task
from locust.env import Environment

PLAN: dict[str, Any] = json.loads(Path(os.environ["LOAD_PLAN"]).read_text())
TOKEN = "t" * 32
people, jobs, checks, looks = (deque(PLAN[name]) for name in ("cookies", "jobs", "checks", "looks"))


def until_enough(environment: Environment, **more: Any) -> None:
    """Ends before its time once so many requests were answered, where a number is given."""

    def counted(**more: Any) -> None:
        runner = environment.runner
        if runner and PLAN["requests"] and runner.stats.total.num_requests >= PLAN["requests"]:
            runner.quit()

    environment.events.request.add_listener(counted)  # type: ignore[no-untyped-call]


events.init.add_listener(until_enough)  # type: ignore[no-untyped-call]


class Member(FastHttpUser):
    """Looks at a page for some seconds before going on."""

    wait_time = between(*PLAN["thinks"])
    connection_timeout = network_timeout = 300.0  # as long as browsers wait

    def on_start(self) -> None:
        self.headers = {"Cookie": f"sessionid={people.popleft()}; csrftoken={TOKEN}"}
        self.nothing()

    def look_at(self, name: str, path: str) -> None:
        with self.client.get(
            f"/s/acts/{path}", name=name, headers=self.headers, allow_redirects=False, catch_response=True
        ) as answer:
            if answer.status_code != 200:
                answer.failure(f"{answer.status_code} instead of the page")

    def press(self, name: str, path: str, form: dict[str, str], done: tuple[int, ...] = (302,)) -> bool:
        with self.client.post(
            f"/s/acts/{path}",
            data={**form, "csrfmiddlewaretoken": TOKEN},
            name=name,
            headers=self.headers,
            allow_redirects=False,
            catch_response=True,
        ) as answer:
            if answer.status_code not in done:
                answer.failure(f"{answer.status_code} instead of done")
            return bool(answer.status_code == 302)

    @task(12)
    def nothing(self) -> None:
        self.look_at("empty", "empty/")

    @task(10)
    def the_day(self) -> None:
        self.look_at("today", "")

    @task(6)
    def job_list(self) -> None:
        self.look_at("jobs", "jobs/")

    @task(10)
    def job(self) -> None:
        self.look_at("job", f"jobs/{choice(PLAN['jobs'])}/")

    @task(5)
    def search(self) -> None:
        self.look_at("search", "search/?q=7FN")

    @task(4)
    def what_is_missing(self) -> None:
        if jobs:
            self.look_at("what is missing", f"jobs/{jobs[0]}/hand-over/")
            self.hand_over_now(now=choice((True, False)))

    def hand_over_now(self, *, now: bool) -> None:
        if now and jobs:
            job = jobs.popleft()
            self.press("hand over", f"jobs/{job}/hand-over/", {"mail": "yes", "reason-no_look": "from afar"})

    @task(5)
    def certificates(self) -> None:
        self.look_at("certificates", "certificates/")

    @task(8)
    def check_list(self) -> None:
        self.look_at("checks", "checks/")

    @task(5)
    def week(self) -> None:
        self.look_at("week", "week/")

    @task(8)
    def check(self) -> None:
        self.look_at("check", f"checks/{choice(PLAN['checks'])}/")

    @task(4)
    def book(self) -> None:
        """A time that somebody else just took is offered no more; the check is tried again later."""
        if checks:
            check = checks.popleft()
            self.look_at("times", f"checks/{check}/book/")
            done = self.press("book", f"checks/{check}/book/", {"slot": choice(PLAN["times"])}, (302, 200))
            if not done:
                checks.append(check)

    @task(5)
    def findings(self) -> None:
        if looks:
            path, form = looks.popleft()
            self.look_at("panel", path)
            self.press("findings", path, {**form, "entry_uid": str(uuid4())})

    @task(5)
    def review(self) -> None:
        self.look_at("review", "review/")
