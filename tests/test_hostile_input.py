"""Every form of every page is sent with things nobody would type: no page breaks, no rule breaks.

`.ci/long fuzz` sends 50,000.
"""

import os
from collections import Counter
from collections.abc import Iterable, Iterator
from html import unescape
from random import Random
from types import SimpleNamespace
from typing import Any

import pytest
from django import forms
from django.core.exceptions import NON_FIELD_ERRORS
from django.db import transaction
from django.forms import BaseForm, BaseFormSet
from django.forms.boundfield import BoundField
from django.template import Context
from django.test import Client
from django.urls import reverse

from shopwarranty.jobs.models import Job
from shopwarranty.shops.scope import shop_scope
from tests.addresses import OF_SHOP, Page
from tests.forms_in_page import Form, forms_in
from tests.hostile import NASTY, mutated, shown
from tests.public_doors import open_doors
from tests.rules import broken
from tests.test_foreign_ids import ONES_OWN, Stage, forms_of
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


def test_no_form_for_strangers_breaks_whatever_is_sent(stage: Stage) -> None:
    with shop_scope(stage.shop):
        doors = list(open_doors(stage.people, stage.rows.certificate))
    chance, forms = Random(f"{SEED} strangers"), list(forms_behind(doors))
    tally: Counter[int] = Counter()
    faults = []
    for number in range(FORMS // 4):
        name, url, form = forms[number % len(forms)]
        answers = mutated(form, chance)
        status, found = posted(Client(raise_request_exception=False), form.action or url, answers)
        tally[status] += 1
        faults += [f"{name} {fault}: {shown(answers, form)}" for fault in found]
    print(f"\n{FORMS // 4} forms of {len(forms)} (strangers): {dict(sorted(tally.items()))}")
    assert not faults, "\n".join(sorted(set(faults)))
    assert {name for name, _, _ in forms} == {name for name, _ in doors}
    assert tally[302] > FORMS / 100


def forms_behind(doors: Iterable[tuple[str, str]]) -> Iterator[tuple[str, str, Form]]:
    """A page may send on to another address, where its form is."""
    for name, url in doors:
        answer = Client().get(url, follow=True)
        url = answer.redirect_chain[-1][0] if answer.redirect_chain else url
        for form in forms_in(answer.content.decode()):
            if not form.action.startswith(ONES_OWN):
                yield name, url, form


def sent(
    stage: Stage, page: Page, form: Form, answers: dict[str, list[str]], *, look: bool
) -> tuple[int, list[str]]:
    """What was written is looked at now and then, and taken back."""
    return posted(stage.client, form.action or stage.url(page), answers, look=look)


def posted(
    client: Client, url: str, answers: dict[str, list[str]], *, look: bool = False
) -> tuple[int, list[str]]:
    with transaction.atomic():
        answer = client.post(url, answers)
        faults = [] if answer.status_code in EXPECTED else [str(answer.status_code)]
        if look and answer.status_code == 302:
            faults += broken()
        transaction.set_rollback(True)
    if answer.status_code == 200 and not answer.streaming:
        faults += nameless(answer)
    return answer.status_code, faults


def nameless(answer: Any) -> Iterator[str]:
    """A form that comes back says what is wrong and in which field: by its label, or beside the field."""
    page = unescape(answer.content.decode())
    for form in refused_forms(answer):
        for name, words in ((name, str(each)) for name, errors in form.errors.items() for each in errors):
            if words not in page:
                yield f"refused without a word: {name} {words!r}"
            elif name != NON_FIELD_ERRORS and not is_named(form[name], words, page):
                yield f"does not name the field {name}: {words!r}"


def is_named(field: BoundField, words: str, page: str) -> bool:
    beside = f'id="{field.auto_id}_error"' in page
    return field.is_hidden or f"{field.label}: {words}" in page or beside


def test_a_refusal_that_names_no_field_is_noticed() -> None:
    class Asked(forms.Form):
        day = forms.DateField(label="Handed over on")

    answer = SimpleNamespace(context=[Context({"form": Asked({"day": "soon"})})])
    words = "Enter a valid date."
    for page, found in (
        ("", [f"refused without a word: day '{words}'"]),
        (words, [f"does not name the field day: '{words}'"]),
        (f"Handed over on: {words}", []),
    ):
        answer.content = page.encode()
        assert list(nameless(answer)) == found


def refused_forms(answer: Any) -> Iterator[BaseForm]:
    """Every form in what the page was made of, and those of its sets and lists."""
    seen: dict[int, BaseForm] = {}
    for each in (value for layer in answer.context or () for value in layer.flatten().values()):
        for form in forms_within(each):
            seen[id(form)] = form
    yield from (form for form in seen.values() if form.is_bound and form.errors)


def forms_within(value: Any) -> Iterator[BaseForm]:
    if isinstance(value, BaseForm):
        yield value
    elif isinstance(value, BaseFormSet | list | tuple):
        for each in value:
            yield from forms_within(each)


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


def test_no_number_or_code_that_a_stranger_asks_for_breaks_a_page(stage: Stage) -> None:
    for number in NASTY:
        for asked in ({"number": number, "code": "2"}, {"number": "KL-1", "code": number}):
            answer = Client(raise_request_exception=False).get(reverse("public-find"), asked)
            assert answer.status_code in EXPECTED, asked


def test_the_source_of_chance_is_seeded() -> None:
    form = Form("", "post")
    assert [mutated(form, Random(3)) for _ in range(2)] == [mutated(form, Random(3)) for _ in range(2)]
