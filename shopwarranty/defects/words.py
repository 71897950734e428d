"""Refusals about defects as a person reads them."""

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from shopwarranty.inspections.words import refusal_words as of_checks
from shopwarranty.jobs.actions.refusals import ReasonForFilm

from .actions import refusals

WORDS: dict[type[Exception], Promise] = {
    refusals.UnknownKind: _("This kind is no longer offered. Choose another."),
    refusals.NotWrong: _("This place is not marked wrong any more. Look at it again."),
    refusals.NoSeverity: _("Say how bad it is, from 1 to 4."),
    refusals.NotOpen: _("This defect was put right or has ended in the meantime."),
    refusals.RemedyThere: _(
        "Something was done about this defect already, so it stays as it was seen. "
        "Leave its place marked wrong; the remedy says that it was put right."
    ),
    refusals.OutOfOrder: _("A remedy lies between the day the defect was found and today."),
    refusals.SpotAnswered: _("This place was looked at again already."),
    refusals.NameMissing: _("Give it a name."),
    refusals.NameTaken: _("There is one of that name already."),
    ReasonForFilm: _("This film's lot is quarantined. Write in the note why it is used all the same."),
}


def refusal_words(refusal: Exception) -> str:
    return str(WORDS[type(refusal)]) if type(refusal) in WORDS else of_checks(refusal)
