"""A kind of defect in the reader's language."""

from django.utils.translation import gettext

from shopwarranty.trade import defects as trade


def kind_in_words(key: str, kept: str) -> str:
    """The catalogue's kind as the reader says it, else `kept`: the words it had at that time."""
    try:
        name = trade.kind(key).name
    except trade.UnknownDefectKind:
        return kept
    said = gettext(name)
    return kept if said == name else said
