"""The answer as PDF, to be shared: no person, no vehicle, no day is in it."""

from collections.abc import Mapping
from typing import Any

from django.template.loader import render_to_string
from django.utils import translation
from weasyprint import CSS, HTML
from weasyprint.text.fonts import FontConfiguration

from shopwarranty.shops.models import Shop
from shopwarranty.warranty.certificate_pdf import FACES, font_files
from shopwarranty.warranty.memory_fetcher import SCHEME, MemoryFetcher
from shopwarranty.web.formats import is_us

STYLE = """
@page { margin: 18mm; }
@page { @bottom-right { content: counter(page) " / " counter(pages); font: 8pt "Liberation Sans"; } }
body { font: 10pt/1.45 "Liberation Sans", sans-serif; color: #111; margin: 0; }
h1 { font: 400 22pt/1.2 "Liberation Serif", serif; margin: 3mm 0 5mm; }
h2 { font: 400 14pt/1.2 "Liberation Serif", serif; margin: 6mm 0 2mm; break-after: avoid; }
.beside { display: flex; gap: 10mm; margin-bottom: 4mm; } .beside > section { flex: 1; }
.laid { height: 2.6mm; margin-bottom: 4mm; }
.laid { border-top: 1.1mm solid #1b2f3c; border-bottom: .25mm solid #1b2f3c; }
table { border-collapse: collapse; width: 100%; } tr { break-inside: avoid; }
th, td { text-align: start; padding: 1.2mm 3mm 1.2mm 0; font-weight: normal; }
tr { border-bottom: .25mm solid #999; }
td { text-align: end; } .repeat td { text-align: start; } .repeat { margin-bottom: 3mm; }
p { margin: 0 0 2mm; }
"""


def render(page: Mapping[str, Any], shop: Shop) -> bytes:
    document = render_to_string(
        "trials/paper/trial.html", {**page, "shop": shop, "language": translation.get_language()}
    )
    fonts = FontConfiguration()
    size = "letter" if is_us(shop) else "a4"
    sheet = f"@page {{ size: {size}; }}\n" + "\n".join(face.rule for face in FACES) + STYLE
    style = CSS(string=sheet, font_config=fonts, url_fetcher=MemoryFetcher(font_files()))
    html = HTML(string=document, url_fetcher=MemoryFetcher({}), base_url=SCHEME)
    return bytes(html.write_pdf(stylesheets=[style], font_config=fonts, pdf_variant="pdf/ua-1"))
