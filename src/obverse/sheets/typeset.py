"""Turning a packaged template and plain data into a PDF. Fonts are those inside the typesetter: the same sheet everywhere."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

from obverse.foundation import JsonObject

PAPERS = ("a4", "us-letter")

# Layout: units of the drawing for one module of a code.
CODE_SCALE = 4


def typeset(template: str, data: JsonObject) -> bytes:
    """Compile ``sheets/data/<template>.typ`` with `data`, which the template reads as JSON.

    Returns
    -------
    bytes
        A PDF.
    """
    import typst

    source = files("obverse.sheets").joinpath(f"data/{template}.typ").read_bytes()
    return typst.compile(
        source, format="pdf", sys_inputs={"data": json.dumps(data, allow_nan=False)}, ignore_system_fonts=True
    )


def ask(template: str, data: JsonObject, label: str) -> list[Any]:
    """What the template says of its own layout under that label (for tests: whether everything fits)."""
    import typst

    source = files("obverse.sheets").joinpath(f"data/{template}.typ").read_bytes()
    found = typst.query(
        source,
        f"<{label}>",
        field="value",
        sys_inputs={"data": json.dumps(data, allow_nan=False)},
        ignore_system_fonts=True,
    )
    result: list[Any] = json.loads(found)
    return result


def qr_svg(text: str, error: str = "m") -> str:
    """A QR code of the text as SVG without border; the template leaves the quiet zone."""
    import io

    import segno

    out = io.BytesIO()
    segno.make(text, error=error, micro=False).save(
        out, kind="svg", border=0, scale=CODE_SCALE, xmldecl=False, svgns=True
    )
    return out.getvalue().decode()
