"""The server and the browser of these tests. Nothing here touches the database of the rest of the suite."""

import datetime as dt
import shutil
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Playwright, sync_playwright

from tests.browser.phonebook import Site
from tests.browser.server import Server, own_database
from tests.browser.visitor import shot

FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    with own_database() as database:
        server = Server(tmp_path_factory.mktemp("server"), database)
        try:
            yield server
        finally:
            server.stop()


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """A server of its own with one pour that is about to begin, at today's time."""
    with own_database() as database:
        server = Server(tmp_path_factory.mktemp("site"), database)
        now = dt.datetime.now(dt.UTC)
        try:
            server.manage(now, "migrate", "--verbosity", "0")
            site = Site(server, {})
            site.told = site.ask("build")
            server.set_clock(now)
            yield site
        finally:
            server.stop()


@pytest.fixture(scope="module")
def driver() -> Iterator[Playwright]:
    with sync_playwright() as driver:
        yield driver


@pytest.fixture
def browser() -> Iterator[Browser]:
    """The system's Chromium; it ends with the test, so that no event loop is left running beside other tests."""
    program = shutil.which("chromium")
    assert program, "chromium is not installed; on Debian: apt-get install chromium"
    with sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=program, args=FLAGS)
        try:
            yield chromium
        finally:
            for page in (page for context in chromium.contexts for page in context.pages):
                shot(page, f"where-it-ended-{chromium.contexts.index(page.context)}")
            chromium.close()
