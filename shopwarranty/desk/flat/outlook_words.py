"""What an import does, or did, in sentences for the command and the page."""

from collections.abc import Iterator
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from .checking import Outlook

NEW_WORDS: Final = {
    "people": gettext_lazy("People added, without a sign-in"),
    "methods": gettext_lazy("Methods added, still empty"),
    "films": gettext_lazy("Films added"),
    "lots": gettext_lazy("Lots added"),
    "rolls": gettext_lazy("Rolls added"),
    "fields": gettext_lazy("Own fields added"),
    "panels": gettext_lazy("Own panels added"),
    "kinds": gettext_lazy("Defect kinds added"),
}
MOST_NAMED: Final = 12


def sentences(outlook: Outlook, *, done: bool) -> Iterator[str]:
    yield headline(outlook, done=done)
    for words, names in new_names(outlook):
        yield f"{words}: {names}."
    yield from outlook.notes


def headline(outlook: Outlook, *, done: bool) -> str:
    if outlook.changes_nothing:
        jobs = ngettext("%(jobs)d job", "%(jobs)d jobs", outlook.jobs_here) % {"jobs": outlook.jobs_here}
        return _("Everything is here already, unchanged: %(jobs)s.") % {"jobs": jobs}
    said = _("Taken in: %(counts)s.") if done else _("To be taken in: %(counts)s.")
    return said % {"counts": ", ".join(counts(outlook))}


def counts(outlook: Outlook) -> Iterator[str]:
    """What there is none of is left out."""
    yield from (words % {"n": number} for words, number in _counted(outlook) if number)


def _counted(outlook: Outlook) -> Iterator[tuple[str, int]]:
    jobs, panels, places = outlook.jobs_new, outlook.panels, outlook.places
    yield ngettext("%(n)d job", "%(n)d jobs", jobs), jobs
    yield ngettext("%(n)d panel", "%(n)d panels", panels), panels
    yield ngettext("%(n)d place", "%(n)d places", places), places
    visits, defects, checks = outlook.visits_new, outlook.defects_new, outlook.checks_planned
    yield ngettext("%(n)d visit", "%(n)d visits", visits), visits
    yield ngettext("%(n)d defect", "%(n)d defects", defects), defects
    yield ngettext("%(n)d check planned", "%(n)d checks planned", checks), checks
    here = outlook.jobs_here
    yield (
        ngettext("%(n)d job was here already, unchanged", "%(n)d jobs were here already, unchanged", here),
        here,
    )


def new_names(outlook: Outlook) -> Iterator[tuple[str, str]]:
    """What is added, and its names, the first dozen of them."""
    for what, names in outlook.new.items():
        shown = ", ".join(names[:MOST_NAMED])
        more = len(names) - MOST_NAMED
        yield str(NEW_WORDS[what]), shown + (_(" and %(more)d more") % {"more": more} if more > 0 else "")
