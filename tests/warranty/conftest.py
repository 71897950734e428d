"""A finished full front on one vehicle, the plan a new shop starts with, and certificates issued on them."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

import pytest

from shopwarranty.films.models import FilmProduct, Lot, Roll
from shopwarranty.jobs import actions as jobs
from shopwarranty.jobs.models import Job, MethodVersion, PanelWork, Place, Vehicle
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Shop
from shopwarranty.trade.catalogue import USUAL_FRONT
from shopwarranty.warranty import actions
from shopwarranty.warranty.models import Certificate, PlanVersion
from shopwarranty.warranty.plan_actions import publish, write_draft
from shopwarranty.warranty.snapshot_parts import Snapshot
from shopwarranty.warranty.usual_plan import add_usual_plan
from tests.conftest import NOW, ShopPeople

METHOD = {
    "edge": {"post_heated": True, "passes": 2, "wrap_in_wanted_mm": 8.0, "wrap_in_reached_mm": 8.0},
    "recess": {"post_heated": True, "passes": 2},
}
AN_EDGE = {"title": "An edge lifts", "years": 2, "remedy": "We press it down."}
WORDS = {
    "language": "en",
    "exclusions": ["Damage from outside."],
    "paid": "Film and labour.",
    "not_paid": "Transport.",
    "claim_steps": ["Take a photo.", "Call us."],
}
VIN = "0DEMXWRA1TF000123"  # synthetic: no maker has a VIN that starts with 0
TODAY = date(2026, 11, 25)


@dataclass(frozen=True, slots=True)
class Yard:
    """A shop with a plan, a method and two films; `job` opens one with finished panels."""

    people: ShopPeople
    actor: Actor
    plan: PlanVersion
    method: MethodVersion
    rolls: tuple[Roll, Roll]

    @property
    def shop(self) -> Shop:
        found: Shop = self.people.shop
        return found

    def vehicle(self, *, holder: str = "A. Example", plate: str = "7FN 402", **more: Any) -> Vehicle:
        values = {
            "make": "Osk",
            "model": "Tarn",
            "year": 2025,
            "colour": "slate grey",
            "vin": VIN,
            "vin_kind": "vin",
        }
        made = jobs.add_vehicle(actor=self.actor, now=NOW, **{"body_style": "suv", **values, **more})
        if holder:
            party = jobs.add_party(
                name=holder,
                email="holder@example.com",
                address="9 Sample Street\nExample City",
                actor=self.actor,
                now=NOW,
            )
            jobs.hold_vehicle(
                vehicle=made, party=party, role="holder", since=TODAY, actor=self.actor, now=NOW
            )
        if plate:
            jobs.set_plate(vehicle=made, text=plate, since=TODAY, actor=self.actor, now=NOW)
        return made

    def job(
        self,
        *,
        vehicle: Vehicle | None = None,
        panels: Iterable[str] = USUAL_FRONT,
        finished: Iterable[str] | None = None,
        **more: Any,
    ) -> Job:
        """Bumper and mirrors in the second film, all else in the first; `finished`: not all of the panels."""
        wanted = tuple(panels)
        job = jobs.open_job(
            vehicle=vehicle or self.vehicle(), method_version=self.method, actor=self.actor, now=NOW, **more
        )
        second = tuple(panel for panel in wanted if "bumper" in panel or "mirror" in panel)
        for roll, chosen in zip(
            self.rolls, (tuple(p for p in wanted if p not in second), second), strict=True
        ):
            if chosen:
                jobs.start_panels(
                    job=job, panels=chosen, catalogue=ShopCatalogue(self.shop),
                    film=jobs.FilmChoice(roll=roll), actor=self.actor, now=NOW,
                )  # fmt: skip
        for work in PanelWork.objects.filter(
            job=job, panel__in=wanted if finished is None else tuple(finished)
        ):
            jobs.confirm_panel(panel_work=work, actor=self.actor, now=NOW, finished=True, finished_at=NOW)
        return job

    def differs(self, job: Job, panel: str, place: str, field: str, value: Any) -> None:
        found = Place.objects.get(piece__panel_work__job=job, piece__panel_work__panel=panel, key=place)
        jobs.record_deviation(
            place=found, field=field, actual=value, reason="tight cup", actor=self.actor, now=NOW
        )

    def published(self, lines: Iterable[dict[str, Any]] = (), **words: Any) -> PlanVersion:
        """The next version of the plan, with words of its own."""
        version = write_draft(
            plan=self.plan.plan,
            words={**WORDS, **words},
            lines=tuple(lines) or (AN_EDGE,),
            actor=self.actor,
            now=NOW,
        )
        publish(version=version, warned=(), reasons={}, actor=self.actor, now=NOW)
        return version

    def issue(self, job: Job | None = None, **more: Any) -> Certificate:
        values = {"plan_version": self.plan, "handed_over_on": TODAY, "now": NOW, **more}
        prepared = actions.prepare_certificate(job=job or self.job(), **values)
        return actions.issue_prepared(prepared=prepared, actor=self.actor, now=NOW)


def make_yard(people: ShopPeople) -> Yard:
    actor = Actor.of(people.installer)
    plan = add_usual_plan(shop=people.shop, actor=Actor.of(people.owner), now=NOW)
    method = jobs.add_method(name="Full front", values=METHOD, actor=actor, now=NOW)
    rolls = []
    for name, number, label in (("Clear 8", "61-0934", "R3"), ("Clear 6", "58-2207", "R1")):
        product = FilmProduct.objects.create(
            maker="Alder", name=name, family="clear-protective", finish="gloss"
        )
        lot = Lot.objects.create(product=product, number=number)
        rolls.append(
            Roll.objects.create(product=product, lot=lot, label=label, width_mm=1524, length_mm=15240)
        )
    return Yard(people, actor, plan, method, (rolls[0], rolls[1]))


@pytest.fixture
def yard(ours: ShopPeople) -> Yard:
    return make_yard(ours)


@pytest.fixture
def codes() -> Callable[[], str]:
    """The same row of codes in every run."""
    made = iter(f"CERT{number:02d}ABCDEFGHJK".replace("0", "2").replace("1", "3") for number in range(90))
    return lambda: next(made)


@pytest.fixture
def plain_pdf(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the paper itself is not looked at: a short file that names its snapshot, as the real one does."""

    def print_short(snapshot: Snapshot, **more: Any) -> bytes:
        return f"%PDF-1.7 short, snapshot-sha256-{snapshot.sha256}".encode()

    monkeypatch.setattr("shopwarranty.warranty.preparing.render", print_short)
    monkeypatch.setattr("shopwarranty.warranty.preparing.sign", lambda pdf, **more: pdf)
