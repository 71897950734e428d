"""The kinds of messages about checks: what each is for, our own words for it, and what may be filled in.

A kind that the holder can do without is optional: it can be switched off, and the holder can stop it.
"""

from dataclasses import dataclass
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

ALWAYS: Final = ("name", "vehicle", "plate", "shop", "address", "telephone", "link")
OF_CHECK: Final = (*ALWAYS, "what", "minutes", "due", "first", "last")
OF_TIME: Final = (*OF_CHECK, "day", "time", "zone")
OF_RESULT: Final = (*ALWAYS, "what", "day", "result")
OF_WEEK: Final = (
    "name",
    "shop",
    "week",
    "done",
    "missed",
    "not_kept",
    "booked",
    "to_call",
    "overdue",
    "stuck",
    "refused",
    "link",
)

PLACEHOLDERS: Final[dict[str, Promise]] = {
    "name": _("the holder's name; in the weekly summary, yours"),
    "vehicle": _("the vehicle"),
    "plate": _("its plate"),
    "shop": _("your shop's name"),
    "address": _("your shop's address"),
    "telephone": _("your shop's telephone number"),
    "link": _("the address of the holder's own page; in the weekly summary, of your checks"),
    "what": _("the name of the check"),
    "minutes": _("how many minutes it takes"),
    "due": _("the day it is due"),
    "first": _("the first day of its window"),
    "last": _("the last day of its window"),
    "day": _("the day of the appointment"),
    "time": _("its time"),
    "zone": _("your time zone"),
    "result": _("what was seen, in a sentence or two"),
    "week": _("which week the summary is about"),
    "done": _("checks that were done in it"),
    "missed": _("checks that were missed in it"),
    "not_kept": _("appointments nobody came to"),
    "booked": _("appointments of the week to come"),
    "to_call": _("checks to call about now"),
    "overdue": _("checks that are overdue"),
    "stuck": _("messages that need a look"),
    "refused": _("addresses that take no mail"),
}


@dataclass(frozen=True, slots=True)
class Kind:
    """`must_go`: goes whatever is switched off, since it says that a promise was made or changed."""

    key: str
    name: Promise
    when: Promise
    subject: Promise
    text: Promise
    known: tuple[str, ...] = OF_TIME
    must_go: bool = False
    to_owner: bool = False

    @property
    def is_optional(self) -> bool:
        """What the holder can do without, and may stop."""
        return not self.must_go and not self.to_owner


