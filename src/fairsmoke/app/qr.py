"""QR codes, as a picture in a page or as blocks in a terminal."""

import io

import segno


def qr_svg(text: str) -> str:
    """Return a QR code as SVG: dark on white with its quiet zone, in any theme."""
    out = io.BytesIO()
    code = segno.make(text, error="m", micro=False)
    code.save(out, kind="svg", scale=6, border=4, light="#fff", dark="#000", xmldecl=False)
    return out.getvalue().decode()


def qr_terminal(text: str) -> str:
    """Return a QR code for a terminal, two rows of it to a line."""
    out = io.StringIO()
    segno.make(text, error="m", micro=False).terminal(out=out, compact=True)
    return out.getvalue()
