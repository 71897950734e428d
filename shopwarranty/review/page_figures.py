"""Everything the page says, worked out once; the page and the PDF read the same lines."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.utils.translation import gettext as _

from shopwarranty.web.formats import full_date

from .caveats import caveats, record_gaps
from .charts import forest_scale
from .counted import jobs_coming
from .curve_lines import curve_sheet
from .drawn_rates import rate_sheet
from .drift_lines import drift_sheet
from .effect_lines import effect_lines
from .headline import answer
from .monday import monday
from .opened import Opened
from .rule_words import METHOD, REFERENCES, failure_rule
from .selection import Part, Selection
from .swept import swept_sheet
from .tables import tables
from .timing_lines import timing_sheet
from .words import Words

EFFECTS_SHOWN = 4
"""And never fewer than are claimed."""


def figures_of(page: Opened, today: date) -> dict[str, Any]:
    found, table, words = page.found, page.table, page.words
    effects = effect_lines(found, words)
    shown = max(EFFECTS_SHOWN, sum(effect.verdict.claimed for effect in found.review.effects))
    return {
        "found": found,
        "family": words.family(page.selection.family),
        "surface": page.selection.part is Part.SURFACE,
        "exploring": page.selection.exploring,
        "narrowed": list(narrowed_to(page.selection, words)),
        "since": table.first_day(),
        "answer": answer(found, words),
        "steps": [] if page.selection.exploring else monday(found, table, words, jobs_coming(today)),
        "effects": effects[:shown],
        "more_effects": effects[shown:],
        "effects_count": len(effects[:shown]),
        "scale": forest_scale(),
        "rates": rate_sheet(found, table, words),
        "curve": curve_sheet(found, words),
        "tables": tables(found, words, page.installers),
        "drift": drift_sheet(found, words, page.installers),
        "timing": timing_sheet(found, words, page.version),
        "swept": None if page.selection.exploring else swept_sheet(words, page.version),
        "caveats": caveats(found, table, words),
        "gaps": record_gaps(found, words),
        "rule": failure_rule(words.shop, page.selection),
        "method": METHOD,
        "references": REFERENCES,
        "query": urlencode(page.selection.query()),
    }


def narrowed_to(selection: Selection, words: Words) -> Iterator[str]:
    """What a file leaves out, in words: it is read without the page beside it."""
    if selection.body:
        yield _("Only %(body)s.") % {"body": words.body(selection.body)}
    if selection.since:
        yield _("Finished on %(day)s or later.") % {"day": full_date(selection.since, words.shop)}
    if selection.until:
        yield _("Finished on %(day)s or before.") % {"day": full_date(selection.until, words.shop)}
    if selection.without_trials:
        yield _("Without the places of trials.")
