"""What a panel's own days tell; cases E23 and E30."""

from datetime import date

import pytest

from shopwarranty.films.models import FilmProduct
from shopwarranty.jobs import actions
from shopwarranty.jobs.models import PanelWork
from shopwarranty.jobs.panel_tells import YOUNG_PAINT, paint_words
from tests.conftest import NOW
from tests.jobs.conftest import Bench

LAID = date(2026, 11, 25)  # the shop's day of NOW


def page_of(bench: Bench, panel: PanelWork) -> str:
    address = f"/s/{bench.people.shop.slug}/panels/{panel.pk}/"
    return bench.people.client(bench.people.installer).get(address).content.decode()


def painted(bench: Bench, on: date | None) -> str:
    panel = bench.front(("bonnet",)).panels.get()
    actions.record_intake(
        panel_work=panel, substrate="repaint", painted_on=on, marks="", actor=bench.actor, now=NOW
    )
    return page_of(bench, panel)


def test_e23_film_on_paint_stated_to_be_young_is_said_beside_the_panel(bench: Bench) -> None:
    """Common practice, no source: makers of paint name from days to about three months."""
    words = "The paint is 24 days old under this film."
    assert words in painted(bench, date(2026, 11, 1))
    assert "for the paint&#x27;s maker to say" in painted(bench, date(2026, 11, 1))
    assert "days old under this film" not in painted(bench, date(2025, 11, 1))


def test_e23_paint_of_unknown_age_is_neither_young_nor_old(bench: Bench) -> None:
    assert "old under this film" not in painted(bench, None)


@pytest.mark.parametrize(
    ("days", "said"), [(-1, False), (0, True), (1, True), (YOUNG_PAINT.days - 1, True), (90, False)]
)
def test_e23_paint_is_young_for_less_than_ninety_days(days: int, said: bool) -> None:
    assert bool(list(paint_words(date.fromordinal(LAID.toordinal() - days), LAID))) is said


@pytest.mark.parametrize(
    ("days_of_sale", "words"),
    [
        ({"sold_to": date(2026, 10, 31)}, "Alder Clear 8 was sold until October 31, 2026."),
        ({"sold_from": date(2026, 12, 1)}, "Alder Clear 8 has been sold only since December 1, 2026."),
        ({"sold_from": LAID, "sold_to": LAID}, ""),
    ],
)
def test_e30_film_laid_outside_the_days_it_was_sold_is_noted_and_nothing_blocks(
    bench: Bench, days_of_sale: dict[str, date], words: str
) -> None:
    FilmProduct.objects.update(**days_of_sale)
    panel = bench.front(("bonnet",)).panels.get()
    actions.finish_panel(panel_work=panel, actor=bench.actor, now=NOW)
    page = page_of(bench, panel)
    assert words in page
    assert bool(words) is ("was sold until" in page or "has been sold only" in page)


def test_e30_the_days_of_sale_are_typed_with_the_film(bench: Bench) -> None:
    film = FilmProduct.objects.get()
    client = bench.people.client(bench.people.installer)
    address = f"/s/{bench.people.shop.slug}/films/{film.pk}/"
    typed = {"maker": "Alder", "name": "Clear 8", "family": "clear-protective"}
    wrong = client.post(address, {**typed, "sold_from": "2026-02-01", "sold_to": "2026-01-01"})
    assert "This is before the first day." in wrong.content.decode()
    assert (
        client.post(address, {**typed, "sold_from": "2024-02-01", "sold_to": "2026-01-01"}).status_code == 302
    )
    film.refresh_from_db()
    assert (film.sold_from, film.sold_to) == (date(2024, 2, 1), date(2026, 1, 1))
