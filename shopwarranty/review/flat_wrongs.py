"""What is wrong with a flat file, in the reader's language. The command line says the same in English."""

from __future__ import annotations

from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

WORDS: Final[dict[str, str | Promise]] = {
    "NOT_UTF8": _("not UTF-8. Save the file as UTF-8 first"),
    "NO_TABLE": _("not a table: {why}"),
    "NO_ROW": _("no row below the header"),
    "CELLS": _("{found} cells where the header has {expected}"),
    "MISSING": _("the column is missing"),
    "TWICE": _("two columns of this name"),
    "NAMELESS": _("the column has no name"),
    "NO_FACTOR": _("there is no factor column of this name"),
    "NO_DAY": _("{cell} is not a whole number of days"),
    "NO_NUMBER": _("{cell} is not a number"),
    "NO_CLUSTER": _("blank: which vehicle the place is on must be said"),
    "CLEAN_EARLY": _("seen clean before entry_day"),
    "FAILED_EARLY": _("not after {clean} and entry_day: a failure is found later than both"),
    "CENTURY": _("a day more than a century on"),
}
