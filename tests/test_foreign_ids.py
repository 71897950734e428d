"""Another shop's ids in our forms and addresses: chosen in a page's own fields, added to them, asked for.

Their rows get ids that no row of ours has, the same in every table, so that one number stands for a roll, a
panel, a member, whatever the field is about. Nothing that is written may name it.
"""

import inspect
import logging
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import pytest
from django.db import transaction
from django.test import Client

from shopwarranty.jobs.models import Job
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import shop_scope
from tests.addresses import OF_SHOP, Page, address
from tests.conftest import ShopPeople, World
from tests.every_row import Rows, rows_of
from tests.forms_in_page import Field, Form, forms_in
from tests.kept_apart import beyond_every_id, count_on_from, names_of, writes_naming
from tests.test_tenancy_walk import names_in
from tests.warranty.conftest import plain_pdf as plain_pdf

# Fields that a form shows only at times, or that somebody may add by hand.
ALSO_SENT = (
    "bay booking check cut defect finding holder job known_party lead lot member method others panel panels"
    " party photo piece place plan product replaces roll vehicle visit"
).split()
COUNTS = {"version", "nth", "minutes", "sequence"}  # numbers that are no ids
ONES_OWN = ("/sign-out/", "/colours/")  # on every page, about nobody's rows
ASKED = re.compile(r"request\.GET\.get(?:list)?\(\"(\w+)\"")


@dataclass(frozen=True, slots=True)
class Stage:
    """Our owner's sign-in, our rows, and the number under which every row of theirs stands."""

    client: Client
    people: ShopPeople
    rows: Rows
    foreign: int
    theirs: frozenset[str]

    @property
    def shop(self) -> Shop:
        found: Shop = self.people.shop
        return found

    def url(self, page: Page) -> str:
        return address(page, "kiln", self.rows)


@pytest.fixture
def stage(world: World, plain_pdf: None) -> Iterator[Stage]:
    with shop_scope(world.ours.shop):
        rows = rows_of(world.ours)
    first = beyond_every_id()
    count_on_from(first)
    with shop_scope(world.theirs.shop):
        rows_of(world.theirs)
    count_on_from(first + 1_000_000)  # what our forms add is told from theirs
    client = world.ours.client(world.ours.owner)
    client.raise_request_exception = False
    logging.disable(logging.CRITICAL)
    yield Stage(client, world.ours, rows, first + 1, names_of(world.theirs.shop))
    logging.disable(logging.NOTSET)


@pytest.mark.parametrize("state", ["open", "handed_over"])
def test_no_form_accepts_another_shops_id(stage: Stage, state: str) -> None:
    """Of a job in the bay, and of one that left: their pages show other forms."""
    if state == "open":
        with shop_scope(stage.shop):
            Job.objects.filter(pk=stage.rows.job).update(
                state=state, handed_over_at=None, handed_over_on=None
            )
    faults, tried = [], 0
    for page, form in forms_of(stage):
        for about, answers in temptations(form, str(stage.foreign)):
            tried += 1
            faults += [f"{page.name} {about}: {fault}" for fault in faults_of(stage, page, form, answers)]
    assert faults == []
    assert tried > 120
    print(f"\n{tried} forms sent with another shop's ids (job {state}): none accepted")


def forms_of(stage: Stage) -> Iterator[tuple[Page, Form]]:
    for page in OF_SHOP:
        answer = stage.client.get(stage.url(page))
        if answer.status_code == 200 and answer["Content-Type"].startswith("text/html"):
            found = forms_in(answer.content.decode())
            yield from ((page, form) for form in found if not form.action.startswith(ONES_OWN))


def temptations(form: Form, foreign: str) -> Iterator[tuple[str, Mapping[str, Any]]]:
    filled = form.filled()
    for field in form.fields.values():
        if field.names_a_row and base(field) not in COUNTS:
            yield field.name, {**filled, field.name: foreign}
    prefixes = {field.name.rpartition("-")[0] for field in form.fields.values()}
    added = {f"{prefix}-{name}" if prefix else name: foreign for prefix in prefixes for name in ALSO_SENT}
    yield "fields added by hand", {**added, **filled}


def base(field: Field) -> str:
    return field.name.rpartition("-")[2]


def faults_of(stage: Stage, page: Page, form: Form, answers: Mapping[str, Any]) -> Iterator[str]:
    """What was written is looked at and taken back."""
    with transaction.atomic(), writes_naming(stage.foreign) as written:
        answer = stage.client.post(form.action or stage.url(page), answers)
        said = names_in(answer, stage.theirs)
        transaction.set_rollback(True)
    if answer.status_code not in (200, 302, 400, 404, 409):
        yield str(answer.status_code)
    yield from (f"wrote {statement}" for statement in written)
    if said:
        yield f"says {sorted(said)}"


def test_no_question_in_an_address_shows_another_shops_row(stage: Stage) -> None:
    tried = 0
    for page in OF_SHOP:
        for name in sorted(set(ASKED.findall(inspect.getsource(inspect.getmodule(page.view))))):  # type: ignore[arg-type]
            answer = stage.client.get(stage.url(page), {name: str(stage.foreign)})
            tried += 1
            assert answer.status_code in (200, 302, 400, 404, 405), f"{page.name}?{name}"
            assert not names_in(answer, stage.theirs), f"{page.name}?{name}"
    assert tried > 60


def test_a_form_that_names_our_own_row_is_accepted(stage: Stage) -> None:
    """Else the tests above could not fail: the same forms, filled in as they stand, do write."""
    written = 0
    for page, form in forms_of(stage):
        with transaction.atomic():
            answer = stage.client.post(form.action or stage.url(page), form.filled())
            written += answer.status_code == 302
            transaction.set_rollback(True)
    assert written > 40
