"""Cautions defer to others, teach nothing and promise nothing."""

import re

import pytest

from shopwarranty.trade import safety
from shopwarranty.trade.safety import CAUTIONS, Caution, Topic


def test_every_topic_has_a_caution() -> None:
    assert [c.topic for c in CAUTIONS] == list(Topic)
    assert safety.caution("heat").title == "Heat"


def test_no_text_says_that_anything_is_safe() -> None:
    assert not [text for text in safety.all_words() if re.search(r"\bsafe", text, re.IGNORECASE)]


@pytest.mark.parametrize("caution", CAUTIONS, ids=lambda c: c.topic)
def test_no_caution_gives_a_temperature_a_time_or_a_strength(caution: Caution) -> None:
    assert not re.search(r"\d", " ".join((caution.short, *caution.long)))


@pytest.mark.parametrize("caution", CAUTIONS, ids=lambda c: c.topic)
def test_every_caution_names_who_has_the_last_word(caution: Caution) -> None:
    others = r"maker|data sheet|local rule|local fire|law|shop's own rules|makers"
    assert re.search(others, " ".join(caution.long), re.IGNORECASE)


def test_the_line_at_the_foot_defers_to_law_maker_and_data_sheets() -> None:
    for words in ("not a work instruction", "Local law", "vehicle maker's procedure", "data sheets"):
        assert words in safety.FOOT
        assert words in safety.SHORT_FOOT


def test_the_short_line_is_short() -> None:
    assert all(len(c.short) <= 120 for c in CAUTIONS)
