"""How quick and how light the phone's pages are, in headless Chromium with a slow line and a slow processor.

Measured: largest contentful paint, layout shift and bytes of a first visit and of later ones; and the time from a tap on
“Save” to the moment at which “Saved on this phone” has been painted, after the strict commit and the reading back.
Bytes are counted on a relay before the server, so that those of the service worker count too. [GROUTJOBS] sets the goals.
"""

# ruff: noqa: E501  lines of JavaScript in strings

import contextlib
import io
import math
import socket
import statistics
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from PIL import Image
from playwright.sync_api import CDPSession, Page, Playwright

from groutjobs.faults.bench import Bench, Server
from groutjobs.faults.browsing import BrowserPhone, join, phones, write

LINE = {"offline": False, "latency": 400, "downloadThroughput": 400_000 / 8, "uploadThroughput": 400_000 / 8}
KNOWN_ENTRIES = 60
SETTLED_MS = 4_000
WATCH = """
globalThis.seen = { lcp: 0, what: "", shift: 0, drawn: 0 };
new MutationObserver((list, self) => { if (!document.body?.matches(".drawn")) return; self.disconnect(); requestAnimationFrame(() => { seen.drawn = performance.now(); }); }).observe(document, { subtree: true, childList: true, attributes: true });
new PerformanceObserver((list) => { for (const one of list.getEntries()) { seen.lcp = one.startTime; seen.what = one.element?.tagName ?? ""; } }).observe({ type: "largest-contentful-paint", buffered: true });
new PerformanceObserver((list) => { for (const one of list.getEntries()) if (!one.hadRecentInput) seen.shift += one.value; }).observe({ type: "layout-shift", buffered: true });
"""
# From the event that began it to the frame after the words were put on the page.
TIMED = """
globalThis.words = (kind, place, pattern) => new Promise((done, fail) => {
  let from = null;
  setTimeout(() => fail(new Error(`${pattern} did not come; ${from === null ? "no" : "a"} ${kind}; ${document.body.innerText.slice(0, 400)}`)), 15000);
  addEventListener(kind, (event) => { from ??= event.timeStamp; }, { capture: true, once: true });
  const look = () => {
    if (from === null || !new RegExp(pattern).test(document.querySelector(place)?.textContent ?? "")) return;
    watcher.disconnect();
    requestAnimationFrame(() => { const way = new MessageChannel(); way.port1.onmessage = () => done(performance.now() - from); way.port2.postMessage(0); });
  };
  const watcher = new MutationObserver(look);
  watcher.observe(document.body, { subtree: true, childList: true, characterData: true });
});
"""


@dataclass(frozen=True)
class Measured:
    """One figure with its goal; `is_held` where it is within."""

    what: str
    value: float
    goal: float
    unit: str
    note: str = ""

    @property
    def is_held(self) -> bool:
        return self.value <= self.goal


@dataclass
class Counter:
    """A relay on loopback that counts what the server sends; one direction is what a phone pays for."""

    to_port: int
    passed: int = 0
    listener: socket.socket = field(default_factory=lambda: socket.create_server(("127.0.0.1", 0)))

    def __post_init__(self) -> None:
        threading.Thread(target=self._accept, daemon=True).start()

    @property
    def url(self) -> str:
        return f"http://localhost:{self.listener.getsockname()[1]}"

    def take(self) -> int:
        """Bytes since the last asking."""
        found, self.passed = self.passed, 0
        return found

    def _accept(self) -> None:
        while True:
            try:
                near, _ = self.listener.accept()
            except OSError:
                return
            threading.Thread(target=self._relay, args=(near,), daemon=True).start()

    def _relay(self, near: socket.socket) -> None:
        with (
            near,
            contextlib.suppress(OSError),
            socket.create_connection(("127.0.0.1", self.to_port), timeout=60) as far,
        ):
            forth = threading.Thread(target=self._pump, args=(near, far, False), daemon=True)
            forth.start()
            self._pump(far, near, True)
            forth.join(timeout=60)

    def _pump(self, source: socket.socket, goal: socket.socket, counts: bool) -> None:
        with contextlib.suppress(OSError):
            while content := source.recv(65536):
                self.passed += len(content) if counts else 0
                goal.sendall(content)
        for end in (source, goal):
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)


def measure(bench: Bench, runs: int) -> Iterator[Measured]:
    """All figures, each as soon as it is known."""
    with bench.server(workers=2) as server, phones() as driver:
        yield from _visits(bench, server, driver)
        for slow in (1, 4):
            yield from _saves(bench, server, driver, slow, runs)


