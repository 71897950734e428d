"""Every form of every page is sent with things nobody would type: no page breaks, no rule breaks.

`.ci/long fuzz` sends 50,000.
"""

import os
from collections import Counter
from random import Random
from typing import Any

import pytest
from django.db import transaction

from shopwarranty.jobs.models import Job
from shopwarranty.shops.scope import shop_scope
from tests.addresses import OF_SHOP, Page
from tests.forms_in_page import Form
from tests.hostile import NASTY, mutated, shown
from tests.rules import broken
from tests.test_foreign_ids import Stage, forms_of
from tests.test_foreign_ids import stage as stage
from tests.warranty.conftest import plain_pdf as plain_pdf

FORMS = int(os.environ.get("FUZZ_FORMS", "1000"))
SEED = int(os.environ.get("FUZZ_SEED", "1"))
EXPECTED = {200, 302, 400, 403, 404, 405, 409, 413, 429}
RULES_EVERY = 40


@pytest.mark.parametrize("state", ["open", "handed_over"])
def test_no_form_breaks_whatever_is_sent(stage: Stage, state: str) -> None:
    if state == "open":
        with shop_scope(stage.shop):
            Job.objects.filter(pk=stage.rows.job).update(
                state=state, handed_over_at=None, handed_over_on=None
            )
    chance, forms = Random(f"{SEED} {state}"), list(forms_of(stage))
    tally: Counter[int] = Counter()
    faults = []
    for number in range(FORMS):
        page, form = forms[number % len(forms)]
        answers = mutated(form, chance)
        status, found = sent(stage, page, form, answers, look=number % RULES_EVERY == 0)
        tally[status] += 1
        faults += [f"{page.name} {fault}: {shown(answers, form)}" for fault in found]
    print(f"\n{FORMS} forms of {len(forms)} (job {state}): {dict(sorted(tally.items()))}")
    assert not faults, "\n".join(sorted(set(faults)))
    assert tally[302] > FORMS / 20  # some are taken: else nothing but the first check was tried


def sent(
    stage: Stage, page: Page, form: Form, answers: dict[str, list[str]], *, look: bool
) -> tuple[int, list[str]]:
    """What was written is looked at now and then, and taken back."""
    with transaction.atomic():
        answer = stage.client.post(form.action or stage.url(page), answers)
        faults = [] if answer.status_code in EXPECTED else [str(answer.status_code)]
        if look and answer.status_code == 302:
            faults += broken()
        transaction.set_rollback(True)
    if answer.status_code == 200 and is_silent(answer, form):
        faults.append("refused without a word")
    return answer.status_code, faults


def is_silent(answer: Any, form: Form) -> bool:
    """A form that comes back says what is wrong, unless the page is the answer."""
    context = getattr(answer, "context", None) or {}
    shown_form = context.get("form") if "form" in context else None
    refused = shown_form is not None and getattr(shown_form, "is_bound", False) and not shown_form.is_valid()
    return refused and 'class="wrong"' not in answer.content.decode()


def test_no_question_in_an_address_breaks_a_page(stage: Stage) -> None:
    chance, tally = Random(SEED), Counter[int]()
    faults = []
    names = (
        "q",
        "page",
        "sort",
        "show",
        "since",
        "until",
        "family",
        "body",
        "by",
        "on",
        "day",
        "week",
        "panel",
    )
    for page in OF_SHOP:
        for _each in range(3):
            asked = {name: chance.choice(NASTY) for name in chance.sample(names, 4)}
            answer = stage.client.get(stage.url(page), asked)
            tally[answer.status_code] += 1
            if answer.status_code not in EXPECTED:
                faults.append(f"{page.name} {answer.status_code}: {asked}")
    print(f"\nquestions: {dict(sorted(tally.items()))}")
    assert faults == []


def test_the_source_of_chance_is_seeded() -> None:
    form = Form("", "post")
    assert [mutated(form, Random(3)) for _ in range(2)] == [mutated(form, Random(3)) for _ in range(2)]
