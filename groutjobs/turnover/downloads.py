"""Files of a report as answers that no browser takes for a page."""

import re
from collections.abc import Iterable
from typing import TypeVar

from django.http import HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase

from groutjobs.turnover.models import TurnoverReport

R = TypeVar("R", bound=HttpResponseBase)


def download(content: bytes, kind: str, name: str) -> HttpResponse:
    return _closed(HttpResponse(content, content_type=kind), name)


def streamed(parts: Iterable[bytes], kind: str, name: str) -> StreamingHttpResponse:
    return _closed(StreamingHttpResponse(parts, content_type=kind), name)


def _closed(response: R, name: str) -> R:
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Security-Policy"] = "default-src 'none'; sandbox"
    response["Cache-Control"] = "no-store"
    return response


def file_name(report: TurnoverReport) -> str:
    """A name of letters, digits and hyphens, whatever the tag holds."""
    tag = re.sub(r"[^A-Za-z0-9-]+", "-", report.pour.plan.machine.tag).strip("-")
    return f"{report.number}-rev{report.revision}-{tag}"[:80]
