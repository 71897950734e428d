"""Why an act on a trial was refused. Nothing was written."""


class TrialRefusal(Exception):
    """An act on a trial that is not possible as asked."""


class BurdensCustomer(TrialRefusal):
    """An arm less careful than the method, on a customer's vehicle, without the holder's consent."""


class NotRunning(TrialRefusal):
    """The trial is over: nothing more is drawn for it."""


class NoPairHere(TrialRefusal):
    """No pair of this trial is left to draw on this job: nothing fits, or it is drawn or laid already."""


class NotAHolder(TrialRefusal):
    """Consent is the present holder's to give."""


class AlreadySaid(TrialRefusal):
    """What was done is recorded; it is corrected at the place, not here."""


class SameArms(TrialRefusal):
    """Both arms are the same, so there is nothing to learn."""


class WrongUnit(TrialRefusal):
    """What differs cannot be compared so: a panel is done one way, a whole job too."""
