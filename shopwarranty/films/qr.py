"""QR codes for labels."""

import io

import segno


def label_svg(address: str) -> str:
    """The address as an SVG without styles, sized by the page. Error correction M survives scuffs."""
    out = io.BytesIO()
    segno.make(address, error="m").save(
        out, kind="svg", xmldecl=False, svgns=True, omitsize=True, border=2, nl=False
    )
    return out.getvalue().decode()
