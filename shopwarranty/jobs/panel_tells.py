"""What a panel's own days tell: film on young paint, and film that was not sold on the day it was laid.

These sentences only tell; nothing blocks, and the makers' own words come first.
"""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopwarranty.shops.models import Shop
from shopwarranty.web.formats import full_date

from .record_parts import FilmRecord, PanelRecord

YOUNG_PAINT: Final = timedelta(days=90)
"""Paint makers name from days to about three months. Common practice, no source."""


def panel_tells(panel: PanelRecord, *, today: date, shop: Shop) -> tuple[str, ...]:
    """For the day on which the panel was finished, else for today."""
    laid_on = panel.finished_on or today
    painted_on = panel.intake.painted_on if panel.intake else None
    films = {piece.film.id: piece.film for piece in panel.standing_pieces if piece.film is not None}
    return (
        *paint_words(painted_on, laid_on),
        *(words for film in films.values() for words in sale_words(film, laid_on, shop)),
    )


def paint_words(painted_on: date | None, laid_on: date) -> Iterator[str]:
    """Nothing where no day of painting is recorded: unknown paint is neither young nor old."""
    if painted_on is None or not timedelta(0) <= laid_on - painted_on < YOUNG_PAINT:
        return
    days = (laid_on - painted_on).days
    words = ngettext(
        "The paint is one day old under this film. Paint that still cures can lift or blister under film; "
        "how long it has to wait is for the paint's maker to say.",
        "The paint is %(days)s days old under this film. Paint that still cures can lift or blister under "
        "film; how long it has to wait is for the paint's maker to say.",
        days,
    )
    yield words % {"days": days}


def sale_words(film: FilmRecord, laid_on: date, shop: Shop) -> Iterator[str]:
    if film.sold_from is not None and laid_on < film.sold_from:
        words = _("%(film)s has been sold only since %(day)s. Look whether this is the film that was laid.")
        yield words % {"film": film, "day": full_date(film.sold_from, shop)}
    if film.sold_to is not None and laid_on > film.sold_to:
        words = _("%(film)s was sold until %(day)s. Old stock is possible; look at the label of the roll.")
        yield words % {"film": film, "day": full_date(film.sold_to, shop)}
