"""How the phone's pages look and what they weigh: targets, gaps, type, contrast, width, bytes. Measured in Chromium.

Limits: field rules of the house [GROUTJOBS]; the contrast formula is that of WCAG 2.2 (relative luminance), 1.4.6.
"""

# ruff: noqa: E501  lines of JavaScript in strings

from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, Playwright

from groutjobs.faults.browsing import BrowserPhone, write
from groutjobs.faults.pace import Counter
from tests.browser.phonebook import Site, enrolled
from tests.browser.visitor import OVER_PX, shot

pytestmark = pytest.mark.page_alone
WIDTHS = (390, 320)
TARGET_PX, GAP_PX, TEXT_PX, CONTRAST = 76, 8, 18, 7.0
COLD_BYTES, REPEAT_BYTES = 100_000, 10_000
# Controls that are seen, with the label that is pressed in place of a box.
SMALL = """least => [...document.querySelectorAll("a, button, summary, textarea, select, input")]
  .filter(one => one.checkVisibility() && one.type !== "hidden" && !one.matches(".skip"))
  .map(one => [one, (one.closest("label") ?? one).getBoundingClientRect()])
  .filter(([, box]) => box.height < least || box.width < least)
  .map(([one, box]) => `${one.outerHTML.slice(0, 90)} is ${Math.round(box.width)} × ${Math.round(box.height)} px`)"""
NEAR = """least => {
  const all = [...new Set([...document.querySelectorAll("a, button, summary, textarea, input")]
    .filter(one => one.checkVisibility() && !one.matches(".skip, .skip *")).map(one => one.closest("label") ?? one))];
  const boxes = all.map(one => [one, one.getBoundingClientRect()]);
  const found = [];
  boxes.forEach(([one, a], at) => boxes.slice(at + 1).forEach(([other, b]) => {
    if (one.contains(other) || other.contains(one) || one.closest(".main-action") || other.closest(".main-action")) return;
    const across = Math.max(a.left, b.left) - Math.min(a.right, b.right);
    const down = Math.max(a.top, b.top) - Math.min(a.bottom, b.bottom);
    if (Math.max(across, down) < least) found.push(`${one.textContent.slice(0, 30)} | ${other.textContent.slice(0, 30)}: ${Math.max(across, down).toFixed(1)} px`);
  }));
  return found;
}"""
TEXTS = """() => {
  const light = (text) => {
    const [r, g, b] = text.match(/[\\d.]+/g).map(Number).map((one) => one / 255).map((one) => one <= 0.04045 ? one / 12.92 : ((one + 0.055) / 1.055) ** 2.4);
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const under = (one) => {
    for (; one; one = one.parentElement) {
      const color = getComputedStyle(one).backgroundColor;
      if (!/, 0\\)$|transparent/.test(color)) return color;
    }
    return "rgb(255, 255, 255)";
  };
  const found = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const one = walker.currentNode.parentElement;
    if (!walker.currentNode.textContent.trim() || !one.checkVisibility() || one.closest(".skip")) continue;
    const style = getComputedStyle(one);
    const [a, b] = [light(style.color), light(under(one))].sort((x, y) => y - x);
    found.push([walker.currentNode.textContent.trim().slice(0, 40), parseFloat(style.fontSize), (a + 0.05) / (b + 0.05)]);
  }
  return found;
}"""


def worked_on(driver: Playwright, site: Site) -> BrowserPhone:
    """A phone without signal, with a batch that is open and a leak."""
    made = enrolled(driver, site)
    made.is_online = False
    write(made, site.pour_id, "liquids_started", {"batch": 1, "kits": 1, "lot": "L1"})
    write(made, site.pour_id, "wetted_out", {"batch": 1, "grout_c": 22.4})
    write(made, site.pour_id, "leak", {"compartment": "A", "where": "foot of the form"})
    return made


