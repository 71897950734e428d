"""Letters and case files as PDF: the certificate's fonts, everything from memory."""

import threading
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, Final

from django.template.loader import render_to_string
from django.utils.translation import get_language, get_language_bidi
from weasyprint import CSS, HTML
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import FatalURLFetchingError

from shopwarranty.shops.models import Shop
from shopwarranty.warranty.certificate_pdf import FACES, font_files
from shopwarranty.warranty.memory_fetcher import SCHEME, MemoryFetcher, NotInMemory, Resource
from shopwarranty.web.formats import is_us

from .letters import LetterText, from_shop
from .models import Claim

HERE: Final = Path(__file__).parent
_fonts = threading.local()
NOTHING: Mapping[str, Resource] = {}


def letter_pdf(claim: Claim, text: LetterText) -> bytes:
    """Enter the letter's language first."""
    context = {"letter": text, "claim": claim, "sender": from_shop(claim), "title": text.subject}
    return pdf("claims/letter/letter.html", context, claim.shop)


def pdf(
    template: str, context: Mapping[str, Any], shop: Shop, pictures: Mapping[str, Resource] = NOTHING
) -> bytes:
    """Raises NotInMemory when the document asks for anything it was not given."""
    direction = "rtl" if get_language_bidi() else "ltr"
    more = {"shop": shop, "language": get_language(), "direction": direction, "memory": SCHEME}
    document = render_to_string(template, {**more, **context})
    fonts, style = prepared("letter" if is_us(shop) else "a4")
    html = HTML(string=document, url_fetcher=MemoryFetcher(pictures), base_url=SCHEME)
    try:
        return bytes(html.write_pdf(stylesheets=[style], font_config=fonts, pdf_variant="pdf/ua-1"))
    except FatalURLFetchingError as refusal:
        raise NotInMemory(str(refusal)) from refusal


def prepared(size: str) -> tuple[FontConfiguration, CSS]:
    """Fonts and style of this thread for the paper size; threads do not share the text engine."""
    if not hasattr(_fonts, size):
        fonts = FontConfiguration()
        sheet = f"@page {{ size: {size}; }}\n" + "\n".join(face.rule for face in FACES) + style_text()
        style = CSS(string=sheet, font_config=fonts, url_fetcher=MemoryFetcher(font_files()))
        setattr(_fonts, size, (fonts, style))
    found: tuple[FontConfiguration, CSS] = getattr(_fonts, size)
    return found


@cache
def style_text() -> str:
    return (HERE / "paper" / "claim.css").read_text()
