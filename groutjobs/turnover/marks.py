"""What leads from a page of the report back to the record: the address in its QR code, and the code itself."""

from typing import Any

import segno
from django.utils.safestring import SafeString

from groutjobs import svg

PREFIX = 16
QUIET = 2
"""Modules of white around the code; the title block is white, so two are enough beside the four of ISO/IEC 18004."""


def verify_address(manifest: dict[str, Any], manifest_sha256: str) -> str:
    """Where the state of this revision can be looked up; relative where the installation does not know its address."""
    report = manifest["report"]
    path = f"/verify/{report['number']}/{report['revision']}/{manifest_sha256[:PREFIX]}/"
    return f"{manifest['verify']['address']}{path}"


def qr_code(text: str) -> SafeString:
    """The text as a QR code, one path of squares."""
    rows = [list(row) for row in segno.make(text, error="m", micro=False).matrix]
    size = len(rows) + 2 * QUIET
    runs = "".join(
        f"M{x + QUIET} {y + QUIET}h1v1h-1z" for y, row in enumerate(rows) for x, dark in enumerate(row) if dark
    )
    path = svg.element("path", d=runs, fill="#000000", shape_rendering="crispEdges")
    label = f"QR code: {text}"
    return SafeString(
        svg.element(
            "svg",
            path,
            xmlns="http://www.w3.org/2000/svg",
            viewBox=f"0 0 {size} {size}",
            width=f"{size}",
            height=f"{size}",
            role="img",
            aria_label=label,
        )
    )
