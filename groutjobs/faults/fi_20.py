"""FI-20: no room left on the phone, and a store whose connection has died [GROUTJOBS]."""

# ruff: noqa: E501  lines of JavaScript in strings

import contextlib
from collections.abc import Iterator
from typing import Any

from playwright.sync_api import Error as PlaywrightError
from playwright.sync_api import Playwright

from groutjobs.faults.bench import Bench, Outcome, Server
from groutjobs.faults.browsing import BrowserPhone, Mutant, join, phones, send_all, write

TITLE = "Phone full, dead IndexedDB"
ROOM_BYTES = 14 * 1024 * 1024
NO_BALLAST = Mutant("ballast.js", '  if (await get("meta", KEY)) return true;', "  return false;")
NEVER_OPENS_AGAIN = Mutant("store.js", "      drop(opened);\n", "      throw new StoreDead(error);\n")
# Photos of noise, large ones until they are refused, then smaller ones, down to a few hundred bytes.
FILL = """
const photos = await load("photos.js");
const picture = async (side) => {
  const canvas = new OffscreenCanvas(side, side);
  const pen = canvas.getContext("2d");
  const noise = pen.createImageData(side, side);
  for (let at = 0; at < noise.data.length; at += 65536) crypto.getRandomValues(noise.data.subarray(at, Math.min(at + 65536, noise.data.length)));
  pen.putImageData(noise, 0, 0);
  return canvas.convertToBlob({ type: "image/jpeg", quality: 0.95 });
};
let kept = 0;
const said = [];
for (const side of [1200, 300, 60, 8, 8, 8]) {
  for (let turn = 0; turn < 60; turn += 1) {
    try { await photos.keep(await picture(side)); kept += 1; } catch (error) { said.push(error.message); break; }
  }
}
return { kept, said };
"""
# Every connection that is open now is dead for whoever uses it next; one that is opened later is well.
KILL_OPEN = """
const born = new WeakSet();
const [open, transaction] = globalThis.whole ??= [IDBFactory.prototype.open, IDBDatabase.prototype.transaction];
IDBFactory.prototype.open = function (...all) {
  const asked = open.apply(this, all);
  asked.addEventListener("success", () => born.add(asked.result));
  return asked;
};
IDBDatabase.prototype.transaction = function (...all) {
  if (!born.has(this)) throw new DOMException("The database connection is closing.", "InvalidStateError");
  return transaction.apply(this, all);
};
"""
KILL_FOR_GOOD = """
IDBDatabase.prototype.transaction = function () { throw new DOMException("closing", "InvalidStateError"); };
IDBFactory.prototype.open = function () { throw new DOMException("gone", "UnknownError"); };
"""


def run(bench: Bench) -> Iterator[Outcome]:
    with bench.server(workers=1) as server, phones() as driver:
        yield _full(bench, server, driver, None)
        yield _full(bench, server, driver, NO_BALLAST)
        yield _dead(bench, server, driver, None)
        yield _dead(bench, server, driver, NEVER_OPENS_AGAIN)
        yield _stopped(bench, server, driver)


def _full(bench: Bench, server: Server, driver: Playwright, mutant: Mutant | None) -> Outcome:
    """Photos until they are refused; after that, words must still be saved and sent."""
    phone = BrowserPhone(driver, server.url, mutant)
    try:
        _set_room(phone)
        join(phone, bench.scene.devices[0])
        phone.is_online = False
        phone.run('await (await load("ballast.js")).load();')
        filled = phone.run(FILL)
        texts, error = [], ""
        try:
            texts = [
                write(phone, bench.scene.pour_id, "note", {"text": f"{n} " + "x" * 900})["op_id"] for n in range(20)
            ]
        except Exception as problem:
            error = str(problem).splitlines()[0][:120]
        phone.is_online = True
        sent = send_all(phone) if texts else {"rows": [], "error": error}
    finally:
        phone.close()
    states = {row[0]: row[1] for row in sent["rows"]}
    lost = sum(states.get(one) not in {"sent", "safe"} for one in texts)
    return Outcome(
        what=f"quota {ROOM_BYTES // 1024 // 1024} MB, {filled['kept']} photos fitted", twin=mutant is not None,
        acked=len(texts), rows=len(states), lost=lost, passed=len(texts) == 20 and not lost and bool(filled["said"]),
        note=error or " ".join(filled["said"][:1])[:80],
    )  # fmt: skip


def _set_room(phone: BrowserPhone) -> None:
    """Before the page opens: Chromium remembers for a while how much room there was."""
    page = phone.start()
    page.goto(f"{phone.url}/phone/app.webmanifest")
    wire = page.context.new_cdp_session(page)
    wire.send("Storage.overrideQuotaForOrigin", {"origin": phone.url, "quotaSize": ROOM_BYTES})


def _dead(bench: Bench, server: Server, driver: Playwright, mutant: Mutant | None) -> Outcome:
    """The connection dies once, as in a browser that was in the background; the next save opens it again."""
    phone = BrowserPhone(driver, server.url, mutant)
    texts, error = [], ""
    sent: dict[str, Any] = {"rows": []}
    try:
        join(phone, bench.scene.devices[1])
        for number in range(5):
            phone.run(KILL_OPEN)
            try:
                texts.append(write(phone, bench.scene.pour_id, "note", {"text": f"after death {number}"})["op_id"])
            except Exception as problem:
                error = str(problem).splitlines()[0][:120]
        with contextlib.suppress(PlaywrightError):  # a phone that cannot open its store cannot send from it
            sent = send_all(phone)
    finally:
        phone.close()
    states = {row[0]: row[1] for row in sent["rows"]}
    lost = sum(states.get(one) not in {"sent", "safe"} for one in texts)
    return Outcome(
        what="connection died before 5 saves", twin=mutant is not None, acked=len(texts), rows=len(states), lost=lost,
        passed=len(texts) == 5 and not lost, note=error,
    )  # fmt: skip


def _stopped(bench: Bench, server: Server, driver: Playwright) -> Outcome:
    """The store is gone for good: the whole screen says so, with what was typed on it, and nothing claims to be saved."""
    phone = BrowserPhone(driver, server.url)
    try:
        join(phone, bench.scene.devices[1])
        page = phone.open(f"#pour/{bench.scene.pour_id}/enter/note?")
        page.get_by_label("Note").fill("vent 3 bleeds, sealed with putty")
        phone.run(KILL_FOR_GOOD)
        page.get_by_role("button", name="Save", exact=True).click()
        stop = page.get_by_role("alertdialog", name="This phone cannot save")
        stop.wait_for()
        words = stop.inner_text()
        claims = page.locator("#work").inner_text()
    finally:
        phone.close()
    passed = (
        "vent 3 bleeds, sealed with putty" in words and "NOT saved" in words and "Saved on this phone" not in claims
    )
    return Outcome(what="the store is dead for good: stop screen with the values", passed=passed, note=words[:60])
