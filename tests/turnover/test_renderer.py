"""The renderer draws from a closed list of files: whatever else is asked for ends the run, and nothing is fetched."""

import importlib
import os
import socket
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from groutjobs.turnover.report import NotDrawn, fonts_conf, run_renderer
from tests.turnover.pdf_text import text_of_pdf

# WeasyPrint 70 leaves the file of its colour profile open when it stops; its own process ends a moment later.
pytestmark = pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
ORDER: dict[str, Any] = {"files": {}, "identifier": "00" * 16, "attachments": []}
Draw = Callable[[dict[str, Any]], bytes]


def html_with(markup: str) -> str:
    return f"<!doctype html><html lang='en'><title>x</title><body>{markup}</body></html>"


@pytest.fixture(scope="module")
def draw() -> Iterator[Draw]:
    """The drawing function in this process, with the fonts that its own process is given."""
    before = os.environ.get("FONTCONFIG_FILE")
    os.environ["FONTCONFIG_FILE"] = str(fonts_conf())
    yield importlib.import_module("groutjobs.turnover.renderer").draw
    if before is None:
        del os.environ["FONTCONFIG_FILE"]
    else:
        os.environ["FONTCONFIG_FILE"] = before


@pytest.mark.parametrize(
    "markup",
    [
        "<img src='http://HOST/a.png'>",
        "<img src='https://report.invalid/photos/1/'>",
        "<img src='file:///etc/hostname'>",
        "<img src='data:image/png;base64,AAAA'>",
        "<img src='../../etc/hostname'>",
        "<link rel='stylesheet' href='http://HOST/a.css'>",
        "<link rel='attachment' href='file:///etc/hostname'>",
        "<a rel='attachment' href='file:///etc/hostname'>x</a>",
        "<style>@import url(http://HOST/a.css);</style>",
        "<style>@font-face { font-family: x; src: url(http://HOST/a.woff2) } p { font-family: x }</style><p>x",
        "<p style='background: url(http://HOST/a.png)'>x</p>",
        "<object data='http://HOST/a.svg'></object>",
        "<embed src='http://HOST/a.svg'>",
        "<svg width='9' height='9'><image href='http://HOST/a.png' width='9' height='9'/></svg>",
    ],
)
def test_it_fetches_nothing_that_is_not_on_its_list(draw: Draw, markup: str) -> None:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        host, port = listener.getsockname()
        listener.setblocking(False)
        with pytest.raises(BaseException, match=r"was not fetched|Failed to render SVG image") as refused:
            draw(ORDER | {"html": html_with(markup.replace("HOST", f"{host}:{port}"))})
        assert type(refused.value).__name__ == "FatalURLFetchingError"
        with pytest.raises(BlockingIOError):
            listener.accept()


def test_a_file_on_the_list_must_have_its_hash(draw: Draw, tmp_path: Path) -> None:
    style = tmp_path / "a.css"
    style.write_text("p { color: red }")
    entry = {"path": str(style), "name": "a.css", "sha256": "0" * 64, "type": "text/css"}
    order = ORDER | {
        "files": {"https://report.invalid/a.css": entry},
        "html": html_with("<link rel='stylesheet' href='/a.css'>"),
    }
    with pytest.raises(BaseException, match=r"a\.css does not match its hash"):
        draw(order)


def test_a_picture_that_cannot_be_read_stops_it(draw: Draw, tmp_path: Path) -> None:
    broken = tmp_path / "broken.jpg"
    broken.write_bytes(b"no picture")
    entry = {"path": str(broken), "name": "photo 1", "sha256": "", "type": "image/jpeg"}
    order = ORDER | {"files": {"https://report.invalid/a.jpg": entry}, "html": html_with("<img src='/a.jpg'>")}
    with pytest.raises(BaseException, match="Failed to load image"):
        draw(order)


def test_its_own_process_draws_what_needs_no_file() -> None:
    assert "plain" in text_of_pdf(run_renderer(ORDER | {"html": html_with("<p>plain</p>")}))


def test_its_own_process_hands_back_the_reason() -> None:
    with pytest.raises(NotDrawn, match=r"^file:///etc/hostname is no part of this report and was not fetched$"):
        run_renderer(ORDER | {"html": html_with("<img src='file:///etc/hostname'>")})
