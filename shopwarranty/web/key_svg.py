"""The key to a drawing: each stroke or hatch small, its word beside it."""

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from shopwarranty.web import svg
from shopwarranty.web.vehicle import FILMS, RATES, VehicleDrawing

LINE = "M2 10H32"
BOX = "M6 3H28Q31 3 31 6V14Q31 17 28 17H6Q3 17 3 14V6Q3 3 6 3Z"
WAVES = "M3 13Q6 5 10 13Q13 5 17 13Q20 5 24 13Q27 5 31 13"
STROKES = {
    "usual": svg.path("e e-usual", LINE),
    "clean": svg.path("e e-clean", LINE),
    "unseen": svg.path("e e-unseen", LINE),
    "differs": svg.path("e e-dev", LINE) + svg.path("e e-dev-core", LINE),
    "lift": svg.path("e e-lift-base", "M3 13H31") + svg.path("e e-lift", WAVES),
    "off": svg.path("k-off", BOX),
}


def key(drawing: VehicleDrawing) -> SafeString:
    """A list of what the strokes of this drawing mean, in the order the page gave."""
    rows = ((sample(drawing, state), words) for state, words in drawing.legend)
    return format_html('<ul class="key">{}</ul>', format_html_join("", "<li>{}<span>{}</span></li>", rows))


def sample(drawing: VehicleDrawing, state: str) -> SafeString:
    if state in RATES and not drawing.on_paper:
        return format_html('<span class="sw sw-{}"></span>', state.removeprefix("rate-"))
    return SafeString(
        f'<svg class="swatch car-{drawing.purpose}" viewBox="0 0 34 20" aria-hidden="true">'
        f"{svg.PAPER_STYLE if drawing.on_paper else ''}{swatch(drawing.ident, state)}</svg>"
    )


def swatch(ident: str, state: str) -> str:
    if state in FILMS:
        own = f"{ident}-key"
        return svg.definitions(own, [state]) + svg.path("film", BOX, svg.fill(own, state))
    if state in RATES:
        return f'<g class="is-{state}">{svg.path("skin", BOX)}</g>'
    return STROKES[state]
