"""A trial from its question to its answer; and the refusal to burden a customer."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, expect

from shopwarranty.jobs.models import Job, PanelWork
from shopwarranty.shops.scope import shop_scope
from shopwarranty.trials.models import Draw, Trial
from tests import builders
from tests.browser.conftest import PHONE, WIDE, OpenPage
from tests.browser.hand import follow, go, press
from tests.builders import TODAY, noon
from tests.trials.conftest import open_job

Picture = Callable[[Page, str], Path]


def taken(page: Page, picture: Picture, name: str) -> None:
    """At both widths, without scrolling sideways."""
    for size in (PHONE, WIDE):
        page.set_viewport_size({"width": size[0], "height": size[1]})
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0], name
        picture(page, f"trial-{name}-{size[0]}")


def ask(page: Page) -> None:
    page.get_by_label("What do you want to know").fill("Does an edge hold without post-heat?")
    page.get_by_label("What differs").select_option("post_heated")
    page.get_by_label("As usual").fill("yes")
    page.get_by_label("The other way", exact=True).fill("no")
    press(page, "Work out what it takes")


def looked_at(job: Job) -> None:
    """Laid three weeks ago; today every edge done the other way has failed, every usual one is clean."""
    on = builders.days_ago(21)
    PanelWork.objects.filter(job=job).update(finished_at=noon(on))
    visit = builders.a_visit(job, TODAY, finished=False)
    for row in Draw.objects.filter(job=job).select_related("place"):
        assert row.place is not None
        if row.arm == "other":
            builders.a_defect(visit, row.place, severity=3)
        else:
            builders.a_finding(visit, row.place)
    type(visit).objects.filter(pk=visit.pk).update(state="finished", finished_at=noon(TODAY))


def test_from_question_to_answer(world: Any, open_page: OpenPage, picture: Picture) -> None:
    ours, slug = world.ours, world.ours.shop.slug
    with shop_scope(ours.shop):
        jobs = [open_job() for _ in range(6)]
        customers = open_job(owned="customer", holder=True)
    page = open_page(f"/s/{slug}/trials/", user=ours.owner.user)
    taken(page, picture, "none")
    follow(page, "Ask a new question")
    ask(page)
    expect(page.get_by_text("You will never know at this pace")).to_be_visible()
    taken(page, picture, "plan")
    press(page, "Start the trial")
    expect(page.get_by_role("heading", name="Running: too early to say.")).to_be_visible()
    address = page.url

    press(page, f"Draw for {customers.ref}")
    expect(page.get_by_role("heading", name="Not drawn: this would burden a customer.")).to_be_visible()
    taken(page, picture, "refused")
    follow(page, "The holder agreed: record it")
    taken(page, picture, "consent")
    for job in jobs:
        page.goto(address)
        press(page, f"Draw for {job.ref}")
        expect(page.get_by_text("Each panel says what to do there")).to_be_visible()

    with shop_scope(ours.shop):
        panel = PanelWork.objects.get(job=jobs[0], panel="left-front-door")
    page.goto(f"/s/{slug}/panels/{panel.pk}/")
    expect(page.get_by_text("pair 1")).to_be_visible()
    taken(page, picture, "panel")
    go(page, page.locator("button[name=did][value=drawn]").first)  # "left as it is" where a step is left out
    expect(page.get_by_text("Done as drawn.", exact=False).first).to_be_visible()

    with shop_scope(ours.shop):
        for job in jobs:
            looked_at(job)
        trial = Trial.objects.get()
    page.goto(f"{address}places/")
    expect(page.get_by_text("as usual")).to_have_count(0)
    taken(page, picture, "places")
    page.goto(address)
    expect(page.get_by_role("heading", level=1)).to_contain_text("makes places fail more often")
    taken(page, picture, "answer")
    follow(page, "End the trial")
    page.get_by_label("Why").fill("The answer is clear.")
    press(page, "End the trial")
    expect(page.get_by_text("Ended: The answer is clear.")).to_be_visible()
    with shop_scope(ours.shop):
        trial.refresh_from_db()
    assert trial.state == "enough"