@pytest.fixture(scope="module")
def phone(driver: Playwright, site: Site) -> Iterator[BrowserPhone]:
    made = worked_on(driver, site)
    yield made
    made.close()


def screens(site: Site) -> dict[str, str]:
    pour = f"#pour/{site.pour_id}"
    return {
        "pours": "#", "log": pour, "points": f"{pour}/points", "missing": f"{pour}/missing", "entries": f"{pour}/entries",
        "finish": f"{pour}/finish", "reading": f"{pour}/enter/reading?", "answer": f"{pour}/enter/point_answer?point=1",
        "placed": f"{pour}/enter/placed?batch=1", "sample": f"{pour}/enter/sample?", "leak": f"{pour}/enter/leak?",
        "stop": f"{pour}/enter/stopped?", "waiting": "#waiting", "person": "#person",
    }  # fmt: skip


NAMES = ["pours", "log", "points", "missing", "entries", "finish", "reading", "answer", "placed", "sample", "leak", "stop", "waiting", "person"]  # fmt: skip


def seen(phone: BrowserPhone, site: Site, name: str, width: int) -> Page:
    page = phone.page
    assert page
    page.set_viewport_size({"width": width, "height": 844})
    page.goto("about:blank")
    phone.open(screens(site)[name])
    page.wait_for_timeout(200)
    for field in page.locator(".measure input").all()[:1]:
        field.click()
    shot(page, f"phone/{width}-{name}")
    return page


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", NAMES)
def test_every_screen_can_be_used_with_gloves_in_the_sun(
    phone: BrowserPhone, site: Site, name: str, width: int
) -> None:
    page = seen(phone, site, name, width)
    assert page.locator("h1").count() == 1
    assert page.evaluate(OVER_PX) <= 0
    assert page.evaluate(SMALL, TARGET_PX) == []
    assert page.evaluate(NEAR, GAP_PX) == []
    texts: list[tuple[str, float, float]] = page.evaluate(TEXTS)
    assert [one for one in texts if one[1] < TEXT_PX] == []
    assert [one for one in texts if one[2] < CONTRAST] == []


def test_timer_and_readings_are_read_at_arms_length(phone: BrowserPhone, site: Site) -> None:
    size = "one => parseFloat(getComputedStyle(one).fontSize)"
    page = seen(phone, site, "log", 390)
    assert page.locator(".timer").evaluate(size) >= 64
    page = seen(phone, site, "reading", 390)
    assert page.locator("#f-temp_c").evaluate(size) >= 40


def test_a_focused_field_is_not_under_the_bars(phone: BrowserPhone, site: Site) -> None:
    page = seen(phone, site, "reading", 390)
    for field in page.locator("main input:not([type=radio])").all():
        if field.is_visible():
            field.focus()
            box, top = field.bounding_box(), page.locator(".bar").bounding_box()
            foot = page.locator(".main-action").bounding_box()
            assert box
            assert top
            assert foot
            assert top["y"] + top["height"] <= box["y"] + 1
            assert box["y"] + min(box["height"], 80) <= foot["y"] + 1


def weigh(driver: Playwright, site: Site) -> tuple[int, int]:
    """Bytes that the server sent on the first visit, and on a later one; those of the service worker count too."""
    counter = Counter(site.server.port)
    phone = BrowserPhone(driver, counter.url, workers="allow")
    weights = []
    try:
        for _ in range(2):
            phone.open().wait_for_timeout(4_000)
            weights.append(counter.take())
            phone.open().goto("about:blank")
            counter.take()
    finally:
        phone.close()
        counter.listener.close()
    return weights[0], weights[1]


def test_the_page_is_light(driver: Playwright, site: Site) -> None:
    cold, repeat = weigh(driver, site)
    print(f"cold {cold} bytes, repeat {repeat} bytes")  # noqa: T201
    assert 20_000 < cold <= COLD_BYTES
    assert repeat <= REPEAT_BYTES
