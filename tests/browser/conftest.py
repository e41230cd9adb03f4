"""The server and the browser of these tests. Nothing here touches the database of the rest of the suite."""

import datetime as dt
import os
import shutil
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Playwright, sync_playwright

from groutjobs.faults.databases import Databases
from tests.browser.phonebook import Site
from tests.browser.server import Server, fresh_server
from tests.browser.visitor import shot

FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip


@pytest.fixture(scope="session")
def databases() -> Iterator[Databases]:
    made = Databases(os.environ.get("DATABASE_URL", ""))
    yield made
    made.close()


@pytest.fixture(scope="session")
def server(databases: Databases, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server as it is installed: its database has no tables yet."""
    with fresh_server(databases, tmp_path_factory.mktemp("server"), is_empty=True) as server:
        yield server


@pytest.fixture(scope="module")
def site(databases: Databases, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """A server of its own with one pour that is about to begin, at today's time."""
    with fresh_server(databases, tmp_path_factory.mktemp("site")) as server:
        site = Site(server, {})
        site.told = site.ask("build")
        server.set_clock(dt.datetime.now(dt.UTC))
        yield site


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
