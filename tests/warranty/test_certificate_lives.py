"""Random lives of a certificate: whatever is tried in whatever order, what was promised stays promised.

The rules are the project's own (one in force, nothing issued changes, end dates never move, closed reasons
for withdrawing, nothing of an old holder reaches a new one); the order of acts comes from hypothesis.
"""

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from hypothesis import HealthCheck, Phase, event, given, settings
from hypothesis import strategies as st

from shopwarranty.desk.handover import HandoverRefusal, issue_late
from shopwarranty.jobs import actions as jobs
from shopwarranty.jobs.actions.pieces import add_piece, remove_panel
from shopwarranty.jobs.models import FilmPiece, Job, PanelWork
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.outbox.models import Message
from shopwarranty.shops.models import Change
from shopwarranty.warranty import actions, refusals
from shopwarranty.warranty.models import Certificate, Cover, Transfer
from shopwarranty.warranty.proof import faults_of
from shopwarranty.warranty.snapshot import NoHolder, NothingToCertify
from shopwarranty.warranty.transfers import Sale, transfer_vehicle
from tests.conftest import NOW
from tests.warranty.conftest import TODAY, Yard

pytestmark = pytest.mark.usefixtures("plain_pdf")
REFUSALS = (refusals.CertificateRefusal, NoHolder, NothingToCertify, HandoverRefusal)
LEGAL = {("issued", "replaced"), ("issued", "withdrawn")}
SAYS = {"issued": "Genuine", "replaced": "replaced by a later edition", "withdrawn": "withdrawn"}
Frozen = dict[int, tuple[str, str, int]]


@dataclass(slots=True)
class Life:
    """One job with two finished panels and one to finish, and everything that ever was issued for it."""

    yard: Yard
    job: Job
    now: datetime = NOW
    printed: Frozen = field(default_factory=dict)
    promised: dict[tuple[int, int], tuple[Any, Any]] = field(default_factory=dict)
    sold: int = 0

    def latest(self) -> Certificate:
        return Certificate.objects.filter(job=self.job).select_related("vehicle", "job", "shop").latest("pk")

    def by(self) -> dict[str, Any]:
        return {"actor": self.yard.actor, "now": self.now}

    def issue_again(self) -> None:
        self.yard.issue(self.job, now=self.now)

    def issue_late(self) -> None:
        issue_late(job=self.job, **self.by())

    def finish_one_more(self) -> None:
        for work in PanelWork.objects.filter(job=self.job, finished_at__isnull=True)[:1]:
            jobs.confirm_panel(
                panel_work=work, finished=True, finished_at=self.now, reason="came back for it", **self.by()
            )

    def supplement(self) -> None:
        actions.replace_certificate(certificate=self.latest(), why="as the record says", **self.by())

    def edition_of_an_earlier_one(self) -> None:
        first = Certificate.objects.filter(job=self.job).earliest("pk")
        actions.replace_certificate(certificate=first, why="of the first", **self.by())

    def without_a_reason(self) -> None:
        actions.replace_certificate(certificate=self.latest(), why=" ", **self.by())

    def correct_the_name(self) -> None:
        party = self.latest().holder
        jobs.change_party(party=party, values={"name": f"{party.name}."}, **self.by())

    def withdraw(self) -> None:
        actions.withdraw_certificate(
            certificate=self.latest(), reason="contract_undone", note="both agreed", **self.by()
        )

    def withdraw_as_unpaid(self) -> None:
        actions.withdraw_certificate(certificate=self.latest(), reason="unpaid", note="not paid", **self.by())

    def sell(self, *, agreed: bool = True) -> None:
        self.sold += 1
        buyer = jobs.add_party(name=f"Buyer {self.sold}", email=f"buyer{self.sold}@example.com", **self.by())
        on = self.now.astimezone(self.yard.shop.zone).date()
        transfer_vehicle(vehicle=self.job.vehicle, sale=Sale(buyer, on, agreed), **self.by())

    def sell_unasked(self) -> None:
        self.sell(agreed=False)

    def lay_anew(self) -> None:
        piece = FilmPiece.objects.filter(panel_work__job=self.job, panel_work__panel="bonnet").latest("pk")
        add_piece(
            panel_work=piece.panel_work, film=jobs.FilmChoice(roll=self.yard.rolls[0]), replaces=piece,
            catalogue=ShopCatalogue(self.yard.shop), reason="laid anew", **self.by(),
        )  # fmt: skip

    def panel_replaced(self) -> None:
        on = self.now.astimezone(self.yard.shop.zone).date()
        for work in PanelWork.objects.filter(job=self.job, panel="left-wing"):
            remove_panel(panel_work=work, why="panel_replaced", on=on, **self.by())

    def send_again(self) -> None:
        actions.resend_certificate(certificate=self.latest(), nth=self.sold + 1, **self.by())


ACTS: dict[str, Callable[[Life], None]] = {
    act.__name__: act
    for act in (
        Life.issue_again,
        Life.issue_late,
        Life.finish_one_more,
        Life.supplement,
        Life.edition_of_an_earlier_one,
        Life.without_a_reason,
        Life.correct_the_name,
        Life.withdraw,
        Life.withdraw_as_unpaid,
        Life.sell,
        Life.sell_unasked,
        Life.lay_anew,
        Life.panel_replaced,
        Life.send_again,
    )
}
NEVER = {"issue_again", "without_a_reason", "withdraw_as_unpaid", "sell_unasked"}


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Callable[[datetime], None]:
    return lambda moment: monkeypatch.setattr("django.utils.timezone.now", lambda: moment)


