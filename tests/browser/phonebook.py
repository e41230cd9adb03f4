"""Phones for tests: enrolled through the page as people do it, on a server with one pour that is about to begin."""

import json
import subprocess
import sys
from dataclasses import dataclass, field
from typing import Any

from playwright.sync_api import Page, Playwright

from groutjobs.faults.browsing import BrowserPhone, Mutant
from tests.browser.server import ROOT, Server
from tests.browser.stage import PASSWORD

STAGE = "import django; django.setup(); from tests.browser import stage; stage.main()"


@dataclass
class Site:
    """The server of these tests and what stands in its database."""

    server: Server
    told: dict[str, Any]
    codes: list[str] = field(default_factory=list)

    @property
    def url(self) -> str:
        return self.server.address

    @property
    def pour_id(self) -> int:
        return int(self.told["pour_id"])

    def ask(self, word: str, *rest: str) -> dict[str, Any]:
        done = subprocess.run(  # noqa: S603
            [sys.executable, "-c", STAGE, word, *rest], cwd=ROOT, env=self.server.environment,
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        told: dict[str, Any] = json.loads(done.stdout)
        return told

    def facts(self) -> dict[str, Any]:
        return self.ask("facts", str(self.pour_id))

    def code(self) -> str:
        return str(self.ask("code")["code"])


def enrolled(
    driver: Playwright, site: Site, who: str = "lead", mutant: Mutant | None = None, **more: Any
) -> BrowserPhone:
    """A phone that has joined by a code, with this person writing."""
    phone = BrowserPhone(driver, site.url, mutant, **more)
    page = phone.open()
    page.get_by_label("Code from the desk").fill(site.code())
    page.get_by_role("button", name="Join", exact=True).click()
    sign_in(page, site.told["people"][who])
    page.get_by_role("link", name="P-101 pour 1").wait_for()
    phone.keep_cookies()
    return phone


def sign_in(page: Page, person: dict[str, Any]) -> None:
    page.get_by_role("radio", name=person["name"]).check()
    page.get_by_label("Your PIN for phones, or your password").fill(PASSWORD)
    page.get_by_role("button", name="Write as this person").click()


def status(page: Page) -> str:
    return page.locator("#status").inner_text()
