"""Values of the fields that a shop defined, in the columns `field:...`."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _

from .cells import CellRefused, number, yes_no
from .columns import BASES, Level
from .guarding import unguard
from .level_reading import IMPORTED, Raw, picker
from .reading import BoundOwn, Sheet
from .records import OwnValue

LONGEST: Final = 80


@dataclass(frozen=True, slots=True)
class OwnField:
    """A field as the shop has it, or as this file defines it: then `choices` is None and any word will do."""

    key: str
    level: str
    kind: str
    unit: str = ""
    name: str = ""
    choices: tuple[str, ...] | None = None

    def __str__(self) -> str:
        return self.name


@dataclass(frozen=True, slots=True)
class _Slot:
    """Where value and basis of one field stand among the cells picked for its level."""

    bound: BoundOwn
    value: int
    basis: int | None


class OwnReader:
    """Reads own fields level by level; `fields` says what each key is."""

    def __init__(self, sheet: Sheet, fields: Mapping[str, OwnField]) -> None:
        self.sheet, self.fields = sheet, fields
        levels = (Level.JOB, Level.PANEL, Level.PLACE)
        self.slots: dict[Level, list[_Slot]] = {}
        self.pick: dict[Level, Callable[[Sequence[str]], Raw]] = {}
        self.headers: dict[Level, list[str]] = {}
        for level in levels:
            self._lay_out(level, [b for b in sheet.own if fields[b.own.key].level == level])
        self.words: dict[str, set[str]] = {key: set() for key in fields}

    def _lay_out(self, level: Level, columns: Iterable[BoundOwn]) -> None:
        indexes: list[int] = []
        self.slots[level], self.headers[level] = [], []
        for bound in columns:
            with_basis = bound.basis_index is not None
            self.slots[level].append(_Slot(bound, len(indexes), len(indexes) + 1 if with_basis else None))
            indexes += [bound.index] if bound.basis_index is None else [bound.index, bound.basis_index]
            self.headers[level] += [bound.header] * (2 if with_basis else 1)
        self.pick[level] = picker(indexes)

    def read(self, level: Level, line: int, raw: Raw) -> tuple[OwnValue, ...]:
        """In the order of their keys."""
        found: list[OwnValue] = []
        for slot in self.slots[level]:
            basis = "" if slot.basis is None else raw[slot.basis].strip()
            text = raw[slot.value].strip()
            value = self._read_one(slot.bound, line, text, basis) if text or basis else None
            found += [value] if value else []
        return tuple(sorted(found))

    def check(self, level: Level, line: int, raw: Raw, first: Raw) -> None:
        """Repeated cells must agree, as those of the table do."""
        if raw == first:
            return
        for header, here, before in zip(self.headers[level], raw, first, strict=True):
            if here.strip() and here.strip() != before.strip():
                problem = _("but “%(first)s” stands on a row above.") % {"first": before.strip()}
                self._fault(line, header, here.strip(), problem, _("Repeated cells must agree."))

    def _read_one(self, bound: BoundOwn, line: int, text: str, basis: str) -> OwnValue | None:
        try:
            if not text:
                raise CellRefused(_("says how a value is known that is not there."), _("Empty it."))
            if basis and basis not in BASES:
                words = ", ".join(BASES)
                raise CellRefused(_("has no such basis."), _("Write one of: %(words)s.") % {"words": words})
            return OwnValue(bound.own.key, self._value(bound, text), basis or IMPORTED)
        except CellRefused as refused:
            self._fault(line, bound.header, text or basis, refused.problem, refused.remedy)
            return None

    def _value(self, bound: BoundOwn, text: str) -> str:
        field = self.fields[bound.own.key]
        if field.kind == "yes_no":
            return "yes" if yes_no(text) else "no"
        if field.kind == "number":
            comma = self.sheet.style.decimal_comma
            number(text, comma)
            return text.replace(",", ".") if comma else text
        return self._choice(field, unguard(text))

    def _choice(self, field: OwnField, text: str) -> str:
        if len(text) > LONGEST:
            raise CellRefused(_("is too long."), _("Shorten it to %(most)d characters.") % {"most": LONGEST})
        if field.choices is not None and text not in field.choices:
            words = ", ".join(field.choices)
            raise CellRefused(
                _("is none of this field's choices."), _("Write one of: %(words)s.") % {"words": words}
            )
        self.words[field.key].add(text)
        return text

    def _fault(self, line: int, header: str, value: str, problem: str, remedy: str) -> None:
        self.sheet.faults.add(self.sheet.name, line, header, value, problem, remedy)
