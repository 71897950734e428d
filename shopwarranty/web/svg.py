"""Markup pieces the drawings share. Names are escaped; geometry comes from our own numbers."""

from collections.abc import Iterable

from django.utils.html import escape

from shopwarranty.trade.drawing import Layer

XMLNS = 'xmlns="http://www.w3.org/2000/svg"'

# Ground, then strokes. Sizes in drawing units; the hatch of film A and the dots of film B survive a copier.
PATTERNS: dict[str, tuple[float, str, str]] = {
    "recess": (5, "", '<circle class="p-dot" cx="1.5" cy="1.5" r="1"/>'),
    "film-a": (4, "rotate(-55)", '<path class="p-line" d="M0 1H4"/>'),
    "film-b": (5, "", '<circle class="p-dot" cx="1.5" cy="1.5" r=".9"/>'),
    "film-c": (7, "rotate(45)", '<path class="p-line" d="M0 1H7M1 0V7"/>'),
    "film-d": (5, "", '<path class="p-line" d="M0 1H5"/>'),
    "film-other": (9, "rotate(45)", '<path class="p-line" d="M0 1H9"/>'),
}

# The PDF renderer does not reach into a drawing from the page's style sheet.
PAPER_STYLE = (
    "<style>"
    ".ghost{fill:none;stroke:#ccc}.ghost-glass{fill:#efefef;stroke:none}"
    ".skin{fill:#fff;stroke:#aaa;stroke-width:.8}.film{stroke:#111;stroke-width:1.4}"
    ".is-rate-1 .skin{fill:#f8ebd8}.is-rate-2 .skin{fill:#efc79b}.is-rate-3 .skin{fill:#dc9457}"
    ".is-rate-4 .skin{fill:#a34a14}.is-rate-5 .skin{fill:#5c2205}"
    ".is-few .skin{stroke:#555;stroke-width:2;stroke-dasharray:0 4;stroke-linecap:round}"
    ".is-off .skin{stroke:#ccc}.is-differs .skin{fill:#eee}.k-off{fill:#fff;stroke:#aaa;stroke-width:.8}"
    ".recess{fill:#fff;stroke:#888;stroke-width:.6}"
    ".p-ground{fill:#fff}.p-line{stroke:#1b2f3c;stroke-width:1;fill:none}.p-dot{fill:#1b2f3c}"
    ".tag-disc{fill:#fff;stroke:#111;stroke-width:.8}"
    ".tag,.caption{font-family:Liberation Sans,sans-serif;font-size:13px;fill:#111}"
    ".tag{font-weight:bold;text-anchor:middle}.tag-slim{stroke:#fff;stroke-width:0}"
    ".is-rate-4 .tag,.is-rate-5 .tag{fill:#fff}.is-rate-4 .tag-slim,.is-rate-5 .tag-slim{fill:#111}"
    ".mark circle{fill:#111}.mark text{fill:#fff;font-family:Liberation Sans,sans-serif;font-size:12px;"
    "font-weight:bold;text-anchor:middle}"
    ".e{fill:none;stroke:#111;stroke-width:1.2;stroke-linecap:round}.e-dev{stroke-width:4.5}"
    ".e-dev-core{stroke:#fff;stroke-width:2}.e-unseen{stroke-width:2.4;stroke-dasharray:0 5.5}"
    ".e-lift{stroke-width:1.8}.e-clean{stroke-width:2.2}"
    ".r-differs,.r-lift{stroke:#111;stroke-width:2}"
    "</style>"
)


def opening(classes: str, box: str, summary: str, *, role: str) -> str:
    return f'<svg class="{classes}" viewBox="{box}" role="{role}" aria-label="{escape(summary)}" {XMLNS}>'


def definitions(ident: str, names: Iterable[str]) -> str:
    return f"<defs>{''.join(pattern(ident, name) for name in names)}</defs>"


def pattern(ident: str, name: str) -> str:
    size, turn, strokes = PATTERNS[name]
    square = f'width="{size:g}" height="{size:g}"'
    turned = f' patternTransform="{turn}"' if turn else ""
    return (
        f'<pattern id="{ident}-{name}" {square} patternUnits="userSpaceOnUse"{turned}>'
        f'<rect class="p-ground" {square}/>{strokes}</pattern>'
    )


def fill(ident: str, name: str) -> str:
    return f'fill="url(#{ident}-{name})"'


def path(classes: str, line: str, more: str = "") -> str:
    return f'<path class="{classes}" d="{line}"{" " + more if more else ""}/>'


def layered(layers: Iterable[Layer]) -> str:
    return "".join(path(layer.css, layer.path) for layer in layers)


def text(classes: str, x: float, y: float, words: str) -> str:
    return f'<text class="{classes}" x="{x:.1f}" y="{y:.1f}">{escape(words)}</text>'


def linked(classes: str, url: str, words: str, inner: str) -> str:
    """A real link with its full name where it leads somewhere, else a plain group."""
    if not url:
        return f'<g class="{classes}">{inner}</g>'
    return f'<a class="{classes}" href="{escape(url)}" aria-label="{escape(words)}">{inner}</a>'
