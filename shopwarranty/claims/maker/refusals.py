"""Why an act on a claim to a maker was refused, and what to say about it. Nothing was written."""

from django.utils.translation import gettext as _


class MakerClaimRefusal(Exception):
    """An act that is not possible as asked."""


class AtAnotherStage(MakerClaimRefusal):
    """The claim is at another stage, perhaps since a moment ago."""


class NothingClaimed(MakerClaimRefusal):
    """A claim is about at least one defect, or says in words what is wrong with the film."""


class OfAnotherFilm(MakerClaimRefusal):
    """A defect lies on film of another lot or product."""


class HowSent(MakerClaimRefusal):
    """Neither a mail address nor another way was named."""


class AmountNeeded(MakerClaimRefusal):
    """A credit says how much."""


class ReasonNeeded(MakerClaimRefusal):
    """Giving up a claim asks for a reason."""


def refusal_words(refusal: MakerClaimRefusal) -> str:
    words: dict[type[MakerClaimRefusal], str] = {
        AtAnotherStage: _("The claim is at another stage by now. Look at it again."),
        NothingClaimed: _("Choose a defect, or write what is wrong with the film."),
        OfAnotherFilm: _("That defect lies on other film. One claim is about one lot."),
        HowSent: _("Give a mail address, or say how it was sent."),
        AmountNeeded: _("Write how much was credited."),
        ReasonNeeded: _("Say why, in plain words."),
    }
    return words.get(type(refusal), _("That cannot be done as things stand."))
