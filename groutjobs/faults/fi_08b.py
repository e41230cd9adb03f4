"""FI-8, the phone's half: its clock is decades wrong, jumps, or the phone sleeps [GROUTJOBS]."""

# ruff: noqa: E501  lines of JavaScript in strings

import datetime as dt
import json
from collections.abc import Iterator
from typing import Any

from playwright.sync_api import Playwright

from groutjobs.faults.bench import Bench, Outcome, Server
from groutjobs.faults.browsing import BrowserPhone, Mutant, join, phones, send_all, write

TITLE = "Phone clock wrong, jumping, asleep"
MOST_OFF_S = 5.0
YEARS_46 = dt.timedelta(days=46 * 365)
FORGETS_THE_OFFSET = Mutant(
    "clock.js",
    "return { offset_ms: sample.offset_ms, age_s: age, boot };",
    "return { offset_ms: 0, age_s: age, boot };",
)
COUNTS_TICKS = Mutant(
    "pourscreens.js",
    "const [ends, now] = [Number(place.dataset.endsAt), clock.now()];",
    "globalThis.ticks = (globalThis.ticks ?? clock.now()) + 1000; const [ends, now] = [Number(place.dataset.endsAt), globalThis.ticks];",
)
SLEEP = dt.timedelta(minutes=30)
LEFT = """
const place = document.querySelector("[data-ends-at]");
const { paintClocks } = await load("pourscreens.js");
paintClocks(() => {});
return [place.querySelector("[data-left]").textContent, Number(place.dataset.endsAt)];
"""


def run(bench: Bench) -> Iterator[Outcome]:
    with bench.server(workers=1) as server, phones() as driver:
        yield _wrong(bench, server, driver, None, 0)
        yield _wrong(bench, server, driver, FORGETS_THE_OFFSET, 1)
        yield _asleep(bench, server, driver, None, 2)
        yield _asleep(bench, server, driver, COUNTS_TICKS, 3)


def _wrong(bench: Bench, server: Server, driver: Playwright, mutant: Mutant | None, device: int) -> Outcome:
    """Three phones' worth of clocks: 46 years behind, three hours ahead, right; one entry with each."""
    pour, off = bench.scene.pour_ids[device], []
    made: list[str] = []
    for turn, wrong in enumerate((-YEARS_46, dt.timedelta(hours=3), dt.timedelta())):
        phone = BrowserPhone(driver, server.url, mutant)
        try:
            phone.start().context.clock.install(time=dt.datetime.now(dt.UTC) + wrong)
            join(phone, bench.scene.devices[device])
            at = dt.datetime.now(dt.UTC)
            op_id = write(phone, pour, "note", {"text": f"clock {turn}"})["op_id"]
            send_all(phone)
            entry = _entry(phone, pour, op_id)
        finally:
            phone.close()
        made.append(op_id)
        off.append(abs((dt.datetime.fromisoformat(entry["happened_at"]) - at).total_seconds()) if entry else 1e12)
    worst = max(off)
    return Outcome(
        what="clocks 46 years behind, 3 h ahead, right", twin=mutant is not None, acked=len(made), rows=len(made),
        passed=worst <= MOST_OFF_S, note=f"worst corrected error {worst:.1f} s",
    )  # fmt: skip


def _entry(phone: BrowserPhone, pour: int, op_id: str) -> dict[str, Any] | None:
    told = phone.run(
        'return JSON.stringify((await (await load("wire.js")).call("GET", `/sync/v1/records/${given}?since=0`)).data.entries);',
        pour,
    )
    return next((one for one in json.loads(told) if one["id"] == op_id), None)


def _asleep(bench: Bench, server: Server, driver: Playwright, mutant: Mutant | None, device: int) -> Outcome:
    """A batch is started, the phone sleeps half an hour, and its clock must be right when it is looked at."""
    pour = bench.scene.pour_ids[device + 4]
    phone = BrowserPhone(driver, server.url, mutant)
    try:
        began = dt.datetime.now(dt.UTC)
        page = phone.start()
        page.context.clock.install(time=began)
        join(phone, bench.scene.devices[device])
        phone.is_online = False
        write(phone, pour, "liquids_started", {"batch": 1, "kits": 1, "lot": "L1"})
        page = phone.open(f"#pour/{pour}")
        page.locator("[data-left]").wait_for()
        page.context.clock.pause_at(began + SLEEP)
        words, ends = phone.run(LEFT)
        true_min = (ends - (began + SLEEP).timestamp() * 1000) / 60000
    finally:
        phone.close()
    shown = float(str(words).split()[0])
    # the screen rounds up to whole minutes, so a second off is at most one minute on it
    passed = abs(shown - true_min) <= 1 + 1 / 60
    return Outcome(
        what="asleep for 30 min during a batch", twin=mutant is not None, acked=1, rows=1, passed=passed,
        note=f"shown {words}, true {true_min:.2f} min",
    )  # fmt: skip
