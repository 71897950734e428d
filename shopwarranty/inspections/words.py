"""Refusals as a person reads them: what is so, then what to do."""

from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from shopwarranty.inspections.wall_clock import WallTimeProblem

from .actions import refusals

WORDS: dict[type[Exception], Promise] = {
    refusals.CheckSettled: _("This check is settled already. It needs no time any more."),
    refusals.AlreadyBooked: _("Somebody booked this check in the meantime. Move it if the time is wrong."),
    refusals.SlotTaken: _("That place has just been taken. Choose another."),
    refusals.SlotNotOffered: _(
        "The shop does not offer that time. Choose another, or give a reason for an exception."
    ),
    refusals.SlotPast: _("That time is over. Choose one that is still to come."),
    refusals.BookingOver: _("This booking was moved or called off in the meantime. Look at the check again."),
    refusals.NotYetOver: _("The time has not come yet, so nobody can have missed it."),
    refusals.ReasonNeeded: _("Say why."),
    refusals.InTheFuture: _("That day is still to come. A look is written down on the day it happened."),
    refusals.NotFinishedYet: _(
        "No panel of this job was finished by that day, so there is nothing to look at."
    ),
    refusals.HandedOverAlready: _(
        "This vehicle is handed over. What is seen now belongs into a check or a visit of its own."
    ),
    refusals.AnotherVisitOpen: _(
        "Another look at this vehicle is still open. Finish it, or drop it if it was started by mistake."
    ),
    refusals.VisitOver: _("This visit is finished. Correct single places instead, with a reason."),
    refusals.VisitOpen: _("This visit is still open. Change the place itself."),
    refusals.NotPartOfThis: _(
        "That place is not part of this visit: its film is gone or on another vehicle."
    ),
    refusals.PhotosDoNotShowIt: _(
        "A photo proves only what it shows. Answer for each place by itself; the others stay not looked at."
    ),
    refusals.PlanMovedOn: _("Somebody changed this plan in the meantime. Look again at what a change does."),
    refusals.PlanFixed: _("The handover look belongs to the handover: its day is fixed and it stays."),
}


def refusal_words(refusal: Exception) -> str:
    if isinstance(refusal, WallTimeProblem):
        return refusal.sentence.render(gettext)
    return str(WORDS.get(type(refusal), _("This is not possible now. Look again.")))
