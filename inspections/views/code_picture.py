"""An address as a picture that a phone's camera reads."""

from __future__ import annotations

from io import BytesIO

import segno
from django.utils.safestring import SafeString


def code_picture(address: str) -> SafeString:
    """The address as a QR code, bare SVG without a script or a style."""
    out = BytesIO()
    segno.make(address, error="q", micro=False).save(
        out, kind="svg", xmldecl=False, svgns=True, scale=4, border=2, omitsize=True, nl=False
    )
    # Only our own address went into the picture.
    return SafeString(out.getvalue().decode())
