"""A snapshot as PDF: US Letter for shops with US units, A4 else; tagged, fonts embedded, all from memory."""

import threading
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

from django.template.loader import render_to_string
from django.utils import translation
from django.utils.translation import gettext as _
from weasyprint import CSS, HTML
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import FatalURLFetchingError

from shopwarranty.films.qr import label_svg
from shopwarranty.web.formats import full_date, is_us
from shopwarranty.web.vehicle_svg import vehicle_svg

from . import paper_words
from .certificate_drawing import drawing_of, swatch
from .memory_fetcher import SCHEME, MemoryFetcher, NotInMemory, Resource
from .snapshot_parts import Snapshot

HERE: Final = Path(__file__).parent
SVG: Final = "image/svg+xml"
_fonts = threading.local()


@dataclass(frozen=True, slots=True)
class Face:
    family: str
    file: str
    weight: int = 400
    style: str = "normal"

    @property
    def url(self) -> str:
        return f"{SCHEME}fonts/{self.file}"

    @property
    def rule(self) -> str:
        return (
            f'@font-face {{ font-family: "{self.family}"; src: url({self.url}); '
            f"font-weight: {self.weight}; font-style: {self.style}; }}"
        )


SCRIPTS: Final = ("Arabic", "Armenian", "Devanagari", "Georgian", "Hebrew", "Thai")
FACES: Final = (
    Face("Liberation Sans", "LiberationSans-Regular.ttf"),
    Face("Liberation Sans", "LiberationSans-Bold.ttf", 700),
    Face("Liberation Serif", "LiberationSerif-Regular.ttf"),
    Face("Liberation Serif", "LiberationSerif-Italic.ttf", 400, "italic"),
    *(Face(f"Noto Sans {script}", f"NotoSans{script}-Regular.ttf") for script in SCRIPTS),
    *(Face(f"Noto Sans {script}", f"NotoSans{script}-Bold.ttf", 700) for script in SCRIPTS),
    Face("Certificate Hangul", "CertificateHangul.ttf"),
    Face("Droid Sans Fallback", "DroidSansFallback.ttf"),
    Face("Noto Emoji", "NotoEmoji-Regular.ttf"),
)


def render(snapshot: Snapshot, *, logo: bytes = b"", preview: bool = False) -> bytes:
    """The PDF. The same snapshot gives the same bytes with the same program and libraries.

    `logo` is a raster picture cleaned before; `preview` marks every page as not issued. Raises NotInMemory
    when the document asks for anything it was not given.
    """
    with translation.override(snapshot.language):
        context, pictures = page(snapshot, logo, preview)
        document = render_to_string("warranty/paper/certificate.html", context)
    fonts, style = prepared(snapshot)
    html = HTML(string=document, url_fetcher=MemoryFetcher(pictures), base_url=SCHEME)
    try:
        return bytes(html.write_pdf(stylesheets=[style], font_config=fonts, pdf_variant="pdf/ua-1"))
    except FatalURLFetchingError as refusal:
        raise NotInMemory(str(refusal)) from refusal


def page(snapshot: Snapshot, logo: bytes, preview: bool) -> tuple[dict[str, Any], Mapping[str, Resource]]:
    """What the template says, and the pictures it may ask for."""
    drawing = drawing_of(snapshot)
    pictures = {f"{SCHEME}vehicle.svg": picture(vehicle_svg(drawing, snapshot.shop))}
    for state, _words in drawing.legend:
        pictures[f"{SCHEME}{state}.svg"] = picture(swatch(drawing, state))
    if snapshot.code:
        pictures[f"{SCHEME}code.svg"] = picture(label_svg(snapshot.url))
    if logo:
        pictures[f"{SCHEME}logo"] = Resource(
            logo, "image/png" if logo.startswith(b"\x89PNG") else "image/jpeg"
        )
    context = {
        "certificate": snapshot,
        "drawing": drawing,
        "facts": list(paper_words.facts(snapshot)),
        "covered": list(paper_words.cover_rows(snapshot)),
        "work": list(paper_words.work_rows(snapshot)),
        "limits": list(paper_words.limits(snapshot)),
        "rights": paper_words.rights(snapshot),
        "foot": paper_words.foot(snapshot),
        "code": paper_words.code_words(snapshot),
        "address": snapshot.url.removeprefix("https://"),
        "title": title(snapshot),
        "issued": full_date(snapshot.issued_on, snapshot.shop),
        "heading": heading(snapshot),
        "replaces": replaced_words(snapshot),
        "reach": [part for part in (snapshot.shop.telephone, snapshot.shop.email) if part],
        "memory": SCHEME,
        "has_logo": bool(logo),
        "preview": preview,
        "direction": "rtl" if translation.get_language_bidi() else "ltr",
    }
    return context, pictures


def title(snapshot: Snapshot) -> str:
    """The document's name, as a reader's window shows it."""
    return _("%(title)s %(number)s, %(shop)s") % {
        "title": snapshot.legal.title.capitalize(),
        "number": snapshot.number,
        "shop": snapshot.shop.name,
    }


def heading(snapshot: Snapshot) -> str:
    """A caption given in capitals reads better in a large face without them; the words are the same."""
    words = snapshot.legal.title
    return words.title() if words.isupper() else words


def replaced_words(snapshot: Snapshot) -> str:
    if snapshot.replaces is None:
        return ""
    return _("This edition replaces edition %(edition)s of %(day)s.") % {
        "edition": snapshot.replaces.edition,
        "day": full_date(snapshot.replaces.issued_on, snapshot.shop),
    }


def picture(markup: str) -> Resource:
    return Resource(markup.encode(), SVG)


def prepared(snapshot: Snapshot) -> tuple[FontConfiguration, CSS]:
    """Fonts and style of this thread for the paper size; threads do not share the text engine."""
    size = "letter" if is_us(snapshot.shop) else "a4"
    if not hasattr(_fonts, size):
        fonts = FontConfiguration()
        sheet = f"@page {{ size: {size}; }}\n" + "\n".join(face.rule for face in FACES) + style_text()
        style = CSS(string=sheet, font_config=fonts, url_fetcher=MemoryFetcher(font_files()))
        setattr(_fonts, size, (fonts, style))
    found: tuple[FontConfiguration, CSS] = getattr(_fonts, size)
    return found


@cache
def style_text() -> str:
    return (HERE / "paper" / "certificate.css").read_text()


@cache
def font_files() -> Mapping[str, Resource]:
    folder = HERE / "fonts"
    return {face.url: Resource((folder / face.file).read_bytes(), "font/ttf") for face in FACES}
