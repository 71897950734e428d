"""Why an act on a defect was refused, in a form a page can answer to. Nothing was written."""

from collections.abc import Sequence

from shopwarranty.jobs.models import Place


class DefectRefusal(Exception):
    """An act on a defect that is not possible as asked."""


class UnknownKind(DefectRefusal):
    """Neither the catalogue nor the shop knows this kind of defect, cause or remedy."""


class NotWrong(DefectRefusal):
    """The finding does not say that something is wrong there."""


class NoSeverity(DefectRefusal):
    """A defect that was seen is at least a trace: severity 1 to 4."""


class NotDescribed(DefectRefusal):
    """Places are marked wrong without saying what is wrong with them."""

    def __init__(self, places: Sequence[Place]) -> None:
        super().__init__(", ".join(place.key for place in places))
        self.places = tuple(places)


class NotOpen(DefectRefusal):
    """The defect was put right, or ended, in the meantime."""


class RemedyThere(DefectRefusal):
    """Something was done about the defect already: that it was seen cannot be taken back."""


class OutOfOrder(DefectRefusal):
    """A remedy lies between the day the defect was found and today."""


class SpotAnswered(DefectRefusal):
    """This place was looked at again already."""


class NameMissing(DefectRefusal):
    """A place or kind that is added needs a name."""


class NameTaken(DefectRefusal):
    """There is one of that name already."""
