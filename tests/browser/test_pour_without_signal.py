"""A whole pour, logged on one phone that never has signal: its browser is killed twice, a day passes, then all arrives.

The desk is asked through its own page and through the database, not through the phone.
"""

import datetime as dt
import re
import shutil

from playwright.sync_api import Page, Playwright

from groutjobs.faults.browsing import FLAGS, BrowserPhone
from tests.browser.phonebook import Site, enrolled, status
from tests.browser.pouring import photo
from tests.browser.stage import PASSWORD
from tests.browser.visitor import DESK, Person, Visitor, shot

MOST_STEPS = 40
BATCH_L = "60"
DRAFT_KEPT_MS = 2_000
A_DAY = dt.timedelta(hours=26)


def press_number(page: Page, label: str, text: str) -> None:
    field = page.get_by_label(label, exact=True)
    field.click()
    pad = page.locator(".keypad:visible")
    pad.get_by_role("button", name="Clear").click()
    for key in text:
        pad.get_by_role("button", name="point" if key == "." else key, exact=True).click()
    assert field.input_value() == text


def press_on_purpose(page: Page) -> None:
    """The button at the foot; one that asks to be held is held for more than a second and let go."""
    button = page.locator(".main-action button")
    if "Hold for a second" not in button.inner_text():
        button.click()
        return
    button.hover()
    page.mouse.down()
    page.get_by_text("Now let go").wait_for()
    page.mouse.up()


def save(page: Page) -> None:
    press_on_purpose(page)
    page.get_by_text("Saved on this phone:").wait_for()


def pick(page: Page, words: str) -> None:
    page.get_by_role("radio", name=words, exact=True).check()


def add_photo(page: Page, words: str) -> None:
    page.locator("#photo").set_input_files(photo(words))
    page.get_by_text("1 photo is saved on this phone.").wait_for()


def take_step(page: Page, words: str) -> None:
    """What the main action asks for."""
    page.locator(".main-action a").click()
    page.locator(".main-action button").wait_for()
    if words.startswith("Answer hold point"):
        pick(page, "Accepted")
        pick(page, "Engineer Quillfeather")
        add_photo(page, "level on the plate")
    elif words.endswith("aggregate in"):
        press_number(page, "Bags in the mixer", "4")
    elif words.endswith("wetted out"):
        press_number(page, "Temperature of the mixed grout", "22.4")
    elif words.endswith("placed"):
        press_number(page, "Volume placed", BATCH_L)
    save(page)


def pour_until(page: Page, last: str) -> int:
    """Do what is asked for until it is this; returns how many entries were made."""
    for count in range(MOST_STEPS):
        words = page.locator(".main-action a").inner_text()
        if words == last:
            return count
        take_step(page, words)
    raise AssertionError("the pour does not end")


def leak_and_closing(page: Page) -> int:
    page.get_by_role("link", name="Leak", exact=True).click()
    pick(page, "A")
    page.get_by_label("Where it leaks").fill("foot of the form, north side")
    add_photo(page, "leak at the foot of the form")
    save(page)
    page.get_by_role("link", name="Leak closed", exact=True).click()
    page.get_by_label("How it was closed").fill("rags and putty packed")
    save(page)
    return 2


def killed(phone: BrowserPhone, site: Site) -> Page:
    """The browser is killed and opened again on the same pour, still without signal."""
    phone.kill()
    return phone.open(f"#pour/{site.pour_id}")


def a_reading_that_is_taken_back(page: Page) -> int:
    page.get_by_role("link", name="Reading", exact=True).click()
    pick(page, "Plate")
    press_number(page, "Temperature", "21.5")
    save(page)
    page.get_by_text("Saved on this phone: Reading, temperature 21.5 °C = 70.7 °F.").wait_for()
    page.get_by_role("button", name="Undo this entry").click()
    page.get_by_text("Saved on this phone: Taken back.").wait_for()
    return 2


def type_and_die(phone: BrowserPhone, page: Page, site: Site) -> Page:
    """The browser dies while a sample is being typed; what was typed is there afterwards."""
    page.locator(".main-action a", has_text="Enter a sample").click()
    page.get_by_label("Where it cures").fill("beside the plate, under the tarp")
    page.wait_for_timeout(DRAFT_KEPT_MS)
    page = killed(phone, site)
    page.locator(".main-action a", has_text="Enter a sample").click()
    page.get_by_text("What you had typed is still here.").wait_for()
    field = page.get_by_label("Where it cures")
    assert re.match("beside the plate, under the tarp", field.input_value())
    save(page)
    return page


def declare(page: Page) -> int:
    page.locator(".main-action a", has_text="Check and finish").click()
    page.get_by_role("heading", name="Check and finish").wait_for()
    shot(page, "phone-check-and-finish")
    page.get_by_role("checkbox", name="I have read this, and it is right").check()
    page.get_by_role("button", name="Declare the pour complete").wait_for()
    press_on_purpose(page)
    page.get_by_text("Record complete").first.wait_for()
    return 1


def look_at_the_desk(driver: Playwright, site: Site, at: dt.datetime) -> None:
    lead = site.told["people"]["lead"]
    browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
    desk = Visitor(browser, site.url, Person(lead["name"], lead["email"], "Crew lead", PASSWORD), width=DESK, at=at)
    desk.sign_in()
    desk.open(f"/pours/{site.pour_id}/")
    for words in ("Record complete", "rags and putty packed", "beside the plate, under the tarp"):
        desk.sees(words)
    desk.shot("pour-at-the-desk-after-the-phone")
    faults = desk.faults
    browser.close()
    assert faults == []


def test_a_whole_pour_without_signal_arrives_complete(driver: Playwright, site: Site) -> None:
    phone = enrolled(driver, site, workers="allow")
    page = phone.page
    assert page
    page.wait_for_timeout(1_500)  # the shell is being kept by its worker
    phone.go_online(False)
    page.goto(f"{site.url}/phone/app/#pour/{site.pour_id}")
    made = pour_until(page, "Batch 2 placed")
    made += leak_and_closing(page)
    page = killed(phone, site)
    assert re.fullmatch(rf"Not sent yet: {made} - safe on this phone", status(page))
    made += a_reading_that_is_taken_back(page)
    made += pour_until(page, "Enter a sample")
    page = type_and_die(phone, page, site)
    made += 1 + declare(page)
    shot(page, "phone-complete-without-signal")
    phone.kill()
    later = dt.datetime.now(dt.UTC) + A_DAY
    phone.start().context.clock.install(time=later)
    page = phone.open("#waiting")
    page.get_by_text("Entries have waited for more than a day.").wait_for()
    site.server.set_clock(later)
    phone.go_online(True)
    page.get_by_text(f"Sent - all {made} received").wait_for(timeout=60_000)
    ids = phone.run('return (await (await load("outbox.js")).rows()).map((row) => row.op_id);')
    phone.close()
    facts = site.facts()
    assert len(ids) == made
    assert sorted(facts["entries"]) == sorted(ids)
    assert sorted(facts["ops"]) == sorted(ids)
    assert (facts["state"], facts["missing_blobs"], len(facts["blobs"])) == ("settled", [], 2)

    assert facts["photos"] == 2
    look_at_the_desk(driver, site, later)
