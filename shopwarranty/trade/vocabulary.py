"""Every phrase of the trade that is shown, for the message catalogue. Keys are never translated."""

from __future__ import annotations

from functools import cache

from shopwarranty.trade import catalogue, defects, readings, safety, shelf, technique, units, words, zoom


@cache
def every_phrase() -> tuple[str, ...]:
    """Once each, sorted, British and American spellings alike."""
    phrases = {
        *catalogue.all_words(),
        *defects.all_words(),
        *safety.all_words(),
        *technique.all_words(),
        *words.all_words(),
        *shelf.SPOTS,
        *zoom.STANDING_WORDS,
        *readings.PHRASES,
        *units.REASONS,
    }
    return tuple(sorted(phrases))
