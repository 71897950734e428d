"""One vehicle that left with a certificate, a lifted edge on it, and claims about that."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from shopwarranty.claims import actions
from shopwarranty.claims.actions import Reported
from shopwarranty.claims.actions.deciding import Said
from shopwarranty.claims.models import Claim, ClaimedDefect
from shopwarranty.defects.models import Defect
from shopwarranty.jobs.models import Job, Place
from shopwarranty.shops.history import Actor
from shopwarranty.warranty.models import Certificate
from tests import builders
from tests.conftest import NOW, ShopPeople
from tests.warranty.conftest import TODAY, Yard, make_yard
from tests.warranty.conftest import plain_pdf as plain_pdf

LINES = (
    {"title": "An edge lifts", "years": 2, "remedy": "We press it down.", "defect_kinds": ["edge-lift"]},
    {"title": "Film turns yellow", "years": 5, "remedy": "New film.", "defect_kinds": ["yellowing"]},
)
EXCLUSION = "Damage from outside."
LATER = datetime(2027, 3, 8, 15, tzinfo=UTC)
LAST_DAY = date(2028, 11, 25)


@dataclass(frozen=True, slots=True)
class Bench:
    """A certificate of November 25, 2026: edges for two years, colour for five."""

    yard: Yard
    certificate: Certificate

    @property
    def people(self) -> ShopPeople:
        return self.yard.people

    @property
    def owner(self) -> Actor:
        return Actor.of(self.people.owner)

    @property
    def desk(self) -> Actor:
        return Actor.of(self.people.desk)

    @property
    def job(self) -> Job:
        return self.certificate.job

    def edge(self, panel: str = "bonnet", nth: int = 0) -> Place:
        rows = Place.objects.filter(piece__panel_work__job=self.job, piece__panel_work__panel=panel)
        return list(rows.filter(kind="edge").order_by("walk"))[nth]

    def defect(self, kind: str = "edge-lift", *, place: Place | None = None, **visit: Any) -> Defect:
        seen = builders.a_visit(self.job, LATER.date() - timedelta(days=2), **visit)
        return builders.a_defect(seen, place or self.edge(), kind)

    def claim(self, *items: Reported, now: datetime = LATER, **more: Any) -> Claim:
        """In assessment, about a lifted edge unless the test says otherwise."""
        claim = self.received(*items, now=now, **more)
        actions.acknowledge(claim=claim, actor=self.desk, now=now)
        actions.assess(claim=claim, is_safety=False, is_spreading=None, note="", actor=self.desk, now=now)
        return claim

    def received(self, *items: Reported, now: datetime = LATER, **more: Any) -> Claim:
        return actions.open_claim(
            vehicle=self.certificate.vehicle,
            items=items or (Reported("An edge lifts.", defect=self.defect()),),
            actor=self.desk,
            now=now,
            **more,
        )

    def decide(self, item: ClaimedDefect, answer: str, now: datetime = LATER, **said: Any) -> Any:
        return actions.decide(
            item=item, said=Said(answer, **{"reason": "As it is.", **said}), actor=self.owner, now=now
        )

    @property
    def edge_line(self) -> int:
        return self.certificate.plan_version.lines.get(title="An edge lifts").pk


@pytest.fixture
def bench(ours: ShopPeople, plain_pdf: None) -> Bench:
    yard = make_yard(ours)
    job = yard.job(panels=("bonnet", "left-wing"))
    certificate = yard.issue(job, plan_version=yard.published(LINES))
    Job.objects.filter(pk=job.pk).update(state="handed_over", handed_over_on=TODAY, handed_over_at=NOW)
    certificate.refresh_from_db()
    return Bench(yard, certificate)


@pytest.fixture
def at(monkeypatch: pytest.MonkeyPatch) -> Callable[[datetime], None]:
    """What time the pages think it is."""

    def set_to(moment: datetime) -> None:
        monkeypatch.setattr("django.utils.timezone.now", lambda: moment)

    set_to(LATER)
    return set_to
