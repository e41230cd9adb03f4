"""A phone whose cookie is gone comes back by its key; a revoked one does not, and keeps what it holds. Paper and photos."""

# ruff: noqa: E501  lines of JavaScript in strings

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, Playwright

from groutjobs.faults.browsing import BrowserPhone
from tests.browser.phonebook import Site, enrolled, sign_in
from tests.browser.pouring import photo

ROWS = 'return (await (await load("outbox.js")).rows()).sort((a, b) => a.seq - b.seq).map((row) => [row.op_id, row.state]);'


def save_note(page: Page, site: Site, words: str) -> None:
    page.evaluate("place => { location.hash = place; }", f"#pour/{site.pour_id}/enter/note?{words.replace(' ', '')}")
    page.get_by_label("Note", exact=True).fill(words)
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text("Saved on this phone:").wait_for()


def test_a_phone_killed_right_after_joining_still_belongs_to_the_site(driver: Playwright, site: Site) -> None:
    phone = BrowserPhone(driver, site.url)
    page = phone.open()
    page.get_by_label("Code from the desk").fill(site.code())
    page.get_by_role("button", name="Join", exact=True).click()
    sign_in(page, site.told["people"]["lead"])
    page.get_by_role("link", name="P-101 pour 1").wait_for()
    phone.kill()
    page = phone.start()
    page.context.clear_cookies()  # whether the browser had written it down in time or not
    phone.open(f"#pour/{site.pour_id}")
    save_note(page, site, "after the kill")
    page.get_by_text(re.compile("^Sent - all")).wait_for()
    (op_id, state), *_ = phone.run(ROWS)
    assert state in {"sent", "safe"}
    assert op_id in site.facts()["entries"]
    assert [one["name"] for one in page.context.cookies()] == ["device"]
    phone.close()


def test_the_key_of_a_phone_cannot_be_read_out(driver: Playwright, site: Site) -> None:
    phone = enrolled(driver, site)
    said = phone.run(
        """const proof = await (await load("store.js")).meta("proof");
        const tries = ["pkcs8", "jwk"].map((form) => crypto.subtle.exportKey(form, proof.key).then(() => "read", (error) => error.name));
        return [proof.key.extractable, ...(await Promise.all(tries))];"""
    )
    assert said == [False, "InvalidAccessError", "InvalidAccessError"]
    phone.close()


def test_a_revoked_phone_gets_no_cookie_and_keeps_what_it_holds(driver: Playwright, site: Site) -> None:
    phone = enrolled(driver, site)
    page = phone.page
    assert page
    phone.is_online = False
    save_note(page, site, "before it was lost")
    site.ask("revoke")
    page.context.clear_cookies()
    phone.is_online = True
    phone.run('(await load("sender.js")).nudge();')
    page.get_by_text("The server does not know this phone any more.").wait_for()
    assert page.context.cookies() == []
    assert [state for _, state in phone.run(ROWS)] == ["saved"]
    page.get_by_text("Not sent yet: 1 - safe on this phone").wait_for()  # once “Saved on this phone” has run out
    phone.close()


@pytest.fixture(scope="module")
def phone(driver: Playwright, site: Site) -> Iterator[BrowserPhone]:
    made = enrolled(driver, site)
    yield made
    made.close()


def form(phone: BrowserPhone, site: Site, kind: str, about: str) -> Page:
    page = phone.page
    assert page
    page.evaluate("place => { location.hash = place; }", f"#pour/{site.pour_id}/enter/{kind}?{about}")
    page.locator("#entry").wait_for()
    return page


def test_an_entry_from_paper_needs_its_time_and_a_photo_of_the_sheet(phone: BrowserPhone, site: Site) -> None:
    page = form(phone, site, "stopped", "paper=1")
    assert page.locator("#photo").is_hidden()
    page.get_by_label("Why work stopped").fill("rain over the form")
    page.get_by_text("It happened earlier, or stands on paper").click()
    page.get_by_label(re.compile("^Transcribed from paper")).check()
    page.locator("#photo").wait_for()
    page.get_by_role("button", name="Save", exact=True).click()
    for words in ("Photo of the paper sheet is missing", "When it happened is empty"):
        page.get_by_text(words).wait_for()
    page.locator("#happened").fill("2026-04-30T09:05")
    page.locator("#photo").set_input_files(photo("paper sheet"))
    page.get_by_text("1 photo is saved on this phone.").wait_for()
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text("Saved on this phone:").wait_for()
    again = form(phone, site, "resumed", "paper=2")
    again.get_by_text("It happened earlier, or stands on paper").click()
    again.get_by_label(re.compile("^Transcribed from paper")).check()
    again.get_by_alt_text("Photo 1 is kept").wait_for()
    page.evaluate("place => { location.hash = place; }", f"#pour/{site.pour_id}/entries")
    page.get_by_text("Transcribed from paper").wait_for()


def test_a_photo_of_another_phone_is_seen_small_when_there_is_a_connection(
    phone: BrowserPhone, driver: Playwright, site: Site
) -> None:
    page = form(phone, site, "leak", "photo=1")
    page.get_by_role("radio", name="A", exact=True).check()
    page.get_by_label("Where it leaks").fill("foot of the form")
    page.locator("#photo").set_input_files(photo("leak"))
    page.get_by_text("1 photo is saved on this phone.").wait_for()
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text(re.compile("^Sent - all")).wait_for()
    other = enrolled(driver, site, "crew")
    looking = other.open(f"#pour/{site.pour_id}/entries")
    seen = looking.get_by_role("article").filter(has_text="foot of the form")
    seen.get_by_alt_text("Photo 1, taken on another phone").wait_for()
    other.is_online = False
    looking = other.open(f"#pour/{site.pour_id}/entries")
    seen.get_by_alt_text("Photo 1, taken on another phone").wait_for()
    other.run('await caches.delete("groutjobs-small-photos");')
    looking.reload()
    looking.get_by_text("There is no connection to fetch it now.").first.wait_for()
    assert seen.get_by_alt_text("Photo 1, taken on another phone").count() == 0
    other.close()
