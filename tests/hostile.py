"""What people and programs send that no page asks for, from one seeded source of chance."""

from collections.abc import Mapping
from random import Random

from tests.forms_in_page import Form

NASTY = (
    "",
    " ",
    "\t\r\n",
    "0",
    "-1",
    "-0.0",
    "1e309",
    "1e-320",
    "NaN",
    "inf",
    "-Infinity",
    "0x10",
    "1_000",
    "1,5",
    "1.000,5",
    "٣",
    "５",
    "9" * 19,
    "9" * 400,
    "2147483648",
    "9223372036854775807",
    "9223372036854775808",
    "68 F",
    "-500 C",
    "5 ft 3 1/2 in",
    "1/0 in",
    "0001-01-01",
    "9999-12-31",
    "10000-01-01",
    "2026-02-30",
    "2026-03-08T02:30",
    "2026-11-01T01:30",
    "0001-01-01T00:00",
    "9999-12-31T23:59",
    "24:00",
    "25:61",
    "08:00-07:00",
    "8:00-12:00, 11:00-13:00",
    "x",
    "x" * 10_000,
    "\x00",
    "a\x00b",
    "\u202eabc",
    "\ufffe",
    "e\u0301" * 30,
    "👩‍👩‍👧‍👦" * 40,
    "عقد الضمان",
    "<script>alert(1)</script>",
    "{{ 7|add:7 }}",
    "{% load i18n %}",
    "%s %(x)s %n",
    "{0.__class__}",
    "=cmd|' /C calc'!A0",
    "' OR 1=1 --",
    "../../../etc/passwd",
    "http://169.254.169.254/",
    "//shop.example/",
    "javascript:alert(1)",
    "a@b",
    "a@b.example\nBcc: c@d.example",
    "None",
    "true",
    "null",
    "[]",
    '{"a": 1}',
    "00000000-0000-0000-0000-000000000000",
    "on",
)


def mutated(form: Form, chance: Random) -> dict[str, list[str]]:
    """The form as it stands with one to three of its fields spoilt: odd text, left out, said twice."""
    answers = {name: [value] for name, value in form.filled().items()}
    names = sorted(form.fields)
    for name in chance.sample(names, min(len(names), chance.choice((1, 1, 1, 2, 3)))):
        how = chance.random()
        if how < 0.08:
            answers.pop(name, None)
        elif how < 0.16:
            answers[name] = [*answers.get(name, []), chance.choice(NASTY)]
        else:
            answers[name] = [chance.choice(NASTY)]
    if chance.random() < 0.1:
        answers[chance.choice(("seen", "version", "next", "undo", "q", "page", "-1"))] = [
            chance.choice(NASTY)
        ]
    return answers


def shown(answers: Mapping[str, list[str]], form: Form) -> str:
    """What was spoilt, short enough to read."""
    stands = {name: [value] for name, value in form.filled().items()}
    changed = {
        name: answers.get(name) for name in {*answers, *stands} if answers.get(name) != stands.get(name)
    }
    return repr(
        {
            name: value if len(repr(value)) < 60 else f"{repr(value)[:50]}..."
            for name, value in changed.items()
        }
    )
