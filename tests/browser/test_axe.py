"""No serious or critical fault of accessibility on the phone's screens and on the desk's main sheets.

Found by axe-core 4.14.1 with rules of WCAG 2.0 to 2.2 A and AA and its own best practices; what it calls serious or
critical counts. The library lies beside this file and is put into the page by the browser's own tools, so that the
page's policy holds.
"""

import datetime as dt
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, Playwright

from groutjobs.faults.browsing import FLAGS, BrowserPhone
from tests.browser.phonebook import Site
from tests.browser.stage import PASSWORD
from tests.browser.test_phone_looks import NAMES, screens, seen, worked_on
from tests.browser.visitor import DESK, Person, Visitor, shot

pytestmark = pytest.mark.page_alone
AXE = (Path(__file__).parent / "axe-core-4.14.1" / "axe-4.14.1.min.js").read_text(encoding="utf-8")
COUNTED = {"serious", "critical"}
FIND = """async () => {
  const said = await axe.run(document, { resultTypes: ["violations"] });
  const told = (one) => one.nodes.map((node) => [one.impact, one.id, node.target.join(" "), node.failureSummary]);
  return said.violations.flatMap(told);
}"""


def faults(page: Page) -> list[Any]:
    page.evaluate(AXE)
    return [one for one in page.evaluate(FIND) if one[0] in COUNTED]


@pytest.fixture(scope="module")
def phone(driver: Playwright, site: Site) -> Iterator[BrowserPhone]:
    made = worked_on(driver, site)
    yield made
    made.close()


def set_sun(page: Page, is_on: bool) -> None:
    page.evaluate("on => { localStorage.setItem('sun', on ? '1' : '0'); }", is_on)
    page.reload()
    page.locator("body.drawn").wait_for()
    assert page.locator("body.sun").count() == int(is_on)


def test_the_finder_finds_a_planted_fault(phone: BrowserPhone, site: Site) -> None:
    page = seen(phone, site, "log", 390)
    page.evaluate("() => { document.querySelector('main').append(document.createElement('input')); }")
    assert [one[1] for one in faults(page)] == ["label"]


@pytest.mark.parametrize("is_sunny", [False, True], ids=["plain", "sun"])
@pytest.mark.parametrize("name", NAMES)
def test_no_phone_screen_has_a_serious_fault(phone: BrowserPhone, site: Site, name: str, is_sunny: bool) -> None:
    page = seen(phone, site, name, 390)
    set_sun(page, is_sunny)
    shot(page, f"axe/{name}-{'sun' if is_sunny else 'plain'}")
    assert faults(page) == []


def test_what_lies_over_the_screens_has_no_serious_fault(phone: BrowserPhone, site: Site) -> None:
    page = seen(phone, site, "log", 390)
    page.locator("#pocket").click()
    assert faults(page) == []
    page = seen(phone, site, "reading", 390)
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_role("heading", name="Not saved yet").wait_for()
    assert faults(page) == []
    phone.run('(await load("enter.js")).stopScreen("Note", ["Note: vent 3 bleeds"], () => {});')
    assert faults(page) == []


def test_the_page_for_joining_has_no_serious_fault(driver: Playwright, site: Site) -> None:
    fresh = BrowserPhone(driver, site.url)
    try:
        assert faults(fresh.open()) == []
    finally:
        fresh.close()


def test_every_screen_is_looked_at(site: Site) -> None:
    assert set(NAMES) == set(screens(site))


DESK_PAGES = [
    "/",
    "/machines/",
    "/devices/",
    "/pours/{}/",
    "/pours/{}/cure/",
    "/pours/{}/turnover/",
    "/phone/pours/{}/",
]


@pytest.mark.parametrize("width", [390, DESK])
def test_the_desk_sheets_have_no_serious_fault(driver: Playwright, site: Site, width: int) -> None:
    browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
    engineer = site.told["people"]["engineer"]
    person = Person(engineer["name"], engineer["email"], "Engineer", PASSWORD)
    desk = Visitor(browser, site.url, person, width=width, at=dt.datetime.now(dt.UTC))
    desk.open("/sign-in/")
    found = {"/sign-in/": faults(desk.page)}
    desk.sign_in()
    for place in (page.format(site.pour_id) for page in DESK_PAGES):
        answer = desk.page.goto(place)
        assert answer
        assert answer.status == 200, place
        found[place] = faults(desk.page)
        shot(desk.page, f"axe/desk-{width}{place.replace('/', '_')}")
    browser.close()
    assert {place: one for place, one in found.items() if one} == {}
