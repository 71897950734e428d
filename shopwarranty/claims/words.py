"""What a refused act on a claim means, and what to do about it."""

from django.utils.translation import gettext as _

from . import refusals


def refusal_words(refusal: Exception) -> str:
    words: dict[type[Exception], str] = {
        refusals.NotAtThisStage: _("The claim is at another stage by now. Look at it again."),
        refusals.ReportedLater: _("The first report cannot lie after the claim was received here."),
        refusals.NothingReported: _("Choose a defect or a place, or write what was reported."),
        refusals.Elsewhere: _("That belongs to another vehicle."),
        refusals.NotMatched: _("Say first where it is on the vehicle, or that the film there is not ours."),
        refusals.OwnerDecides: _("An owner decides. Prepare it, and an owner finds it here."),
        refusals.NoGround: _("A refusal needs a clause and a fact. No evidence either way is no ground."),
        refusals.NoCoverLine: _("No promise in force that day is about it. What is done then is goodwill."),
        refusals.ReasonNeeded: _("Say it in plain words."),
        refusals.FactNeeded: _("Write the fact, and where it can be seen."),
        refusals.UnknownClause: _("These words do not stand on the certificate in force that day."),
        refusals.NotPutRight: _("Something that was accepted is not put right yet: record its remedy first."),
        refusals.HolderNotAsked: _("Ask the holder, and write down the answer."),
    }
    return words.get(type(refusal), _("That cannot be done as things stand."))
