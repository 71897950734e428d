"""The forms of a page, read from its HTML as a browser would, and filled in so that they can be sent."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

SAMPLES = {
    "number": "1",
    "date": "2026-11-20",
    "time": "10:00",
    "datetime-local": "2026-11-20T10:00",
    "email": "somebody@example.com",
    "url": "https://example.com",
    "tel": "555-0123",
    "month": "2026-11",
}
CHOSEN = ("hidden", "select", "radio", "checkbox", "submit")


@dataclass(slots=True)
class Field:
    name: str
    kind: str
    values: list[str] = field(default_factory=list)
    standing: str | None = None

    @property
    def names_a_row(self) -> bool:
        """Chosen rather than typed, and among ids."""
        return self.kind in CHOSEN and any(value.isdecimal() for value in self.values)

    @property
    def answer(self) -> str | None:
        if self.kind in ("checkbox", "submit", "file"):
            return self.standing
        if self.kind in CHOSEN:
            return self.standing or next((value for value in self.values if value), "")
        return self.standing or SAMPLES.get(self.kind, "Sample")


@dataclass(slots=True)
class Form:
    action: str
    method: str
    fields: dict[str, Field] = field(default_factory=dict)

    def filled(self) -> dict[str, str]:
        answers = {one.name: one.answer for one in self.fields.values()}
        return {name: answer for name, answer in answers.items() if answer is not None}


class FormReader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self.by_id: dict[str, Form] = {}
        self.inside: Form | None = None
        self.select: Field | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        has = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.inside = Form(has.get("action", ""), has.get("method", "get").lower())
            self.forms.append(self.inside)
            self.by_id[has.get("id", "")] = self.inside
        elif tag in ("input", "select", "textarea", "button") and has.get("name"):
            self.note(tag, has)
        elif tag == "option" and self.select:
            value = has.get("value", "")
            self.select.values.append(value)
            if "selected" in has:
                self.select.standing = value

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.inside = None
        elif tag == "select":
            self.select = None

    def note(self, tag: str, has: dict[str, str]) -> None:
        form = self.by_id.get(has["form"]) if "form" in has else self.inside
        if form is None:
            return
        kind = has.get("type", "text") if tag == "input" else "submit" if tag == "button" else tag
        one = form.fields.setdefault(has["name"], Field(has["name"], kind))
        if tag == "select":
            self.select = one
            return
        one.values.append(has.get("value", ""))
        if "checked" in has or (tag == "input" and kind not in ("radio", "checkbox", "submit")):
            one.standing = has.get("value", "")


def forms_in(html: str) -> Iterator[Form]:
    """Those that are sent by post."""
    reader = FormReader()
    reader.feed(html)
    return (form for form in reader.forms if form.method == "post")
