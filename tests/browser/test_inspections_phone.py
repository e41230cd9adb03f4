"""Level survey, sounding and bolt tightening on a phone of 390 px without signal, with one kill; then the desk."""

import datetime as dt
import shutil
from collections.abc import Iterator
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import Page, Playwright, Position

from groutjobs.faults.browsing import FLAGS, BrowserPhone
from groutjobs.phone.shell import LATER, shell
from tests.browser.phonebook import Site, enrolled
from tests.browser.stage import PASSWORD
from tests.browser.test_phone_looks import CONTRAST, GAP_PX, NEAR, SMALL, TARGET_PX, TEXT_PX, TEXTS
from tests.browser.test_pour_without_signal import add_photo, pick, press_number
from tests.browser.visitor import DESK, OVER_PX, PHONE, Person, Visitor, shot

# What is scrolled out of the frame of the deck lies under other controls only in name.
APART = NEAR.replace("const across", 'if (one.closest(".deck") !== other.closest(".deck")) return;\n    const across')
KEPT = """async () => {
  const all = ["inspect.js", "inspectlevel.js", "inspectsound.js", "inspectbolts.js", "inspect.css"];
  const at = `/phone/app/files/${document.documentElement.dataset.build}/`;
  return (await Promise.all(all.map((name) => caches.match(at + name)))).every(Boolean);
}"""
LATER_BYTES = 20_000
DRAFT_KEPT_MS = 2_000
READINGS = ("0", "0.03", "-0.02", "0.02")
PADS = ("M1", "M2", "M3", "M4")
WEST_MM, NORTH_MM, PX_PER_MM, EDGE_PX = 300.0, 1800.0, 84 / 150, 60  # of the plate of the factory, as the deck is drawn
TAPPED_MM, TYPED_MM = (600.0, 1650.0), (2400.5, 900.0)


@pytest.fixture(scope="module")
def phone(driver: Playwright, site: Site) -> Iterator[BrowserPhone]:
    site.told["pour_id"] = site.ask("cured")["pour_id"]
    made = enrolled(driver, site, workers="allow")
    assert made.page
    made.page.wait_for_function(KEPT, timeout=60_000)  # the shell and the inspections are kept by its worker
    made.go_online(False)
    yield made
    made.close()


def place(site: Site, what: str = "") -> str:
    return f"#pour/{site.pour_id}/inspect/{what}".rstrip("/")


def open_page(phone: BrowserPhone, site: Site, what: str = "") -> Page:
    page = phone.open()
    page.goto("about:blank")
    page = phone.open(place(site, what))
    page.locator("#inspect-css").wait_for(state="attached")
    page.wait_for_timeout(300)
    return page


def can_be_used_with_gloves(page: Page, name: str) -> None:
    shot(page, f"inspections/{name}")
    assert page.locator("h1").count() == 1
    assert page.evaluate(OVER_PX) <= 0
    assert page.evaluate(SMALL, TARGET_PX) == []
    assert page.evaluate(APART, GAP_PX) == []
    texts: list[tuple[str, float, float]] = page.evaluate(TEXTS)
    assert [one for one in texts if one[1] < TEXT_PX] == []
    assert [one for one in texts if one[2] < CONTRAST] == []


def tool(page: Page, words: str) -> None:
    page.get_by_label("Instrument and serial number").fill(words)
    page.get_by_label("Its calibration is due on").fill("2199-01-31")


def tool_of_the_list(page: Page, words: str, standing: str) -> str:
    """Pick an instrument that the site has; returns the day that stands beside it."""
    page.get_by_role("radio", name=f"{words}, {standing}").check()
    assert page.get_by_label("Instrument and serial number").input_value() == words
    return page.get_by_label("Its calibration is due on").input_value()


def today(days: int) -> str:
    """So many days from today at the site of the stage."""
    return (dt.datetime.now(ZoneInfo("America/New_York")).date() + dt.timedelta(days=days)).isoformat()


def number(page: Page, label: str, text: str) -> None:
    press_number(page, label, text.removeprefix("-"))
    if text.startswith("-"):
        page.locator(".keypad:visible").get_by_role("button", name="change the sign").click()


def saved(page: Page) -> None:
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_role("heading", name="Inspections", exact=True).wait_for()


