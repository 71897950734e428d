"""What a reading tells beside its figures: the margin above the dew point, and the film's own limits.

These sentences only tell; nothing blocks. Where a film names no limit there is no sentence.
"""

from collections.abc import Iterable

from django.utils.translation import gettext as _

from shopwarranty.shops.models import Shop
from shopwarranty.web.formats import exact, temperature, temperature_gap

from .record_parts import FilmRecord, ReadingRecord, number


def margin_words(reading: ReadingRecord, shop: Shop) -> str:
    found = reading.margin
    if found is None:
        return _("Dew point not known: it takes air, panel and humidity.")
    gap = temperature_gap(exact(abs(round(found.margin_c, 1))), shop)
    if found.condenses:
        return _("Panel %(gap)s below the dew point: water condenses on it.") % {"gap": gap}
    if found.is_less_than(shop.dew_point_margin_c):
        wanted = temperature_gap(exact(shop.dew_point_margin_c), shop)
        words = _("Panel only %(gap)s above the dew point; this shop wants %(wanted)s.")
        return words % {"gap": gap, "wanted": wanted}
    return _("Panel %(gap)s above the dew point.") % {"gap": gap}


def is_close(reading: ReadingRecord, shop: Shop) -> bool:
    found = reading.margin
    return found is not None and (found.condenses or found.is_less_than(shop.dew_point_margin_c))


def film_words(reading: ReadingRecord, films: Iterable[FilmRecord], shop: Shop) -> tuple[str, ...]:
    """One sentence for every limit of a film's data sheet that the reading lies outside of."""
    said: list[str] = []
    for film in films:
        said += degrees_words(_("Air"), number(reading.air), film, shop)
        said += degrees_words(_("Panel"), number(reading.surface), film, shop)
        humidity = number(reading.humidity)
        if humidity is not None and film.humidity_max is not None and humidity > film.humidity_max:
            said.append(
                _("Humidity %(now)s %%, %(film)s up to %(limit)s %%.")
                % {"now": f"{humidity:g}", "film": film, "limit": f"{film.humidity_max:g}"}
            )
    return tuple(said)


def degrees_words(what: str, value: float | None, film: FilmRecord, shop: Shop) -> list[str]:
    if value is None:
        return []
    low, high = film.apply_min_c, film.apply_max_c
    if low is not None and value < low:
        words, limit = _("%(what)s %(now)s, %(film)s from %(limit)s."), low
    elif high is not None and value > high:
        words, limit = _("%(what)s %(now)s, %(film)s up to %(limit)s."), high
    else:
        return []
    shown = {"now": temperature(exact(value), shop), "limit": temperature(exact(limit), shop)}
    return [words % {"what": what, "film": film, **shown}]
