"""Rights change in the middle of a burst: sessions end, a password changes, a person leaves, a phone is revoked."""

import threading
from collections.abc import Iterator

from groutjobs.faults.bench import MEANT, Bench, Outcome, Sender, in_threads, judged
from groutjobs.faults.fi_01 import notes
from groutjobs.faults.phone import Made

TITLE = "rights change in a burst"
EACH = 120
REFUSES = 'groutjobs.faults.mutants:app("refuses_before_storing")'


def run(bench: Bench) -> Iterator[Outcome]:
    yield rights(bench, "sessions end, password changes, person leaves, phone revoked", MEANT, EACH)
    yield rights(bench, "refuses what breaks a rule in place of storing it", REFUSES, 30, twin=True)


def rights(bench: Bench, what: str, app: str, each: int, *, twin: bool = False) -> Outcome:
    faults: list[str] = []
    devices = bench.scene.devices[2:] if twin else bench.scene.devices[:2]
    with bench.server(app) as server:
        plain, revoked = (Sender(device.phone(number), server.url, at_once=6) for number, device in enumerate(devices))
        before = {sender.phone.device_id: notes(bench, sender.phone, each, what) for sender in (plain, revoked)}
        is_upset = threading.Event()
        until_s = 15.0 if twin else 60.0
        sending = (lambda sender=sender: _in_parts(sender, before, is_upset, until_s) for sender in (plain, revoked))
        with in_threads(*sending):
            bench.manage("faults", "--upset", f"{plain.phone.author_id},{devices[1].id}")
            is_upset.set()
        after = notes(bench, revoked.phone, 5, f"{what} after the revocation")
        revoked.send_once(after)
    made = [one for ops in before.values() for one in ops]
    rows = {row[0]: row for row in bench.ledger()["ops"]}
    faults += _of_the_revoked(rows, before[devices[1].id], after)
    return judged(what, bench, [plain, revoked], made, 0, twin=twin, faults=faults)


def _in_parts(sender: Sender, before: dict[str, list[Made]], is_upset: threading.Event, until_s: float) -> None:
    """Most of the ops while rights change, the last quarter when they surely have."""
    ops = before[sender.phone.device_id]
    most = len(ops) * 3 // 4
    sender.send_all(ops[:most], until_s=until_s)
    is_upset.wait(120)
    sender.send_all(ops[most:], until_s=until_s)


def _of_the_revoked(rows: dict[str, list[str]], before: list[Made], after: list[Made]) -> list[str]:
    faults = []
    if any(one.op_id in rows for one in after):
        faults.append("an entry made after the revocation was stored")
    late = [rows[one.op_id] for one in before[len(before) * 3 // 4 :] if one.op_id in rows]
    if not late or any(row[4] != "quarantined" or row[5] != "device_revoked" for row in late):
        faults.append("entries made before the revocation are not all kept for a decision")
    return faults
