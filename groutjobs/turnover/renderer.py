"""Draws a PDF from HTML and a closed list of files. Runs in a process of its own: python -m groutjobs.turnover.renderer

Reads one JSON order from standard input and writes the PDF to standard output. Whatever the HTML asks for that is not
on the list, a file whose bytes do not match their hash, or a picture that cannot be drawn ends the run with code 3 and
the reason on standard error, so that a report is never issued with a gap. It imports nothing of Django.
"""

import contextlib
import datetime as dt
import gc
import hashlib
import io
import json
import logging
import resource
import sys
from pathlib import Path
from typing import Any, BinaryIO

from weasyprint import HTML, Attachment
from weasyprint.document import Document
from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

BASE = "https://report.invalid/"
CPU_LIMIT_S = 120
MEMORY_LIMIT_BYTES = 2 * 1024**3
NOT_DRAWN = 3


class ClosedFetcher(URLFetcher):  # type: ignore[misc]  # no types there
    """Serves the files of the order and refuses every other address for good."""

    def __init__(self, files: dict[str, dict[str, str]]) -> None:
        super().__init__(allowed_protocols=(), allow_redirects=False, fail_on_errors=True)
        self.files = files

    def fetch(self, url: str, headers: dict[str, str] | None = None) -> URLFetcherResponse:
        entry = self.files.get(url)
        if entry is None:
            raise FatalURLFetchingError(f"{url[:200]} is no part of this report and was not fetched")
        try:
            content = Path(entry["path"]).read_bytes()
        except OSError as error:
            raise FatalURLFetchingError(f"{entry['name']} is missing from the store") from error
        if entry["sha256"] and hashlib.sha256(content).hexdigest() != entry["sha256"]:
            raise FatalURLFetchingError(f"{entry['name']} does not match its hash {entry['sha256'][:12]}")
        return URLFetcherResponse(url, content, {"Content-Type": entry["type"]})


class Complaints(logging.Handler):
    """Keeps what WeasyPrint only logs: a picture or a font that it left out."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.found: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        message = record.getMessage()
        if record.levelno >= logging.ERROR or message.startswith("Font-face"):
            self.found.append(message)


def draw(order: dict[str, Any]) -> bytes:
    """The PDF of the order; the same order gives the same bytes."""
    out = io.BytesIO()
    draw_into(out, order)
    return out.getvalue()


def draw_into(out: BinaryIO, order: dict[str, Any]) -> None:
    """Write the PDF; what was written counts only where nothing is raised, as a complaint is known at the end."""
    complaints = Complaints()
    logger = logging.getLogger("weasyprint")
    logger.addHandler(complaints)
    fetcher = ClosedFetcher(order["files"])
    HTML(string=order["html"], base_url=BASE, url_fetcher=fetcher).write_pdf(
        out,
        finisher=_let_go,
        pdf_variant="pdf/a-3a",
        pdf_identifier=bytes.fromhex(order["identifier"]),
        attachments=[_attachment(**item) for item in order["attachments"]],
    )
    if complaints.found:
        raise FatalURLFetchingError("; ".join(complaints.found[:5]))


def _let_go(document: Document, pdf: object) -> None:
    """The laid out pages are on paper now; their memory serves the writing."""
    document.pages.clear()
    gc.collect()


def _attachment(name: str, text: str, description: str, at: str) -> Attachment:
    moment = dt.datetime.fromisoformat(at)
    return Attachment(
        string=text.encode(), name=name, description=description, created=moment, modified=moment, relationship="Data"
    )


def _limit() -> None:
    for what, most in ((resource.RLIMIT_CPU, CPU_LIMIT_S), (resource.RLIMIT_AS, MEMORY_LIMIT_BYTES)):
        with contextlib.suppress(ValueError, OSError):  # a system that knows no such limit
            resource.setrlimit(what, (most, most))


def main() -> None:
    _limit()
    try:
        draw_into(sys.stdout.buffer, json.load(sys.stdin))
    except FatalURLFetchingError as error:
        sys.stderr.write(str(error))
        sys.exit(NOT_DRAWN)


if __name__ == "__main__":
    main()
