"""Why an act on a claim was refused, in a form a page can answer to. Nothing was written."""


class ClaimRefusal(Exception):
    """An act on a claim that is not possible as asked."""


class NotAtThisStage(ClaimRefusal):
    """The claim is at another stage, perhaps since a moment ago."""


class ReportedLater(ClaimRefusal):
    """Nobody can have reported first after it was received here."""


class NothingReported(ClaimRefusal):
    """A claim is about at least one thing."""


class Elsewhere(ClaimRefusal):
    """The place, defect, certificate or photo belongs to another vehicle."""


class NotMatched(ClaimRefusal):
    """Nobody has said yet where on the vehicle it is, or that it is no film of ours."""


class OwnerDecides(ClaimRefusal):
    """The decision is an owner's; everybody else prepares it."""


class NoGround(ClaimRefusal):
    """A refusal names a clause and a fact that stands for it. No evidence either way is no ground."""


class NoCoverLine(ClaimRefusal):
    """No cover line in force on the day of the first report is about it: what is done then is goodwill."""


class ReasonNeeded(ClaimRefusal):
    """This asks for a reason in plain words."""


class FactNeeded(ClaimRefusal):
    """An exclusion stands only with a fact, and with where that can be seen."""


class UnknownClause(ClaimRefusal):
    """The clause does not stand on the certificate that was in force on the day of the first report."""


class NotPutRight(ClaimRefusal):
    """Something that was accepted is not put right yet."""


class HolderNotAsked(ClaimRefusal):
    """The holder's answer is noted before a claim is closed."""
