"""The modules of the phone's pages, run in Chromium itself: the fold, the bytes, the outbox and its rules."""

# ruff: noqa: E501  lines of JavaScript in strings

import hashlib
import hmac
import json
import re
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Playwright, Route

from groutjobs.faults.browsing import BrowserPhone
from groutjobs.faults.fi_20 import KILL_OPEN
from tests.browser.phonebook import Site, enrolled
from tests.browser.server import ROOT
from tests.pours.fold_cases import OF_THE_PHONE, SAME_WORDS

pytestmark = pytest.mark.page_alone
APP = ROOT / "static" / "phone" / "app"
GOLDEN = json.loads((ROOT / "fixtures" / "golden" / "fold.json").read_text(encoding="utf-8"))
ROWS = 'return (await (await load("outbox.js")).rows()).sort((a, b) => a.seq - b.seq);'
TURN = 'try { await (await load("sender.js")).round(); return ""; } catch (error) { return `${error.kind}: ${error.message}`; }'
AGAIN = f'(await load("sender.js")).sendNow(); {TURN}'
SENDER_SLEEPS = """
const request = navigator.locks.request.bind(navigator.locks);
navigator.locks.request = (name, ...rest) => (name === "groutjobs-sender" ? new Promise(() => {}) : request(name, ...rest));
"""
NOTE = """
const [write, model] = await Promise.all(["write.js", "model.js"].map(load));
const pour = await model.pour(given.pour);
return (await write.write({ op_id: given.id ?? write.newId(), pour, kind: "note", body: { text: given.text } })).op_id;
"""
FOLD = """
const [{ fold }, { nextStep }, { lifeMin: life }] = await Promise.all(["fold.js", "steps.js", "fold.js"].map(load));
const log = fold(given.snapshot, given.facts);
const pick = new Set(given.codes);
const same = new Set(given.same);
const six = (value) => Math.round(value * 1e6) / 1e6;
const ms = (value) => (value === null ? null : Math.round(value));
return {
  state: log.state, released_at: log.released_at, poured_at: log.poured_at, placed_at: log.placed_at, declared_at: log.declared_at,
  missing: log.missing_before_complete.map((one) => [one.code, one.message]),
  findings: log.findings.filter((one) => pick.has(one.code)).map((one) => [one.code, same.has(one.code) ? one.message : ""]),
  batches: log.batches.map((one) => [one.number, one.lot, one.kits, one.is_open, ms(one.ends_at), six(one.placed_l)]),
  fills: log.fills.map((one) => [one.name, six(one.placed_l), one.full_at, one.filled_ratio]),
  leaks: log.leaks.map((one) => [one.id, one.key, one.closed_at]),
  stops: log.stoppages.map((one) => [one.why, one.resumed_at]),
  points: log.points.map((one) => [one.id, one.is_closed, one.what_is_open]),
  struck: log.lines.filter((one) => one.by.length).map((one) => one.fact.id),
  next: given.later.map((min) => nextStep(log, given.start + min * 60000)).map((one) => [one.sentence, one.kind, one.button, one.is_urgent]),
};
"""


@pytest.fixture(scope="module")
def phone(driver: Playwright, site: Site) -> Iterator[BrowserPhone]:
    """A joined phone whose own sender sleeps: the tests take its turns, so that none comes between."""
    made = enrolled(driver, site)
    assert made.page
    made.page.context.add_init_script(SENDER_SLEEPS)
    made.page.reload()
    made.page.get_by_role("link", name="P-101 pour 1").wait_for()
    yield made
    made.close()


@pytest.fixture
def quiet(phone: BrowserPhone) -> Iterator[BrowserPhone]:
    """The phone without a network and with nothing waiting; the network is back after the test."""
    phone.run(TURN)
    phone.is_online = False
    yield phone
    phone.is_online = True


def test_twenty_who_find_the_connection_dead_at_once_all_get_their_answer(phone: BrowserPhone) -> None:
    phone.run(KILL_OPEN)
    said = phone.run(
        """const store = await load("store.js");
        const all = [...Array(20)].map((_, at) => (at % 2 ? store.setMeta("tried", at) : store.meta("tried")));
        const said = await Promise.all(all.map((one) => one.then(() => "answered", (error) => error.name)));
        [IDBFactory.prototype.open, IDBDatabase.prototype.transaction] = globalThis.whole;
        return [...said, await store.meta("tried")];"""
    )
    assert said == ["answered"] * 20 + [19]