def level_with_a_kill(phone: BrowserPhone, site: Site) -> None:
    page = open_page(phone, site, "level")
    can_be_used_with_gloves(page, "level-empty")
    pick(page, "after the grout has cured")
    number(page, "Smallest step that the instrument shows", "0.005")
    for pad, text in list(zip(PADS, READINGS, strict=True))[:2]:
        number(page, f"Reading at {pad} (may be empty)", text)
    page.wait_for_timeout(DRAFT_KEPT_MS)
    phone.kill()
    page = open_page(phone, site, "level")
    page.get_by_text("What you had entered is still here.").wait_for()
    assert page.get_by_label("Reading at M2 (may be empty)").input_value() == "0.03"
    for pad, text in list(zip(PADS, READINGS, strict=True))[2:]:
        number(page, f"Reading at {pad} (may be empty)", text)
    tool(page, "master level no. 0417 (invented)")
    add_photo(page, "level on the pad")
    can_be_used_with_gloves(page, "level-filled")
    saved(page)
    page.get_by_text("4 points").wait_for()


def sounding(phone: BrowserPhone, site: Site) -> None:
    page = open_page(phone, site, "sounding")
    can_be_used_with_gloves(page, "sounding-grid")
    page.get_by_role("button", name="Start to tap").click()
    page.get_by_role("button", name="○ Hollow").click()
    for tap in ("A1.2", "A1.3", "A2.2"):
        page.get_by_role("button", name=f"{tap}, not tapped").click()
    page.get_by_role("button", name="Undo").click()
    page.get_by_role("button", name="A2.2, not tapped").wait_for()
    page.get_by_role("button", name="? Unsure").click()
    page.get_by_role("button", name="A2.1, not tapped").click()
    page.get_by_role("button", name="✓ Solid").click()
    can_be_used_with_gloves(page, "sounding-deck")
    free_spots(page)
    while page.get_by_role("button", name="Row ").count():
        page.get_by_role("button", name="Row ").first.click()
    page.get_by_text("Every place was tapped.").wait_for()
    shot(page, "inspections/sounding-done")
    page.get_by_role("button", name="Done").click()
    assert tool_of_the_list(page, "Light hammer no. H-3", "needs no calibration") == today(0)
    can_be_used_with_gloves(page, "sounding-end")
    saved(page)
    page.get_by_text("3 hollow").wait_for()


def free_spots(page: Page) -> None:
    """One tapped on the drawing, two refused, one by its measures with keys alone."""
    page.get_by_role("button", name="Free spot between").click()
    can_be_used_with_gloves(page, "sounding-free")
    page.get_by_role("button", name="○ Hollow").click()
    px: Position = {
        "x": EDGE_PX + (TAPPED_MM[0] - WEST_MM) * PX_PER_MM,
        "y": EDGE_PX + (NORTH_MM - TAPPED_MM[1]) * PX_PER_MM,
    }
    page.locator(".sheet").click(position=px)
    page.locator(".spot").wait_for()
    page.locator(".sheet").click(position=px)
    page.get_by_text("is at free spot 1; a free spot lies 20.0 mm or more beside it [GROUTJOBS].").wait_for()
    page.locator(".sheet").click(position={"x": 5, "y": 5})
    page.get_by_text("lies in no compartment; they go from").wait_for()
    page.get_by_role("button", name="? Unsure").click()
    page.get_by_text("Free spot by its measures").click()
    page.get_by_label("x, along the length of the block").fill(str(TYPED_MM[0]))
    page.get_by_label("y, along its width").fill("no number")
    page.get_by_role("button", name="Put the spot there").press("Enter")
    page.get_by_text("y, along its width “no number” is not a number").wait_for()
    page.get_by_label("y, along its width").fill(str(TYPED_MM[1]))
    can_be_used_with_gloves(page, "sounding-measures")
    page.get_by_role("button", name="Put the spot there").press("Enter")
    page.locator(".spot").nth(1).wait_for()
    shot(page, "inspections/sounding-spots")
    page.get_by_text("Free spot by its measures").click()
    page.get_by_role("button", name="Free spot:").click()
    page.get_by_role("button", name="✓ Solid").click()


