"""Real phones' browsers under faults: headless Chromium with a profile that survives, killed without warning.

A mutant is the same page with one piece of one module replaced on its way; the run fails at once where that piece is
not there, so that a mutant can never be an unchanged build.
"""

# ruff: noqa: E501  lines of JavaScript in strings

import base64
import contextlib
import os
import shutil
import signal
import tempfile
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from playwright.sync_api import BrowserContext, Error, Page, Playwright, Route, sync_playwright

from groutjobs.faults.bench import BenchDevice

FLAGS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-sync"]
STEP_MS = 20_000
SIZE = {"width": 390, "height": 844}


@dataclass(frozen=True)
class Mutant:
    """One planted fault: in this module, this text becomes that text."""

    module: str
    old: str
    new: str


@dataclass
class BrowserPhone:
    """One phone: a profile on disk, and a browser that is started and killed upon it."""

    driver: Playwright
    url: str
    mutant: Mutant | None = None
    folder: Path = field(default_factory=lambda: Path(tempfile.mkdtemp(prefix="groutjobs-phone-")))
    is_online: bool = True
    only_marked: bool = False
    workers: str = "block"
    planted: int = 0
    context: BrowserContext | None = None
    page: Page | None = None
    cookies: list[Any] = field(default_factory=list)

    def start(self) -> Page:
        program = shutil.which("chromium")
        if program is None:
            raise RuntimeError("chromium is not installed; on Debian: apt-get install chromium")
        self.context = self.driver.chromium.launch_persistent_context(
            str(self.folder), executable_path=program, args=FLAGS, viewport=SIZE,  # type: ignore[arg-type]
            service_workers=self.workers,  # type: ignore[arg-type]
        )  # fmt: skip
        self.context.set_default_timeout(STEP_MS)
        # Chromium writes cookies down only every half minute; the phone was enrolled long before it is killed.
        if self.cookies:
            self.context.add_cookies(self.cookies)
        if self.workers != "block":
            self.context.set_offline(not self.is_online)
        else:
            self.context.route("**/sync/v1/**", self._wire)
        if self.mutant:
            self.context.route(f"**/{self.mutant.module}", self._plant)
        self.page = self.context.new_page()
        return self.page

    def open(self, place: str = "") -> Page:
        page = self.page or self.start()
        page.goto(f"{self.url}/phone/app/{place}")
        page.locator("#work h1").wait_for()
        page.locator("#status").filter(has_not_text="Opening").wait_for()
        return page

    def _wire(self, route: Route) -> None:
        is_held_back = self.only_marked and route.request.method != "GET" and "x-by-hand" not in route.request.headers
        if self.is_online and not is_held_back:
            _let_go(route)
        else:
            route.abort("internetdisconnected")

    def _plant(self, route: Route) -> None:
        if self.mutant is None:
            route.continue_()
            return
        response = route.fetch()
        text = response.text()
        if self.mutant.old not in text:
            raise RuntimeError(f"{self.mutant.module} does not hold what the mutant replaces")
        self.planted += 1
        route.fulfill(response=response, body=text.replace(self.mutant.old, self.mutant.new))

    def run(self, body: str, given: Any = None) -> Any:
        """Run this in the page; `load("x.js")` gives a module of the page as it is loaded there."""
        if self.page is None:
            raise RuntimeError("the browser is not running")
        head = "const load = (name) => import(`/phone/app/files/${document.documentElement.dataset.build}/${name}`);"
        return self.page.evaluate(f"async (given) => {{ {head} {body} }}", given)

    def go_online(self, is_online: bool) -> None:
        self.is_online = is_online
        if self.context and self.workers != "block":
            self.context.set_offline(not is_online)

    def keep_cookies(self) -> None:
        """Remember the cookies that the page has got, for the next start."""
        if self.context:
            self.cookies = [one for one in self.context.cookies() if one["expires"] > 0]

    def pids(self) -> list[int]:
        """All processes of this profile's browser."""
        found = []
        for path in Path("/proc").glob("[0-9]*/cmdline"):
            with contextlib.suppress(OSError):
                if str(self.folder).encode() in path.read_bytes():
                    found.append(int(path.parent.name))
        return found

    def kill(self, pids: list[int] | None = None) -> None:
        """End all of them at once with SIGKILL."""
        for pid in self.pids() if pids is None else pids:
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        with contextlib.suppress(Exception):
            if self.context:
                self.context.close()
        self.context = self.page = None
        until = time.monotonic() + 10
        while self.pids() and time.monotonic() < until:
            time.sleep(0.05)
        for name in ("SingletonLock", "SingletonCookie", "SingletonSocket"):
            (self.folder / name).unlink(missing_ok=True)

    def close(self) -> None:
        with contextlib.suppress(Exception):
            if self.context:
                self.context.close()
        self.context = self.page = None
        shutil.rmtree(self.folder, ignore_errors=True)