def note(phone: BrowserPhone, site: Site, text: str, op_id: str | None = None) -> str:
    return str(phone.run(NOTE, {"pour": site.pour_id, "text": text, "id": op_id}))


def row_of(phone: BrowserPhone, op_id: str) -> dict[str, Any]:
    return next(row for row in phone.run(ROWS) if row["op_id"] == op_id)


def sent_at_last(phone: BrowserPhone, op_id: str) -> bool:
    """Whether the entry has its receipt after a few turns; the page's own sender takes turns too."""
    for _ in range(10):
        phone.run(AGAIN)
        if row_of(phone, op_id)["state"] == "sent":
            return True
        time.sleep(0.5)
    return False


@pytest.mark.parametrize("name", sorted(GOLDEN["cases"]))
def test_the_phone_says_of_each_case_what_the_file_says(phone: BrowserPhone, name: str) -> None:
    case = GOLDEN["cases"][name]
    given = {
        "snapshot": GOLDEN["snapshot"], "facts": case["facts"], "codes": sorted(OF_THE_PHONE), "same": sorted(SAME_WORDS),
        "later": GOLDEN["later_min"], "start": GOLDEN["start"],
    }  # fmt: skip
    for facts in (case["facts"], case["facts"][::-1], case["facts"] + case["facts"][:3]):
        said = phone.run(FOLD, given | {"facts": facts})
        said["findings"] = sorted(said["findings"])
        assert said == case["said"]


def test_working_life_is_that_of_the_engineering(phone: BrowserPhone) -> None:
    said = phone.run(
        'const { lifeMin } = await load("fold.js"); return given.temps.map((temp) => lifeMin(given.grout, temp));',
        {"grout": GOLDEN["snapshot"]["grout"], "temps": [temp for temp, _ in GOLDEN["lives"]]},
    )
    for (_, wanted), life in zip(GOLDEN["lives"], said, strict=True):
        assert life == (None if wanted is None else pytest.approx(wanted, rel=1e-12))