def bolts(phone: BrowserPhone, site: Site) -> int:
    page = open_page(phone, site, "bolts")
    due_on = today(-35)
    assert tool_of_the_list(page, "Torque wrench no. 2291", f"calibration overdue since {due_on}") == due_on
    page.get_by_label("Instrument and serial number").fill("Torque wrench of a contractor")
    assert page.get_by_role("radio", name="Torque wrench no. 2291").is_checked() is False
    tool_of_the_list(page, "Torque wrench no. 2291", "calibration overdue")
    can_be_used_with_gloves(page, "bolts-tool")
    page.get_by_role("button", name="Start the first pass").click()
    count = 0
    for share in (1, 2, 3):
        page.get_by_role("heading", name=f"Pass {share} of 3").wait_for()
        if share == 1:
            can_be_used_with_gloves(page, "bolts-pass")
        while page.locator(".main-action button", has_text="done at").count():
            page.locator(".main-action button").click()
            count += 1
        page.locator(".main-action button").click()
    pick(page, "Made; no nut turned")
    can_be_used_with_gloves(page, "bolts-end")
    saved(page)
    can_be_used_with_gloves(page, "list")
    return count // 3


def look_at_the_desk(driver: Playwright, site: Site, rows: dict[str, Any]) -> None:
    engineer = site.told["people"]["engineer"]
    browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
    faults: list[str] = []
    for width in (DESK, PHONE):
        person = Person(engineer["name"], engineer["email"], "Engineer", PASSWORD)
        desk = Visitor(browser, site.url, person, width=width, at=dt.datetime.now(dt.UTC))
        desk.sign_in()
        desk.open(f"/pours/{site.pour_id}/inspections/")
        desk.sees("Not judged yet")
        for kind, row in rows.items():
            desk.open(f"/inspections/{row['id']}/")
            assert desk.page.locator(".picture svg").count() >= 1
            desk.shot(f"inspection-of-a-phone-{kind}-{width}")
        faults += desk.faults
    browser.close()
    assert faults == []


def test_what_comes_later_is_light_too_and_not_asked_for_by_the_first_screen() -> None:
    made = shell()
    later = [file for name, file in made.files.items() if name.startswith(LATER)]
    assert 5_000 < sum(len(file.packed.gzipped) for file in later) <= LATER_BYTES
    assert not any(name.startswith(LATER) for name in made.modules)


def test_three_inspections_without_signal_arrive_once_each(driver: Playwright, site: Site, phone: BrowserPhone) -> None:
    before = dt.datetime.now(dt.UTC)
    level_with_a_kill(phone, site)
    sounding(phone, site)
    bolt_count = bolts(phone, site)
    assert phone.page
    phone.page.get_by_text("Not sent yet: 3 - safe on this phone").wait_for()
    assert site.ask("inspections", str(site.pour_id)) == {}
    phone.go_online(True)
    phone.page.get_by_text("Sent - all 3 received").wait_for(timeout=60_000)
    rows = site.ask("inspections", str(site.pour_id))
    assert set(rows) == {"level", "sounding", "bolts"}
    assert {row["made_by"] for row in rows.values()} == {"lead@a.test"}
    assert {row["verdict"] for row in rows.values()} == {"open"}
    # the server of these tests runs on a clock of its own, some seconds off
    assert all(before - dt.timedelta(minutes=5) < dt.datetime.fromisoformat(row["entered_at"]) for row in rows.values())
    assert [point["reading_mm"] for point in rows["level"]["inputs"]["points"]] == [0.0, 0.03, -0.02, 0.02]
    assert rows["level"]["photos"] == 1
    result = rows["sounding"]["result"]
    assert (result["hollow_count"], result["unsure_count"], result["not_reached"]) == (3, 2, [])
    spots = {tap["name"]: tap for tap in rows["sounding"]["inputs"]["taps"] if tap["name"].startswith("free")}
    assert [(name, spot["sound"]) for name, spot in spots.items()] == [("free 1", "hollow"), ("free 2", "unsure")]
    assert (spots["free 1"]["x_mm"], spots["free 1"]["y_mm"]) == pytest.approx(TAPPED_MM, abs=2)  # a pixel is 1.8 mm
    assert (spots["free 2"]["x_mm"], spots["free 2"]["y_mm"]) == TYPED_MM
    assert (rows["bolts"]["inputs"]["passes"], rows["bolts"]["inputs"]["in_order"]) == (3, True)
    assert len(rows["bolts"]["result"]["bolts"]) == bolt_count
    look_at_the_desk(driver, site, rows)