@contextlib.contextmanager
def phones() -> Iterator[Playwright]:
    with sync_playwright() as driver:
        yield driver


JOIN = """
const [store, keys, wire, sender] = await Promise.all(["store.js", "keys.js", "wire.js", "sender.js"].map(load));
const answer = await wire.hello({});
await store.setMeta("device", answer.data.device);
await store.setMeta("seq", Math.max(answer.data.device.highest_seq, await store.meta("seq", 0)));
await keys.keep(given);
await sender.round();
return answer.data.device.id;
"""


def join(phone: BrowserPhone, device: BenchDevice, number: int = 0) -> None:
    """Make the browser this enrolled phone, with one of its people writing."""
    host = urlsplit(phone.url).hostname or ""
    name, value = device.cookie
    phone.cookies = [
        {"name": name, "value": value, "domain": host, "path": "/", "httpOnly": True, "sameSite": "Strict",
         "expires": time.time() + 86400 * 90}
    ]  # fmt: skip
    if phone.context is None:
        phone.start()
    else:
        phone.context.add_cookies(phone.cookies)
    phone.open()
    phone.run(JOIN, key_told(device.people[number]))
    phone.open()


def key_told(person: Mapping[str, Any]) -> dict[str, Any]:
    """A shift key as /sync/v1/shift-keys answers it."""
    key = base64.urlsafe_b64encode(bytes.fromhex(person["key"])).decode().rstrip("=")
    return {
        "key_id": person["key_id"],
        "author_id": person["author_id"],
        "name": person["name"],
        "ends_at": person.get("ends_at", "2099-01-01T00:00:00Z"),
        "key": key,
    }


WRITE = """
const [write, model] = await Promise.all(["write.js", "model.js"].map(load));
const pour = await model.pour(given.pour);
const row = await write.write({ op_id: given.id ?? write.newId(), pour, kind: given.kind, body: given.body });
return { op_id: row.op_id, seq: row.seq, sha256: row.sha256 };
"""


def write(phone: BrowserPhone, pour: int, kind: str, body: Mapping[str, Any]) -> dict[str, Any]:
    made: dict[str, Any] = phone.run(WRITE, {"pour": pour, "kind": kind, "body": dict(body)})
    return made


SEND = """
const [sender, outbox] = await Promise.all(["sender.js", "outbox.js"].map(load));
for (let turn = 0; turn < 20 && ((await outbox.waiting()).length || (await outbox.blobsWaiting()).length); turn += 1) {
  await navigator.locks.request("groutjobs-test-turn", () => sender.round()).catch((error) => { given.error = String(error); });
  await new Promise((done) => setTimeout(done, 200));
}
const rows = await outbox.rows();
return { rows: rows.map((row) => [row.op_id, row.state, row.seq]), error: given.error ?? "" };
"""


def send_all(phone: BrowserPhone) -> dict[str, Any]:
    """Send until nothing waits; returns what the store says then."""
    said: dict[str, Any] = phone.run(SEND, {})
    return said


def _let_go(route: Route) -> None:
    """Let a call go out; one that a test has answered meanwhile is over already."""
    try:
        route.continue_()
    except Error as error:
        if "already handled" not in str(error):
            raise