OFFER = Kind(
    "offer",
    _("Time to book"),
    _("when the window of a check opens and it has no time yet"),
    _("{what}: pick a time that suits you"),
    _(
        "Hello {name},\n\nyour {vehicle} is due for its {what}, best between {first} and {last}. It "
        "takes about {minutes} minutes: we look at every edge, so that a small lift is pressed down "
        "before it grows.\n\nPick a time on your own page:\n{link}\n\n"
        "The address is only for you: whoever has it can open the page."
    ),
    OF_CHECK,
)
BOOKED = Kind(
    "booked",
    _("Confirmation"),
    _("when a time is booked"),
    _("Your appointment: {day}, {time}"),
    _(
        "Hello {name},\n\n{what} of your {vehicle}:\n**{day}, {time}** ({zone} time), about {minutes} "
        "minutes.\n\nWe look at every edge, so that a small lift is pressed down before it grows. "
        "Bring the vehicle dry and, if you can, washed a day or two before.\n\n"
        "Your own page, to change the time, call it off, or send a photo of an edge:\n{link}\n\n"
        "The address is only for you: whoever has it can open the page."
    ),
    must_go=True,
)
REMINDER_EARLY = Kind(
    "reminder_3d",
    _("Reminder, three days before"),
    _("three days before an appointment"),
    _("Coming up: {what}, {day}, {time}"),
    _(
        "Hello {name},\n\nin a few days we look at your {vehicle}:\n**{day}, {time}** ({zone} time), "
        "about {minutes} minutes.\n\nDoes it still suit you? If not, move it or call it off "
        "here:\n{link}"
    ),
)
REMINDER_LATE = Kind(
    "reminder_1d",
    _("Reminder, the morning before"),
    _("on the morning before an appointment"),
    _("Reminder: {what}, {day}, {time}"),
    _(
        "Hello {name},\n\nwe look forward to your {vehicle}:\n**{day}, {time}** ({zone} time), about "
        "{minutes} minutes.\n\nSomething came up? Move it or call it off here:\n{link}"
    ),
)
MOVED = Kind(
    "moved",
    _("Moved"),
    _("when an appointment gets another time"),
    _("Your appointment has moved to {day}, {time}"),
    _(
        "Hello {name},\n\nyour appointment has a new time.\n{what} of your {vehicle}:\n**{day}, "
        "{time}** ({zone} time), about {minutes} minutes.\n\nYour own page, to change it or call it "
        "off:\n{link}"
    ),
    must_go=True,
)
CANCELLED = Kind(
    "cancelled",
    _("Called off by the holder"),
    _("when a holder calls an appointment off"),
    _("Your appointment on {day}, {time} is cancelled"),
    _(
        "Hello {name},\n\nthe appointment on {day} at {time} ({zone} time) for your {vehicle} is "
        "cancelled.\n\nIf you would like another time, call us, or pick one on your own page:\n{link}"
    ),
    must_go=True,
)
CALLED_OFF = Kind(
    "called_off",
    _("Called off by the shop"),
    _("when you call an appointment off"),
    _("Your appointment on {day}, {time} is cancelled"),
    _(
        "Hello {name},\n\nthe appointment on {day} at {time} ({zone} time) for your {vehicle} is "
        "cancelled. We have to call it off and are sorry for the trouble. We will offer you another "
        "time, or pick one yourself:\n{link}"
    ),
    must_go=True,
)
MISSED = Kind(
    "missed",
    _("Nobody came"),
    _("after an appointment that was not kept, as often as you say below"),
    _("{what}: pick a new time"),
    _(
        "Hello {name},\n\nwe had {day}, {time} for the {what} of your {vehicle} and did not see you. "
        "That is no trouble. Pick a new time when it suits you:\n{link}"
    ),
)
EARLIER = Kind(
    "earlier",
    _("Something earlier is free"),
    _("when you press “Offer it” for somebody who asked for an earlier time"),
    _("An earlier time is free: {day}, {time}"),
    _(
        "Hello {name},\n\nyou asked for an earlier time for the {what} of your {vehicle}. This one is "
        "free now:\n**{day}, {time}** ({zone} time).\n\nWhoever takes it first has it. Take it "
        "here:\n{link}"
    ),
)
RESULT = Kind(
    "result",
    _("What we saw"),
    _("an hour after a check is finished"),
    _("{what} of {day}: what we saw"),
    _(
        "Hello {name},\n\nthank you for bringing your {vehicle} to the {what} on {day}.\n\n"
        "{result}\n\nEverything we know about it, and what is covered, stands on your own page:\n{link}"
    ),
    OF_RESULT,
)
SUMMARY = Kind(
    "summary",
    _("Weekly summary"),
    _("to the owners, on Monday morning"),
    _("{shop}: the week of {week}"),
    _(
        "Hello {name},\n\nlast week:\n\n- checks done: {done}\n- checks missed: {missed}\n- "
        "appointments nobody came to: {not_kept}\n\nNow:\n\n- booked this week: {booked}\n- to call: "
        "{to_call}\n- overdue: {overdue}\n- messages that need a look: {stuck}\n- addresses that take "
        "no mail: {refused}\n\n{link}"
    ),
    OF_WEEK,
    to_owner=True,
)
KINDS: Final = (
    OFFER,
    BOOKED,
    REMINDER_EARLY,
    REMINDER_LATE,
    MOVED,
    CANCELLED,
    CALLED_OFF,
    MISSED,
    EARLIER,
    RESULT,
    SUMMARY,
)
BY_KEY: Final = {kind.key: kind for kind in KINDS}
