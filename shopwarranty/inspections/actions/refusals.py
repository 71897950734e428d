"""Why an act on a check was refused, in a form a page can answer to. Nothing was written."""

from typing import Any


class CheckRefusal(Exception):
    """An act on a check, a booking or a visit that is not possible as asked."""


class CheckSettled(CheckRefusal):
    """The check is done or set aside: it needs no time any more."""


class AlreadyBooked(CheckRefusal):
    """The check has a time already; it can be moved."""


class SlotTaken(CheckRefusal):
    """Somebody was quicker: that place has just been taken."""


class SlotNotOffered(CheckRefusal):
    """Outside opening hours, too soon, too far ahead or in no bay: staff may, with a reason."""


class SlotPast(CheckRefusal):
    """The time is over already."""


class BookingOver(CheckRefusal):
    """The booking was moved, cancelled or kept in the meantime."""


class NotYetOver(CheckRefusal):
    """The time has not come yet, so nobody can have missed it."""


class ReasonNeeded(CheckRefusal):
    """This asks for a reason."""


class InTheFuture(CheckRefusal):
    """What was looked at cannot have been looked at later than now."""


class NotFinishedYet(CheckRefusal):
    """No panel of the job is finished: there is nothing to look at."""


class HandedOverAlready(CheckRefusal):
    """The handover look belongs before the handover; what is seen later is a visit of its own."""


class AnotherVisitOpen(CheckRefusal):
    """The vehicle is being looked at in a visit of another kind, which has to end first."""


class VisitOver(CheckRefusal):
    """The visit is finished. What it found is corrected by a new row, with a reason."""


class VisitOpen(CheckRefusal):
    """The visit is still open: what it found can simply be changed."""


class NotPartOfThis(CheckRefusal):
    """The place is on another vehicle, or its film is gone."""

    def __init__(self, place: Any) -> None:
        super().__init__(str(place.pk))
        self.place = place


class PhotosDoNotShowIt(CheckRefusal):
    """Photos say nothing about places they do not show: each place is answered by itself."""


class PlanMovedOn(CheckRefusal):
    """Somebody changed the check plan in the meantime."""


class PlanFixed(CheckRefusal):
    """The handover look belongs to the handover: it has no other day and cannot be left out."""
