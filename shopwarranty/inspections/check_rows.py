"""A check as a line of a list: who, which vehicle, how it stands in words."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext

from shopwarranty.web import formats
from shopwarranty.web.formats import ShopLike

from .models import Check, ContactAttempt

FAR_AHEAD: Final = 14
"""Days from which on a check that is due is no business of today."""


@dataclass(frozen=True, slots=True)
class CheckRow:
    """`chip` names the state's mark, `chip_words` what stands beside it."""

    pk: int
    job_id: int
    plan: str
    vehicle: str
    plate: str
    person: str
    telephone: str
    due_on: date
    chip: str
    chip_words: str
    said: str
    state: str
    booking_id: int | None

    @property
    def wants_a_time(self) -> bool:
        """Not while it is still far ahead."""
        unsettled = self.state in (Check.State.DUE, Check.State.MISSED)
        return unsettled and self.booking_id is None and self.chip != "plain"


def row_of(check: Any, shop: ShopLike, today: date) -> CheckRow:
    """From a check of `checks_with_details`."""
    chip, words = chip_of(check, shop, today)
    return CheckRow(
        pk=check.pk,
        job_id=check.job_id,
        plan=check.plan.name,
        vehicle=str(check.job.vehicle),
        plate=check.plate_now or "",
        person=check.person_name or "",
        telephone=check.person_telephone or "",
        due_on=check.due_on,
        chip=chip,
        chip_words=words,
        said=last_call(check, shop),
        state=check.state,
        booking_id=check.booking_id,
    )


def chip_of(check: Any, shop: ShopLike, today: date) -> tuple[str, str]:
    if check.state == Check.State.DONE:
        return "done", _("Done")
    if check.state == Check.State.MISSED:
        return "missed", _("Missed")
    if check.state == Check.State.WAIVED:
        return "plain", pgettext("what became of a check", "Set aside")
    if check.booked_for is not None:
        return "booked", booked_words(check.booked_for, shop)
    return due_words(check.due_on, shop, today)


def booked_words(starts: datetime, shop: ShopLike) -> str:
    day, time = formats.short_day(starts, shop), formats.clock(starts, shop)
    return _("Booked %(day)s, %(time)s") % {"day": day, "time": time}


def due_words(due_on: date, shop: ShopLike, today: date) -> tuple[str, str]:
    days = (due_on - today).days
    if days < 0:
        words = ngettext("Overdue %(n)d day", "Overdue %(n)d days", -days)
        return "overdue", words % {"n": -days}
    if days == 0:
        return "due", _("Due today")
    if days <= 6:
        return "due", ngettext("Due in %(n)d day", "Due in %(n)d days", days) % {"n": days}
    if days <= FAR_AHEAD:
        return "due", _("Due %(day)s") % {"day": formats.short_day(due_on, shop)}
    return "plain", _("Due %(day)s") % {"day": formats.full_date(due_on, shop)}


def last_call(check: Any, shop: ShopLike) -> str:
    """What came of the last call, and when to try again."""
    if not check.last_result:
        return ""
    result = str(dict(ContactAttempt.Result.choices)[check.last_result])
    day = formats.short_day(check.last_at, shop)
    said = _("%(day)s: %(result)s") % {"day": day, "result": result}
    return f"{said}, {check.last_note}" if check.last_note else said
