"""The square code that a phone scans to pair."""

from __future__ import annotations

import io


def terminal_code(address: str) -> str:
    """The code for a terminal, in half blocks."""
    import segno  # a watch without `--lan` never draws one

    out = io.StringIO()
    segno.make(address, error="m", micro=False).terminal(out, border=2, compact=True)
    return out.getvalue()


def picture_code(address: str) -> bytes:
    """The code as an SVG picture, dark on white whatever the page's colours are."""
    import segno

    out = io.BytesIO()
    segno.make(address, error="m", micro=False).save(out, kind="svg", scale=8, border=4, light="white", svgclass=None)
    return out.getvalue()