@settings(
    max_examples=int(os.environ.get("CERTIFICATE_LIVES", "8")),
    deadline=None,
    phases=[Phase.generate],  # making a failing life shorter takes minutes
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    policy=st.sampled_from(["free", "once_with_notice", "none"]),
    names=st.lists(st.sampled_from(sorted(ACTS)), min_size=4, max_size=14),
)
def test_whatever_becomes_of_it_in_whatever_order_the_promise_holds(
    yard: Yard, clock: Callable[[datetime], None], policy: str, names: list[str]
) -> None:
    with transaction.atomic():
        life = begun(yard, policy)
        for nth, name in enumerate(names):
            life.now = NOW + timedelta(days=20 * nth, hours=1)
            clock(life.now)
            tried(life, name)
            holds(life)
        every_answer_tells_the_same(life)
        transaction.set_rollback(True)


def begun(yard: Yard, policy: str) -> Life:
    plan = yard.published(transfer=policy, transfer_words="As it says here.")
    job = yard.job(panels=("bonnet", "left-wing", "right-wing"), finished=("bonnet", "left-wing"))
    certificate = yard.issue(job, plan_version=plan)
    Job.objects.filter(pk=job.pk).update(state="handed_over", handed_over_on=TODAY, handed_over_at=NOW)
    job.refresh_from_db()
    actions.resend_certificate(certificate=certificate, nth=0, actor=yard.actor, now=NOW)
    return Life(yard, job)


def tried(life: Life, name: str) -> None:
    """An act that is refused is refused by name, and leaves nothing behind."""
    before = counted(life)
    try:
        with transaction.atomic():
            ACTS[name](life)
    except REFUSALS:
        assert counted(life) == before, name
        event(f"{name} refused")
    else:
        event(f"{name} done")
        assert name not in NEVER or (name == "issue_again" and before[0] == 0), name


def counted(life: Life) -> tuple[int, ...]:
    standing = Certificate.objects.filter(job=life.job, state="issued").count()
    rows = (Certificate, Cover, Transfer, Change, Message)
    return (standing, *(row.objects.count() for row in rows))


def holds(life: Life) -> None:
    rows = list(Certificate.objects.filter(job=life.job).order_by("pk"))
    assert sum(row.state == "issued" for row in rows) <= 1
    for number in {row.number for row in rows}:
        one_after_the_other([row for row in rows if row.number == number])
    for row in rows:
        kept = (row.snapshot_sha256, row.pdf_sha256, row.pdf_length)
        assert life.printed.setdefault(row.pk, kept) == kept
    if rows:
        assert list(faults_of(rows[-1])) == []
    last_days_never_move(life)
    states_went_where_they_may(rows)
    nothing_still_waits_that_is_not_so_any_more(rows)


def one_after_the_other(editions: list[Certificate]) -> None:
    """Edition by edition, each after the one it names; whatever ended stays with its day and its reason."""
    assert [row.edition for row in editions] == list(range(1, len(editions) + 1))
    for before, after in pairwise(editions):
        assert (after.predecessor_id, before.state) == (before.pk, "replaced")
        assert before.replaced_at == after.issued_at
    assert editions[0].predecessor_id is None
    assert editions[-1].state != "replaced"
    if editions[-1].state == "withdrawn":
        assert editions[-1].withdrawn_reason in Certificate.WithdrawnReason.values


def last_days_never_move(life: Life) -> None:
    """Not by a sale, not by a correction, not by film laid anew (the plan keeps the original end)."""
    rows = Cover.objects.filter(certificate__job=life.job).select_related("certificate", "piece")
    for cover in rows.order_by("pk"):
        piece = cover.piece
        while piece.replaces is not None and (piece.replaces_id, cover.line_id) in life.promised:
            piece = piece.replaces
        dates = (cover.starts_on, cover.last_day)
        if cover.certificate.number == first_number(life):
            assert life.promised.setdefault((piece.pk, cover.line_id), dates) == dates


def first_number(life: Life) -> str:
    return Certificate.objects.filter(job=life.job).earliest("pk").number


def states_went_where_they_may(rows: list[Certificate]) -> None:
    moves = Change.objects.filter(
        table="warranty_certificate", row__in=[row.pk for row in rows], after__has_key="state"
    )
    found = {move.row: (move.before["state"], move.after["state"]) for move in moves}
    assert len(found) == moves.count(), "nothing that ended ends again or comes back"
    assert set(found.values()) <= LEGAL
    assert set(found) == {row.pk for row in rows if row.state != "issued"}


def nothing_still_waits_that_is_not_so_any_more(rows: list[Certificate]) -> None:
    for row in rows:
        if row.state != "issued":
            waiting = Message.objects.filter(about=f"certificate:{row.pk}", state="waiting")
            assert all(message.key.endswith(":withdrawn") for message in waiting)


def every_answer_tells_the_same(life: Life) -> None:
    """Page, public answer and stored paper, of every edition that ever was; no name is public."""
    client = life.yard.people.client(life.yard.people.owner)
    names = set(Certificate.objects.filter(job=life.job).values_list("holder__name", flat=True))
    for row in Certificate.objects.filter(job=life.job).select_related("holder"):
        public = Client().get(f"/certificate/{row.number}/{row.code}/").content.decode()
        assert SAYS[row.state] in public
        assert not any(name in public for name in names)
        page = client.get(f"/s/{life.yard.shop.slug}/certificates/{row.pk}/")
        assert page.status_code == 200
        answer = client.get(f"/s/{life.yard.shop.slug}/certificates/{row.pk}/certificate.pdf")
        assert row.snapshot_sha256.encode() in answer.content
        ended = row.transfers.exists()
        assert (row.holder_hidden_at is not None) == (ended or hidden_by_a_later_sale(row))


def hidden_by_a_later_sale(row: Certificate) -> bool:
    sales = Transfer.objects.filter(certificate__number=row.number, at__gte=row.issued_at)
    return sales.exclude(to_party=row.holder).exists()
