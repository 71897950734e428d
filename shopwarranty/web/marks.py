"""The family of strokes: thin line is the panel, thick line the film; how the film lies is the state.

24 x 24 units, drawn with currentColor. The same strokes stand on chips, beside verdicts and in the drawing.
"""

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

PANEL = '<path class="thin" d="M3 18.5H21"/>'
SHEET = '<rect class="thin" x="5" y="3" width="14" height="18" rx="2.5"/>'
UPRIGHT = '<path class="thin" d="M18.5 4V20"/>'
CROSSED = '<path class="thin" d="M13 4V20"/>'


@dataclass(frozen=True, slots=True)
class Mark:
    """One state or verdict: its strokes and the word that stands beside it unless the page says more."""

    strokes: str
    word: str | Promise


STATES: dict[str, Mark] = {
    "clean": Mark(PANEL + '<path d="M3 13.5H21"/>', _("Clean")),
    "lift": Mark(PANEL + '<path d="M3 13.5H10C14.5 13.5 16.5 10 20.5 5"/>', _("Wrong")),
    "unseen": Mark(PANEL + '<path d="M4 13.5h.01M12 13.5h.01M20 13.5h.01"/>', _("Not looked at")),
    "differs": Mark(PANEL + '<path d="M3 13.5H9.5L14 7.5H21"/>', _("Differs")),
    "usual": Mark('<path class="thin" d="M3 14H21"/>', _("As usual")),
    "off": Mark('<path class="thin" d="M3 14h3M8 14h3M13 14h3M18 14h3"/>', _("No film")),
    "due": Mark(UPRIGHT + '<path d="M3 12H14.5"/>', _("Due")),
    "overdue": Mark(CROSSED + '<path d="M3 12H21.5"/>', _("Overdue")),
    "booked": Mark(UPRIGHT + '<path d="M3 12H9"/><path class="thin" d="M9 8V16"/>', _("Booked")),
    "done": Mark(UPRIGHT + '<path d="M3 12H17"/><path class="thin" d="M3 8V16"/>', _("Done")),
    "missed": Mark(CROSSED + '<path d="M4 12h.01M9 12h.01M17 12h.01M21.5 12h.01"/>', _("Missed")),
    "issued": Mark(
        SHEET + '<path d="M8.5 16.5H15.5"/><path class="thin" d="M8.5 8H15.5M8.5 11.5H13"/>', _("Issued")
    ),
    "replaced": Mark(
        '<path class="thin" d="M8 6V5.5A2.5 2.5 0 0 1 10.5 3H17.5A2.5 2.5 0 0 1 20 5.5V14.5"/>'
        '<rect class="thin" x="4" y="7" width="12" height="14" rx="2.5"/><path d="M7 17H13"/>',
        _("Replaced"),
    ),
    "withdrawn": Mark(
        SHEET + '<path class="thin" d="M5.5 13L14 3.5M6 19.5L18.5 6M11 20.5L18.5 12.5"/>', _("Withdrawn")
    ),
    "look-first": Mark('<path class="solid" d="M4 5L20 12L4 19Z"/>', _("Look here first")),
    "plain": Mark("", ""),
}

VERDICTS: dict[str, Mark] = {
    "more": Mark(
        '<path class="thin" d="M2.5 19H21.5"/>'
        '<path d="M3 14.5Q4.8 9 6.6 14.5Q9.2 3.5 11.8 14.5Q16.5 -6 21 14.5"/>',
        _("Goes with more failures"),
    ),
    "fewer": Mark(
        '<path class="thin" d="M2.5 19H21.5"/><path d="M3 14.5Q7.5 -6 12.2 14.5Q14.8 3.5 17.4 14.5H21"/>',
        _("Goes with fewer failures"),
    ),
    "no-difference": Mark(
        '<path class="thin" d="M3 19H21"/><path d="M4 9H20M4 14H20"/>', _("No clear difference")
    ),
    "cannot-tell": Mark(STATES["unseen"].strokes, _("Cannot tell yet")),
    "cannot-separate": Mark(
        '<path class="thin" d="M3 19H21"/><path d="M3 13C8 13 8 6 12 6S16 13 21 13"/>'
        '<path class="thin" d="M3 6C8 6 8 13 12 13S16 6 21 6"/>',
        _("Cannot be told apart"),
    ),
}

# Words other rooms use for the same marks.
SAME_AS: dict[str, str] = {
    "defect": "lift",
    "wrong": "lift",
    "not-looked": "unseen",
    "look_first": "look-first",
    "no-film": "off",
}