def test_bytes_hash_and_proof_are_those_of_python(quiet: BrowserPhone, site: Site) -> None:
    """Canonical JSON, SHA-256 and HMAC against the standard library of Python [RFC 2104, FIPS 180-4]."""
    key = bytes(range(32))
    sealed = quiet.run(
        """const { sealed, sha256, bytesOf } = await load("canon.js");
        const key = await crypto.subtle.importKey("raw", new Uint8Array(given.key), { name: "HMAC", hash: "SHA-256" }, false, ["sign"]);
        const text = await sealed(given.op, key);
        return [text, await sha256(bytesOf(text))];""",
        {"key": list(key), "op": {"v": 1, "b": {"ü": '°C €😀\n"', "a": [1, -2.5, None, True]}, "a": ""}},
    )
    op = {"v": 1, "b": {"ü": '°C €😀\n"', "a": [1, -2.5, None, True]}, "a": "", "author_proof": "0" * 64}
    blank = json.dumps(op, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    proof = hmac.new(key, blank.encode(), hashlib.sha256).hexdigest()
    assert sealed == [
        blank.replace("0" * 64, proof),
        hashlib.sha256(blank.replace("0" * 64, proof).encode()).hexdigest(),
    ]


def test_the_key_of_a_shift_cannot_be_read_out(phone: BrowserPhone) -> None:
    said = phone.run(
        """const rows = await (await load("store.js")).all("keys");
        const tries = await Promise.all(rows.map((row) => crypto.subtle.exportKey("raw", row.key).then(() => "read", (error) => error.name)));
        return [rows.length, tries, rows.map((row) => row.key.extractable)];"""
    )
    assert said[0] == 1
    assert said[1:] == [["InvalidAccessError"], [False]]


def test_the_same_id_twice_is_one_entry(quiet: BrowserPhone, site: Site) -> None:
    op_id = note(quiet, site, "double tap")
    assert note(quiet, site, "double tap again", op_id) == op_id
    rows = [row for row in quiet.run(ROWS) if row["op_id"] == op_id]
    assert len(rows) == 1
    assert "double tap again" not in rows[0]["text"]


def test_numbers_of_the_phone_have_no_gap(quiet: BrowserPhone, site: Site) -> None:
    quiet.run("await Promise.all(given.map((text) => (async () => { " + NOTE.replace("given.pour", str(site.pour_id)).replace(
        "given.id ?? ", "").replace("given.text", "text") + " })()));", [f"at once {n}" for n in range(9)])  # fmt: skip
    seqs = [row["seq"] for row in quiet.run(ROWS)]
    assert seqs == list(range(seqs[0], seqs[0] + len(seqs)))


ANSWERS: dict[str, dict[str, Any]] = {
    "a log-in page": {"status": 200, "content_type": "text/html", "body": "<h1>Welcome, sign in to this network</h1>"},
    "a redirect": {"status": 302, "headers": {"Location": "/sign-in/"}},
    "200 with JSON of somebody else": {"status": 200, "json": {"ok": True}},
    "our mark without receipts": {"status": 200, "headers": {"X-Sync-Proto": "1"}, "json": {"ok": True}},
    "a fault of the server": {"status": 500, "headers": {"X-Sync-Proto": "1"}, "json": {"error": {"code": "x"}}},
    "busy": {"status": 503, "headers": {"X-Sync-Proto": "1", "Retry-After": "7"}, "json": {"error": {"code": "busy", "message": ""}}},
    "unknown device": {"status": 401, "headers": {"X-Sync-Proto": "1"}, "json": {"error": {"code": "device_unknown"}}},
    "nothing": {},
}  # fmt: skip


@pytest.mark.parametrize("name", sorted(ANSWERS))
@pytest.mark.parametrize("place", ["hello", "ops"])
def test_no_answer_but_a_receipt_counts_as_sent(quiet: BrowserPhone, site: Site, name: str, place: str) -> None:
    op_id = note(quiet, site, f"{place}: {name}")
    before = row_of(quiet, op_id)["text"]
    page = quiet.page
    assert page
    pattern = re.compile(rf"/sync/v1/{place}$")

    def answer(route: Route) -> None:
        if ANSWERS[name]:
            route.fulfill(**ANSWERS[name])
        else:
            route.abort("timedout")

    page.route(pattern, answer)
    quiet.is_online = True
    quiet.run(TURN)
    row = row_of(quiet, op_id)
    page.unroute(pattern)
    assert row["state"] in {"saved", "sending"}
    assert row["text"] == before
    assert row["receipt"] is None
    assert sent_at_last(quiet, op_id)
    assert site.facts()["ops"].count(op_id) == 1


@pytest.mark.parametrize("change", [{"op_id": "other"}, {"sha256": "0" * 64}, {"ledger_seq": None}])
def test_a_receipt_of_something_else_counts_for_nothing(
    quiet: BrowserPhone, site: Site, change: dict[str, Any]
) -> None:
    op_id = note(quiet, site, "receipt")
    row = row_of(quiet, op_id)
    receipt = {"op_id": op_id, "sha256": row["sha256"], "ledger_seq": 5, "received_at": "2026-01-01T00:00:00Z"}
    take = 'await (await load("outbox.js")).receive(given[0], given[1]);' + ROWS
    states = {one["op_id"]: one["state"] for one in quiet.run(take, [op_id, receipt | change])}
    assert states[op_id] in {"saved", "sending"}
    states = {one["op_id"]: one["state"] for one in quiet.run(take, [op_id, receipt])}
    assert states[op_id] == "sent"


def _answer_lost(route: Route) -> None:
    """The server has it, and the phone hears nothing."""
    route.fetch()
    route.abort("connectionreset")


def test_an_answer_that_was_lost_is_asked_for_again_with_the_same_id(quiet: BrowserPhone, site: Site) -> None:
    op_id, page = note(quiet, site, "ack lost"), quiet.page
    assert page
    page.route("**/sync/v1/ops", _answer_lost)
    quiet.is_online = True
    assert quiet.run(TURN).startswith("unknown")
    page.unroute("**/sync/v1/ops")
    assert site.facts()["ops"].count(op_id) == 1
    assert quiet.run(TURN) == ""
    assert row_of(quiet, op_id)["state"] == "sent"
    assert site.facts()["entries"].count(op_id) == 1


def test_one_bad_entry_does_not_hold_up_those_behind_it(quiet: BrowserPhone, site: Site) -> None:
    bad, good, page = note(quiet, site, "poison"), note(quiet, site, "behind it"), quiet.page
    assert page

    def answer(route: Route) -> None:
        response = route.fetch()
        told = response.json()
        for one in told["answers"]:
            if one["op_id"] == bad:
                one.pop("receipt", None)
                one["error"] = {"code": "other_bytes", "message": "known with other bytes", "http": 409}
        route.fulfill(response=response, json=told)

    page.route("**/sync/v1/ops", answer)
    quiet.is_online = True
    assert quiet.run(TURN) == ""
    page.unroute("**/sync/v1/ops")
    assert (row_of(quiet, bad)["state"], row_of(quiet, good)["state"]) == ("needs_help", "sent")
    page.goto(f"{site.url}/phone/app/#waiting")
    page.get_by_text("known with other bytes").wait_for()
    assert page.locator("#status").inner_text() == "Problem: 1 entry needs help"
    page.get_by_role("button", name="Try this one again").click()
    assert sent_at_last(quiet, bad)
    page.get_by_text("Sent - all").wait_for()


def test_a_new_epoch_offers_again_what_the_server_lost(quiet: BrowserPhone, site: Site) -> None:
    op_id = note(quiet, site, "before the restore")
    quiet.is_online = True
    assert quiet.run(TURN) == ""
    head = row_of(quiet, op_id)["receipt"]["ledger_seq"]
    quiet.is_online = False
    epoch = 'const store = await load("store.js"); const was = await store.meta("epoch"); await (await load("outbox.js")).newEpoch(given[0], given[1]); await store.setMeta("epoch", was);'
    quiet.run(epoch, ["11111111-1111-4111-8111-111111111111", head])
    assert row_of(quiet, op_id)["state"] in {"sent", "safe"}
    quiet.run(epoch, ["22222222-2222-4222-8222-222222222222", head - 1])
    assert row_of(quiet, op_id)["state"] == "saved"
    quiet.is_online = True
    quiet.run(TURN)
    assert site.facts()["entries"].count(op_id) == 1


def test_content_goes_only_when_safe_old_and_acknowledged(quiet: BrowserPhone, site: Site) -> None:
    op_id = note(quiet, site, "kept for thirty days")
    quiet.is_online = True
    quiet.run(TURN)
    quiet.is_online = False
    receipt = row_of(quiet, op_id)["receipt"]
    received_ms = quiet.run("return Date.parse(given);", receipt["received_at"])
    forget = 'await (await load("outbox.js")).forget(given);' + ROWS
    month = 30 * 86_400_000

    def text_after(at_ms: float) -> str:
        return str(next(row["text"] for row in quiet.run(forget, at_ms) if row["op_id"] == op_id))

    quiet.run(
        'const o = await load("outbox.js"); const r = (await o.rows()).find((x) => x.op_id === given); await (await load("store.js")).put("ops", { ...r, state: "sent" });',
        op_id,
    )
    assert text_after(received_ms + 2 * month)
    quiet.run('await (await load("outbox.js")).markSafe(given);', receipt["ledger_seq"] - 1)
    assert text_after(received_ms + 2 * month)
    quiet.run('await (await load("outbox.js")).markSafe(given);', receipt["ledger_seq"])
    assert text_after(received_ms + month - 1)
    assert text_after(received_ms + month) == ""


def test_only_one_function_takes_content_away() -> None:
    """`delete(` and `clear(` stand where drafts, photos of purged entries and the ballast go, and nowhere else."""
    found = {
        f"{path.name}: {line.strip()}"
        for path in sorted(APP.glob("*.js"))
        for line in path.read_text(encoding="utf-8").splitlines()
        if re.search(
            r"objectStore\(.*\.(delete|clear)\(|deleteDatabase|deleteObjectStore|deleteDB|caches\.delete", line
        )
    }
    assert found == {
        'ballast.js: await tx.objectStore("meta").delete(KEY);',
        'drafts.js: export const drop = (key) => run(["drafts"], "readwrite", (tx) => tx.objectStore("drafts").delete(key));',
        'outbox.js: if (draft) await tx.objectStore("drafts").delete(draft);',
        'outbox.js: for (const id of loose) await tx.objectStore("blobs").delete(id);',
        'outbox.js: for (const id of loose) await tx.objectStore("shots").delete(id);',
        "worker.js: for (const name of own.slice(0, Math.max(0, own.length - KEPT_BUILDS))) await caches.delete(name);",
    }
    text = (APP / "outbox.js").read_text(encoding="utf-8")
    assert [part for part in text.split("\nexport ") if 'text: ""' in part or '"blobs").delete' in part] == [
        next(part for part in text.split("\nexport ") if part.startswith("async function forget("))
    ]


def test_the_status_line_tells_the_truth_in_every_history(phone: BrowserPhone) -> None:
    """All counts of up to three of each kind; the words must be one of five phrases, and be true of the counts."""
    said = phone.run(
        """const { phrase } = await load("status.js");
        const all = [];
        for (let help = 0; help < 4; help += 1) for (let sending = 0; sending < 4; sending += 1) for (let unsent = 0; unsent < 4; unsent += 1)
          for (let received = 0; received < 4; received += 1) for (const fresh of [false, true])
            all.push([help, sending, unsent, received, fresh, phrase({ help, sending, unsent, received }, fresh)]);
        return all;"""
    )
    for help_, sending, unsent, received, fresh, words in said:
        wanted = (
            f"Problem: {help_} {'entry needs' if help_ == 1 else 'entries need'} help" if help_
            else f"Sending {sending}..." if sending
            else "Saved on this phone" if unsent and fresh
            else f"Not sent yet: {unsent} - safe on this phone" if unsent
            else f"Sent - all {received} received"
        )  # fmt: skip
        assert words == wanted


def test_the_wait_before_the_next_try_has_full_jitter_and_a_top(phone: BrowserPhone) -> None:
    waits = phone.run(
        'const { backoffS } = await load("sender.js"); return [1, 2, 3, 8, 9, 50].map((n) => [backoffS(n, 0), backoffS(n, 1)]);'
    )
    assert waits == [[0, 2], [0, 4], [0, 8], [0, 256], [0, 300], [0, 300]]


def test_the_same_entry_goes_out_three_times_in_a_minute_and_then_rests(quiet: BrowserPhone, site: Site) -> None:
    op_id, page, bodies = note(quiet, site, "over a bad line"), quiet.page, []
    assert page
    pattern = re.compile(r"/sync/v1/ops$")

    def cut(route: Route) -> None:
        bodies.append(route.request.post_data or "")
        route.abort("connectionreset")

    page.route(pattern, cut)
    quiet.is_online = True
    for _ in range(6):
        quiet.run(TURN)
    assert sum(op_id in body for body in bodies) == 3
    other = note(quiet, site, "the others do not wait for it")
    quiet.run(TURN)
    assert (op_id in bodies[-1], other in bodies[-1]) == (False, True)
    page.unroute(pattern)
    quiet.run(TURN)
    assert row_of(quiet, op_id)["state"] in {"saved", "sending"}
    assert sent_at_last(quiet, op_id)
    assert site.facts()["ops"].count(op_id) == 1


def test_the_rescue_file_holds_the_very_bytes(quiet: BrowserPhone, site: Site, tmp_path: Path) -> None:
    op_id, page = note(quiet, site, "to be rescued"), quiet.page
    assert page
    page.goto(f"{site.url}/phone/app/#waiting")
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Save a rescue file").click()
    waiting.value.save_as(tmp_path / "rescue.json")
    told = json.loads((tmp_path / "rescue.json").read_text(encoding="utf-8"))
    one = next(op for op in told["ops"] if op["op_id"] == op_id)
    assert one["text"] == row_of(quiet, op_id)["text"]
    assert hashlib.sha256(one["text"].encode()).hexdigest() == one["sha256"]
    assert all(hashlib.sha256(op["text"].encode()).hexdigest() == op["sha256"] for op in told["ops"])


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("-5.5", -5.5),
        ("23,5", 23.5),
        ("\u22124", -4),
        (".5", 0.5),
        ("1,500", None),
        ("1e3", None),
        ("", None),
        ("--2", None),
    ],
)
def test_numbers_are_read_as_the_desk_reads_them(phone: BrowserPhone, text: str, value: float | None) -> None:
    assert phone.run('return (await load("units.js")).readNumber(given);', text) == value
