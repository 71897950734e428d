"""The review as PDF for the Monday meeting: the lines and charts of the page on paper, all from memory.

US Letter for shops with US units, A4 else; tagged, fonts embedded, page n of m.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any, Final

from django.template.loader import render_to_string
from django.utils import translation
from weasyprint import CSS, HTML
from weasyprint.text.fonts import FontConfiguration

from shopwarranty.shops.models import Shop
from shopwarranty.warranty.certificate_drawing import swatch
from shopwarranty.warranty.certificate_pdf import FACES, font_files, picture
from shopwarranty.warranty.memory_fetcher import SCHEME, MemoryFetcher, Resource
from shopwarranty.web.formats import is_us
from shopwarranty.web.vehicle import VehicleDrawing
from shopwarranty.web.vehicle_svg import vehicle_svg

from . import charts

STYLE: Final = Path(__file__).parent / "paper" / "review.css"
_fonts = threading.local()


def render(shop: Shop, figures: Mapping[str, Any], now: datetime) -> bytes:
    """The PDF of what `figures_of` gives the page; `now` is written on it."""
    drawing = _on_paper(figures["rates"].drawing)
    context = {
        **figures,
        "shop": shop,
        "now": now,
        "memory": SCHEME,
        "drawing": drawing,
        "language": translation.get_language(),
        "direction": "rtl" if translation.get_language_bidi() else "ltr",
    }
    document = render_to_string("review/paper/review.html", context)
    pictures = dict(_pictures(shop, figures, drawing))
    fonts, style = _prepared("letter" if is_us(shop) else "a4")
    html = HTML(string=document, url_fetcher=MemoryFetcher(pictures), base_url=SCHEME)
    return bytes(html.write_pdf(stylesheets=[style], font_config=fonts, pdf_variant="pdf/ua-1"))


def _on_paper(drawing: VehicleDrawing) -> VehicleDrawing:
    """Paper has no links: a picture with one sentence instead."""
    pieces = {key: replace(piece, url="") for key, piece in drawing.pieces.items()}
    return replace(drawing, pieces=pieces, on_paper=True)


def _pictures(
    shop: Shop, figures: Mapping[str, Any], drawing: VehicleDrawing
) -> Iterator[tuple[str, Resource]]:
    yield f"{SCHEME}vehicle.svg", picture(vehicle_svg(drawing, shop))
    for state, _words in drawing.legend:
        yield f"{SCHEME}{state}.svg", picture(swatch(drawing, state))
    yield f"{SCHEME}scale.svg", picture(charts.on_paper(figures["scale"]))
    for number, line in enumerate((*figures["effects"], *figures["more_effects"]), start=1):
        yield f"{SCHEME}effect-{number}.svg", picture(charts.on_paper(line.forest))
    if figures["drift"] and figures["drift"].drawing:
        yield f"{SCHEME}drift.svg", picture(charts.on_paper(figures["drift"].drawing))
    if figures["curve"].drawing:
        yield f"{SCHEME}curve.svg", picture(charts.on_paper(figures["curve"].drawing))


def _prepared(size: str) -> tuple[FontConfiguration, CSS]:
    """Fonts and style of this thread for the paper size; threads do not share the text engine."""
    if not hasattr(_fonts, size):
        fonts = FontConfiguration()
        sheet = f"@page {{ size: {size}; }}\n" + "\n".join(face.rule for face in FACES) + _style()
        style = CSS(string=sheet, font_config=fonts, url_fetcher=MemoryFetcher(font_files()))
        setattr(_fonts, size, (fonts, style))
    found: tuple[FontConfiguration, CSS] = getattr(_fonts, size)
    return found


@cache
def _style() -> str:
    return STYLE.read_text()
