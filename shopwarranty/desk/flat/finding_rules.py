"""What may be said in one row of the findings file, whatever the other rows say."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from django.utils.translation import gettext as _

from shopwarranty.trade import defects as kinds
from shopwarranty.web.trade_names import trade_name

from .cells import noon, written
from .reading import Sheet
from .records import FindingValues, FlatFinding, FlatVisit
from .shelf import KindOnShelf, Shelf

A_DAY: Final = timedelta(days=1)
KNOWN_KINDS: Final = {kind.key: kind for kind in kinds.KINDS}
OF_REMEDY: Final = tuple(name for name in FindingValues._fields if name.startswith("remedy_"))
OF_DEFECT: Final = FindingValues._fields[FindingValues._fields.index("kind") :]
NOTHING_SAID: Final = FindingValues()[FindingValues._fields.index("kind") :]


@dataclass(slots=True)
class FindingRules:
    sheet: Sheet
    shelf: Shelf
    now: datetime

    def resolve_visit(self, visit: FlatVisit) -> bool:
        """Completes the visit. False where it cannot be looked at further."""
        values, zone = visit.values, self.sheet.style.zone
        visit.said = values
        if values.visit_on is None or not values.origin:
            name = "origin" if values.visit_on else "visit_on"
            self._say_visit(visit, name, "", _("This must be said of every visit."), _("Write it."))
            return False
        at = values.visited_at or noon(values.visit_on, zone)
        if abs((at.astimezone(zone).date() - values.visit_on).days) > 1:
            problem = _("is another day than visit_on.")
            self._say_visit(visit, "visited_at", at.isoformat(), problem, _("Correct one of them."))
        if values.visit_on > (self.now + A_DAY).astimezone(zone).date():
            problem = _("lies in the future.")
            self._say_visit(visit, "visit_on", values.visit_on, problem, _("Correct the day."))
        if bool(values.check_plan) != bool(values.check_due_on):
            name = "check_due_on" if values.check_plan else "check_plan"
            self._say_visit(visit, name, "", _("A check has a plan and a day."), _("Write both, or none."))
        if values.inspected_by:
            self.shelf.person(values.inspected_by)
        if values.check_plan:
            self.shelf.plan(values.check_plan)
            values = values._replace(check_settled=values.check_settled is not False)
        number, flags = values.visit_number or 1, (bool(values.by_photo), bool(values.handover_look))
        visit.values = values._replace(
            visited_at=at, visit_number=number, by_photo=flags[0], handover_look=flags[1]
        )
        return True

    def resolve(self, finding: FlatFinding, visit_on: date) -> bool:
        """Completes one row. False where it cannot be looked at further."""
        values = finding.values
        if not values.panel or not values.place or not values.result:
            name = next(name for name in ("panel", "place", "result") if not getattr(values, name))
            self._say(finding, name, "", _("This must be said in every row."), _("Write it."))
            return False
        if values.piece is None:
            finding.values = values = values._replace(piece=1)
        if values.why_not and values.result != "not_looked":
            problem = _("but the place was looked at.")
            self._say(finding, "why_not", values.why_not, problem, _("Empty it, or correct the result."))
        if values.result == "defect":
            return self._resolve_defect(finding, visit_on)
        if values[len(values) - len(OF_DEFECT) :] != NOTHING_SAID:
            said = next(name for name in OF_DEFECT if getattr(values, name) not in (None, ""))
            problem = _("but the result is no defect.")
            self._say(finding, said, getattr(values, said), problem, _("Empty it, or correct the result."))
        return True

    def _resolve_defect(self, finding: FlatFinding, visit_on: date) -> bool:
        values = finding.values
        known = self._kind(finding)
        if values.severity is None:
            problem, remedy = _("How grave the defect is must be said."), _("Write 1 to 4.")
            self._say(finding, "severity", "", problem, remedy)
            return False
        if values.cause_sure and not values.cause:
            self._say(finding, "cause_sure", values.cause_sure, _("Of no cause."), _("Name the cause."))
        if values.cause and not values.cause_sure:
            finding.values = finding.values._replace(cause_sure="guess")
        if values.kind in KNOWN_KINDS:
            severity = kinds.severity_of(values.kind, values.severity)
            finding.values = finding.values._replace(severity=severity)
        return self._resolve_remedy(finding, visit_on) and known

    def _kind(self, finding: FlatFinding) -> bool:
        """Fills in the kind's name; a kind nobody knows is added when the row says enough of it."""
        values = finding.values
        key, name = values.kind, values.kind_name
        if key in KNOWN_KINDS:
            name = name or trade_name(KNOWN_KINDS[key], self.shelf.shop)
        elif key in self.shelf.kinds:
            name = name or self.shelf.kinds[key].name
            self._check_counts(finding, self.shelf.kinds[key])
        elif key and name and values.kind_is_failure is not None:
            self.shelf.kinds[key] = KindOnShelf(key=key, name=name, is_failure=values.kind_is_failure)
        else:
            problem = (
                _("There is no such defect kind.") if key else _("What kind of defect it is must be said.")
            )
            remedy = _("Write a key from the list; for a new kind write kind_name and kind_is_failure too.")
            self._say(finding, "kind", key, problem, remedy)
            return False
        finding.values = values._replace(kind_name=name)
        return True

    def _check_counts(self, finding: FlatFinding, kind: KindOnShelf) -> None:
        said = finding.values.kind_is_failure
        if said is not None and said != kind.is_failure:
            problem = _("but this kind counts the other way here.")
            self._say(finding, "kind_is_failure", written(said), problem, _("Correct it, or empty it."))

    def _resolve_remedy(self, finding: FlatFinding, visit_on: date) -> bool:
        values = finding.values
        if not values.remedy:
            said = next((name for name in OF_REMEDY if getattr(values, name) not in (None, "")), "")
            if said:
                problem = _("but no remedy is named.")
                self._say(finding, said, getattr(values, said), problem, _("Name it, or empty this."))
            return not said
        on = values.remedy_on or visit_on
        if on > (self.now + A_DAY).astimezone(self.sheet.style.zone).date():
            self._say(finding, "remedy_on", on, _("lies in the future."), _("Correct the day."))
        if values.remedy_by:
            self.shelf.person(values.remedy_by)
        finding.values = values._replace(remedy_on=on, remedy_goodwill=bool(values.remedy_goodwill))
        return True

    def _say(self, finding: FlatFinding, name: str, value: object, problem: str, remedy: str) -> None:
        self.sheet.say(finding.line, "finding", name, value, problem, remedy)

    def _say_visit(self, visit: FlatVisit, name: str, value: object, problem: str, remedy: str) -> None:
        self.sheet.say(visit.line, "visit", name, value, problem, remedy)
