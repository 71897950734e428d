"""After a check the holder is written to once: what was looked at, what not, what was not right."""

from datetime import timedelta
from typing import Any

from shopwarranty.inspections.models import Finding
from shopwarranty.outbox import tick
from shopwarranty.outbox.models import Message
from tests import builders as b

from .test_pages import WRONG, answers, prove, started
from .test_pages import job as job
from .test_pages import now as now
from .test_pages import page as page


def results() -> list[Message]:
    return list(Message.objects.filter(key__contains=":result"))


def test_the_mail_counts_what_the_visit_on_the_phone_found_and_leaves_nothing_out(
    page: Any, job: Any
) -> None:
    """One door swept but for a lift, one panel without an answer; then the worker's pass an hour later."""
    visit, panels = started(page, job)
    window = b.a_place(job, "window", "left-front-door")
    page(f"visits/{visit.pk}/panels/{panels[1]}/", {**answers(window, "defect", **WRONG), "act": "sweep"})
    page(f"visits/{visit.pk}/panels/{panels[0]}/", {"act": "sweep"})
    page(f"visits/{visit.pk}/finish/", {"note": "only for us"})
    prove(page, visit)
    tick.run(b.NOW + timedelta(minutes=30))
    assert results() == [], "within the hour a slip can still be put right"
    for minutes in (70, 71):
        tick.run(b.NOW + timedelta(minutes=minutes))
    (mail,) = results()
    found = Finding.objects.filter(visit=visit)
    looked, unseen = found.exclude(result="not_looked").count(), found.filter(result="not_looked").count()
    assert looked and unseen
    assert f"We looked at {looked} places; at one of them something is not right" in mail.text
    assert f"{unseen} places could not be looked at." in mail.text
    assert mail.to == job.vehicle.holdings.get().party.email
    assert "only for us" not in mail.text + mail.html


def test_after_a_visit_nobody_could_look_at_anything_in_nothing_is_written(page: Any, job: Any) -> None:
    visit, _panels = started(page, job)
    page(f"visits/{visit.pk}/finish/", {"note": ""})
    tick.run(b.NOW + timedelta(minutes=70))
    assert results() == []
