"""The first sentence of the day, in words."""

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from .today import Today


def day_sentence(day: Today) -> str:
    """Like "3 to call, 4 coming in, 2 vehicles to hand over."; what there is none of is left out."""
    parts = []
    if day.does_desk and day.calls:
        parts.append(ngettext("%(n)s to call", "%(n)s to call", day.calls) % {"n": day.calls})
    if day.coming_in:
        n = len(day.coming_in)
        parts.append(ngettext("%(n)s coming in", "%(n)s coming in", n) % {"n": n})
    if day.to_hand_over:
        n = len(day.to_hand_over)
        parts.append(ngettext("%(n)s vehicle to hand over", "%(n)s vehicles to hand over", n) % {"n": n})
    if day.does_work and day.unfinished:
        n = len(day.unfinished)
        parts.append(ngettext("%(n)s job in work", "%(n)s jobs in work", n) % {"n": n})
    if not parts:
        return _("Nothing waits today.")
    text = ", ".join(parts)
    return f"{text[0].upper()}{text[1:]}."
