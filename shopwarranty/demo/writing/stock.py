"""Films, lots, rolls, cuts, and the lot that the shop set aside."""

from datetime import datetime, time, timedelta

from shopwarranty.films.actions import quarantine
from shopwarranty.films.models import Cut, FilmProduct, Lot, Roll

from .. import sources
from ..stock import LENGTH_MM, WIDTH_MM
from ..told import Roll as ToldRoll
from ..told import Story
from .rows import Written, add

SHELF = {"colour-change": "rack A", "clear-protective": "rack B", "coloured-protective": "rack B, top"}
HAZE = "Milky haze along one edge of the roll; the maker was asked."
SET_ASIDE_DAYS_AGO = 5


def write_stock(written: Written, story: Story) -> None:
    films = sources.films()
    made = add(FilmProduct(family=film.family, **film.columns) for film in films)
    written.products = {film.key: row for film, row in zip(films, made, strict=True)}
    written.lots = add(
        Lot(product=written.products[lot.film], number=lot.number, made_on=lot.made_on) for lot in story.lots
    )
    families = {film.key: film.family for film in films}
    written.rolls = add(_roll(written, roll, families[roll.film]) for roll in story.rolls)
    flat = iter(add(_cuts(written, story)))
    written.cuts = [[next(flat) for _ in roll.cuts] for roll in story.rolls]
    _set_aside(written, story)


def _roll(written: Written, roll: ToldRoll, family: str) -> Roll:
    return Roll(
        product=written.products[roll.film],
        lot=None if roll.lot is None else written.lots[roll.lot],
        lot_unknown_reason="label_lost" if roll.lot is None else "",
        label=roll.label,
        width_mm=WIDTH_MM,
        length_mm=LENGTH_MM,
        received_on=roll.received_on,
        opened_on=roll.opened_on,
        finished_on=roll.finished_on,
        stored_where=SHELF[family],
    )


def _cuts(written: Written, story: Story) -> list[Cut]:
    return [
        Cut(
            roll=row,
            kind=cut.kind,
            along_mm=cut.along_mm,
            across_mm=cut.across_mm,
            off_roll_mm=cut.off_roll_mm,
            long_side_across=cut.long_side_across,
            cut_at=written.at(cut.at),
        )
        for row, roll in zip(written.rolls, story.rolls, strict=True)
        for cut in roll.cuts
    ]


def _set_aside(written: Written, story: Story) -> None:
    on = story.today - timedelta(days=SET_ASIDE_DAYS_AGO)
    at = written.at(datetime.combine(on, time(11, 20)))
    quarantine(lot=written.lots[story.quarantined], reason=HAZE, actor=written.actor("abel"), now=at)
