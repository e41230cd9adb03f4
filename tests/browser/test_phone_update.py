"""A second build of the whole program is put in place while an entry waits on a phone; the entry outlives it.

The second build is a copy of the tree with a changed screen, served by a second server on the same database and port.
"""

# ruff: noqa: E501  lines of JavaScript in strings

import datetime as dt
import shutil
from pathlib import Path

from playwright.sync_api import Page, Playwright

from tests.browser.phonebook import Site, enrolled
from tests.browser.server import ROOT

BUILD = "document.documentElement.dataset.build"
OLD_WORDS, NEW_WORDS = "What waits on this phone", "What is still waiting on this phone"
HOLD_BACK = "const real = fetch; globalThis.fetch = (place, more) => (String(place).includes('/sync/v1/ops') ? Promise.reject(new TypeError('held back')) : real(place, more)); null"
WAITING = "async () => { const made = await navigator.serviceWorker.getRegistration(); await made.update(); return Boolean(made.waiting); }"


def second_build(folder: Path) -> Path:
    """The tree as it is, with other words on the first screen."""
    for name in ("groutjobs", "static", "templates", "tests"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__", "axe-core*"))
    screens = folder / "static" / "phone" / "app" / "otherscreens.js"
    text = screens.read_text(encoding="utf-8")
    assert text.count(OLD_WORDS) == 1
    screens.write_text(text.replace(OLD_WORDS, NEW_WORDS), encoding="utf-8")
    return folder


def save_note(page: Page, site: Site, words: str) -> None:
    page.goto(f"{site.url}/phone/app/#pour/{site.pour_id}/enter/note?")
    page.get_by_label("Note", exact=True).fill(words)
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text("Saved on this phone:").wait_for()


def test_an_entry_that_waits_outlives_a_new_build(driver: Playwright, site: Site, tmp_path: Path) -> None:
    phone = enrolled(driver, site, workers="allow")
    page = phone.page
    assert page
    page.wait_for_timeout(2_000)  # the shell is being kept by its worker
    page.reload()
    old = page.evaluate(BUILD)
    phone.go_online(False)
    save_note(page, site, "typed on the old build")
    site.server.root = second_build(tmp_path)
    site.server.set_clock(dt.datetime.now(dt.UTC))

    # the new build comes, and waits: an entry is still here
    page.evaluate(HOLD_BACK)
    phone.go_online(True)
    page.wait_for_function(WAITING, polling=500)
    page.goto(f"{site.url}/phone/app/#waiting")
    page.get_by_text("A new version of this page is here. Entries still wait to be sent. It can wait.").wait_for()
    assert page.get_by_role("button", name="Take the new version").count() == 0

    # opened anew it is still the old one, whole; the new server takes what the old build wrote
    page.evaluate("() => { location.hash = ''; }")
    page.reload()
    page.get_by_text(OLD_WORDS).wait_for()
    assert page.evaluate(BUILD) == old
    page.get_by_text("Sent - all 1 received").wait_for()
    facts = site.facts()
    ids = phone.run(
        'return (await (await load("outbox.js")).rows()).map((row) => [row.op_id, JSON.parse(row.text).build]);'
    )
    assert [[one, old] for one in facts["ops"]] == ids
    assert facts["entries"] == facts["ops"]

    # nothing waits and no pour goes on: at a tap the new build takes over, with all that was kept
    page.evaluate("() => { location.hash = '#waiting'; }")
    page.get_by_role("button", name="Take the new version").click()
    page.wait_for_function(f"old => {BUILD} !== old", arg=old)
    page.goto(f"{site.url}/phone/app/#")
    page.get_by_text(NEW_WORDS).wait_for()
    assert phone.run('return (await (await load("outbox.js")).rows()).map((row) => row.op_id);') == facts["ops"]
    save_note(page, site, "typed on the new build")
    page.get_by_text("Sent - all 2 received").wait_for()
    assert len(site.facts()["entries"]) == 2
    phone.close()
