"""FI-9: the browser is killed right after “Saved on this phone”, before anything is sent [GROUTJOBS]."""

# ruff: noqa: E501  lines of JavaScript in strings

from collections.abc import Iterator

from playwright.sync_api import Playwright

from groutjobs.faults.bench import Bench, Outcome, Server
from groutjobs.faults.browsing import BrowserPhone, Mutant, join, phones, send_all

TITLE = "Browser killed between save and send"
ROUNDS, WRITES = 24, 14
TWIN_ROUNDS = 6
SAYS_SAVED_BEFORE_THE_COMMIT = Mutant(
    "outbox.js",
    "    await commit(row, draft);\n    await readBack(row);",
    "    setTimeout(() => commit(row, draft).catch(() => {}), 40);",
)
# Saves notes one after the other and tells each at the moment at which the screen would say “Saved on this phone”.
STREAM = """
const [write, model] = await Promise.all(["write.js", "model.js"].map(load));
const pour = await model.pour(given.pour);
for (let number = 1; number <= given.count; number += 1) {
  const row = await write.write({ op_id: write.newId(), pour, kind: "note", body: { text: `${given.round} ${number}` } });
  await window.told(row.op_id);
}
"""


def run(bench: Bench) -> Iterator[Outcome]:
    with bench.server(workers=1) as server, phones() as driver:
        yield _killed(bench, server, driver, None, ROUNDS, 0)
        yield _killed(bench, server, driver, SAYS_SAVED_BEFORE_THE_COMMIT, TWIN_ROUNDS, 1)


def _killed(
    bench: Bench, server: Server, driver: Playwright, mutant: Mutant | None, rounds: int, device: int
) -> Outcome:
    phone = BrowserPhone(driver, server.url, mutant)
    try:
        join(phone, bench.scene.devices[device])
        told: list[str] = []
        phone.is_online = False
        for number in range(rounds):
            told += _one_round(bench, phone, number)
        phone.open()
        kept = {
            row[0] for row in phone.run('return (await (await load("outbox.js")).rows()).map((row) => [row.op_id]);')
        }
        phone.is_online = True
        said = send_all(phone)
    finally:
        phone.close()
    ledger = bench.ledger()
    rows = [row[0] for row in ledger["ops"] if row[0] in set(told)]
    entries = [op_id for op_id, _ in ledger["entries"] if op_id in set(told)]
    lost = len(set(told) - kept) + len(set(told) & kept - set(entries))
    return Outcome(
        what=f"{rounds} kills, {len(told)} writes that were said to be saved", twin=mutant is not None,
        acked=len(told), rows=len(rows), lost=lost, doubled=len(entries) - len(set(entries)), restarts=rounds,
        passed=not lost and len(set(told)) == len(told) == len(entries), note=said["error"] or f"{len(kept)} in the store",
    )  # fmt: skip


def _one_round(bench: Bench, phone: BrowserPhone, number: int) -> list[str]:
    """Save a stream of notes and kill the browser as soon as the last one that counts was told."""
    told: list[str] = []
    page = phone.start() if phone.page is None else phone.page
    page.expose_function("told", lambda op_id: told.append(op_id))
    phone.open()
    pids = phone.pids()
    last = bench.random.randint(WRITES - 1, WRITES + 2)
    phone.run(
        "given.stream = (async () => {" + STREAM + "})(); given.stream.catch(() => {});",
        {"pour": bench.scene.pour_id, "count": 10_000, "round": number},
    )
    while len(told) < last:
        page.wait_for_timeout(1)
    phone.kill(pids)
    return told
