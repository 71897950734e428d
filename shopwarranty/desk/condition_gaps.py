"""Conditions good to know at handover: outside the film's own limits, near the dew point, odd readings.

A film that names no limit has none; a panel without a reading is said to have none.
"""

from collections.abc import Iterator

from django.utils.translation import gettext as _

from shopwarranty.jobs.record_parts import FilmRecord, PanelRecord, ReadingRecord, number
from shopwarranty.jobs.technique_rows import Recorded
from shopwarranty.trade.readings import Quantity, doubts
from shopwarranty.trade.units import NotAMeasure, Unit
from shopwarranty.trade.units import temperature as read_temperature
from shopwarranty.web.formats import temperature, temperature_gap
from shopwarranty.web.trade_names import first_upper

from .gap import Gap, Kind
from .handover_situation import Situation


def condition_gaps(at: Situation) -> Iterator[Gap]:
    unmeasured = [panel.name for panel in at.panels if panel.reading is None]
    if unmeasured:
        words = _("Conditions were not measured: %(panels)s.") % {"panels": ", ".join(unmeasured)}
        yield Gap(Kind.TELLS, "unmeasured", words)
    for panel in at.panels:
        if panel.reading is not None:
            yield from of_panel(at, panel, panel.reading)
    for reading in at.record.readings:
        yield from odd(at, reading)


def of_panel(at: Situation, panel: PanelRecord, reading: ReadingRecord) -> Iterator[Gap]:
    name = first_upper(panel.name)
    films = {piece.film for piece in panel.standing_pieces if piece.film}
    for film in sorted(films, key=str):
        for said in outside(at, film, reading):
            yield Gap(Kind.TELLS, f"outside:{panel.id}", f"{name}: {said}")
    margin = reading.margin
    if margin is not None and margin.is_less_than(at.shop.dew_point_margin_c):
        words = _("%(panel)s: the surface was only %(gap)s above the dew point.")
        gap = temperature_gap(round(margin.margin_c, 1), at.shop)
        yield Gap(Kind.TELLS, f"dew:{panel.id}", words % {"panel": name, "gap": gap})


def outside(at: Situation, film: FilmRecord, reading: ReadingRecord) -> Iterator[str]:
    surface = number(reading.surface)
    shown = surface if surface is not None else number(reading.air)
    if shown is not None and film.apply_min_c is not None and shown < film.apply_min_c:
        words = _("%(was)s, and %(film)s wants %(limit)s or more.")
        yield limit_words(at, words, shown, film, film.apply_min_c)
    if shown is not None and film.apply_max_c is not None and shown > film.apply_max_c:
        words = _("%(was)s, and %(film)s wants %(limit)s or less.")
        yield limit_words(at, words, shown, film, film.apply_max_c)
    humidity = number(reading.humidity)
    if humidity is not None and film.humidity_max is not None and humidity > film.humidity_max:
        words = _("%(was)s %% humidity, and %(film)s wants %(limit)s %% or less.")
        yield words % {"was": f"{humidity:g}", "film": film, "limit": f"{film.humidity_max:g}"}


def limit_words(at: Situation, words: str, was: float, film: FilmRecord, limit: float) -> str:
    return words % {"was": temperature(was, at.shop), "film": film, "limit": temperature(limit, at.shop)}


def odd(at: Situation, reading: ReadingRecord) -> Iterator[Gap]:
    """C or F? The doubt needs what was typed; without it nothing is guessed."""
    unit = Unit.FAHRENHEIT if at.shop.units == "us" else Unit.CELSIUS
    for quantity, value in ((Quantity.AIR, reading.air), (Quantity.SURFACE, reading.surface)):
        if value.value is not None and has_doubt(quantity, value, unit):
            words = _("A reading of %(typed)s looks like the other unit. C or F?")
            yield Gap(Kind.TELLS, f"unit:{reading.id}", words % {"typed": value.typed or value.value})


def has_doubt(quantity: Quantity, value: Recorded, unit: Unit) -> bool:
    if not value.typed:
        return False
    try:
        return bool(doubts(quantity, read_temperature(value.typed, unit)))
    except NotAMeasure:
        return False