def _visits(bench: Bench, server: Server, driver: Playwright) -> Iterator[Measured]:
    counter = Counter(server.port)
    phone = BrowserPhone(driver, counter.url, workers="allow")
    device = bench.scene.devices[3]
    try:
        page = phone.start()
        page.add_init_script(WATCH)
        wire = _wire(page)
        wire.send("Network.emulateNetworkConditions", LINE)
        yield from _visit(phone, counter, "first visit, nothing kept", 4_000, 100)
        wire.send(
            "Network.emulateNetworkConditions", LINE | {"latency": 0, "downloadThroughput": -1, "uploadThroughput": -1}
        )
        join(phone, device)
        page.wait_for_timeout(SETTLED_MS)
        wire.send("Network.emulateNetworkConditions", LINE)
        yield from _visit(phone, counter, "later visit", 4_000, 10)
        wire.detach()
        phone.go_online(False)
        yield from _visit(phone, counter, "visit without signal", 1_000, 0)
    finally:
        phone.close()
        counter.listener.close()


def _wire(page: Page) -> CDPSession:
    wire = page.context.new_cdp_session(page)
    wire.send("Network.enable")
    return wire


def _visit(phone: BrowserPhone, counter: Counter, what: str, paint_ms: float, kb: float) -> Iterator[Measured]:
    page = phone.page
    if page is None:
        raise RuntimeError("the browser is not running")
    page.goto("about:blank")
    page.wait_for_timeout(500)
    counter.take()
    phone.open()
    page.wait_for_timeout(SETTLED_MS)
    seen = page.evaluate("seen")
    yield Measured(f"largest paint, {what}", seen["lcp"], paint_ms, "ms", seen["what"].lower())
    yield Measured(f"layout shift, {what}", seen["shift"], 0.1, "")
    yield Measured(f"screen drawn, {what}", seen["drawn"], math.inf, "ms", "told, no goal")
    if kb:
        yield Measured(f"over the line, {what}", counter.take() / 1000, kb, "kB")


def _saves(bench: Bench, server: Server, driver: Playwright, slow: int, runs: int) -> Iterator[Measured]:
    """Entries on a pour that already has many, with the network on, so that sending competes with saving."""
    phone = BrowserPhone(driver, server.url)
    pour = bench.scene.pour_ids[slow]
    try:
        join(phone, bench.scene.devices[0])
        for number in range(KNOWN_ENTRIES):
            write(phone, pour, "note", {"text": f"known before {slow} {number} " + "x" * 60})
        page = phone.page
        if page is None:
            raise RuntimeError("the browser is not running")
        page.add_init_script(TIMED)
        page.reload()
        wire = _wire(page)
        wire.send("Emulation.setCPUThrottlingRate", {"rate": slow})
        texts = [_save_text(phone, pour, number) for number in range(runs)]
        yield from _spread(f"tap to words, processor {slow}x slower", texts, 100)
        shot = _photo()
        photos = [_save_photo(phone, pour, shot, number) for number in range(max(runs // 3, 5))]
        yield from _spread(f"photo of {len(shot) / 1e6:.1f} MB to words, processor {slow}x slower", photos, 300)
    finally:
        phone.close()


def _spread(what: str, times: Sequence[float], goal: float) -> Iterator[Measured]:
    cuts = statistics.quantiles(times, n=20, method="inclusive")
    yield Measured(f"{what}, median", cuts[9], goal, "ms", f"of {len(times)}")
    yield Measured(f"{what}, p95", cuts[18], goal, "ms", f"of {len(times)}")


def _form(phone: BrowserPhone, pour: int, number: int) -> Page:
    page = phone.page
    if page is None:
        raise RuntimeError("the browser is not running")
    for place in (
        f"#pour/{pour}/missing",
        f"#pour/{pour}/enter/note?turn={number}",
    ):  # never the form of the turn before
        page.evaluate("place => { location.hash = place; }", place)
        page.locator("#entry").wait_for(state="attached" if "enter" in place else "detached")
    page.get_by_label("Note", exact=True).wait_for()
    return page


def _save_text(phone: BrowserPhone, pour: int, number: int) -> float:
    page = _form(phone, pour, number)
    page.get_by_label("Note", exact=True).fill(f"timed {number}")
    page.evaluate("() => { globalThis.took = words('click', '.main-action button', '^Saved on this phone$'); }")
    page.get_by_role("button", name="Save", exact=True).click()
    took = float(page.evaluate("globalThis.took"))
    page.get_by_text("Saved on this phone:").wait_for()
    return took


def _save_photo(phone: BrowserPhone, pour: int, shot: bytes, number: int) -> float:
    page = _form(phone, pour, 10_000 + number)
    page.evaluate("() => { globalThis.took = words('change', '#entry', 'photos? (is|are) saved on this phone'); }")
    content = shot + bytes([number])  # another file each time
    page.locator("#photo").set_input_files({"name": "photo.jpg", "mimeType": "image/jpeg", "buffer": content})
    return float(page.evaluate("globalThis.took"))


def _photo() -> bytes:
    """A picture as phones take them: 12 million pixels, one and a half megabytes."""
    small: Any = Image.effect_noise((500, 375), 60).convert("RGB")
    out = io.BytesIO()
    small.resize((4000, 3000), Image.Resampling.BICUBIC).save(out, "JPEG", quality=72)
    return out.getvalue()
