"""Phone clocks that are wrong by years, a day, an hour: the server keeps three times, and says how sure it is."""

import datetime as dt
import json
from collections.abc import Iterator

from groutjobs.faults.bench import MEANT, Bench, Outcome, Sender, judged

TITLE = "phone clock wrong (server)"
CLOSE_S = 5.0
TRUSTS = 'groutjobs.faults.mutants:app("trusts_clocks")'
# how far the phone is ahead of the truth [s], what it knows of it, and the grade that its time must get
CLOCKS: tuple[tuple[float, dict[str, object], str], ...] = (
    (0.0, {"age_s": 60, "boot": "same"}, "A"),
    (86_400.0, {"age_s": 3600, "boot": "same"}, "B"),
    (-86_400.0, {"age_s": 86_000, "boot": "other"}, "B"),
    (-46 * 365.25 * 86_400.0, {"age_s": 300, "boot": "same"}, "A"),
    (3600.0, {"age_s": 200_000, "boot": "same"}, "C"),
    (-1800.0, {"age_s": 60, "boot": "jump"}, "C"),
)


def run(bench: Bench) -> Iterator[Outcome]:
    yield clocks(bench, "6 clocks, wrong by up to 46 years", MEANT)
    yield clocks(bench, "believes the phone's clock", TRUSTS, twin=True)


def clocks(bench: Bench, what: str, app: str, *, twin: bool = False) -> Outcome:
    faults: list[str] = []
    truth = dt.datetime.now(dt.UTC) - dt.timedelta(minutes=20)
    pour_id = bench.scene.pour_ids[1 if twin else 0]
    with bench.server(app) as server:
        sender = Sender(bench.scene.devices[0].phone(), server.url)
        made = []
        for number, (ahead_s, known, _) in enumerate(CLOCKS):
            sender.phone.clock = {"offset_ms": round(-ahead_s * 1000), **known}
            at = truth + dt.timedelta(seconds=ahead_s)
            made.append(sender.phone.op(pour_id, "note", {"text": f"{what} {number}"}, at=at))
        sender.send_all(made)
        _, content = sender.call("GET", f"records/{pour_id}?since=0", b"")
    entries = {entry["id"]: entry for entry in json.loads(content)["entries"]}
    for one, (ahead_s, known, grade) in zip(made, CLOCKS, strict=True):
        entry = entries.get(one.op_id)
        if entry is None:
            faults.append(f"the entry {ahead_s:g} s ahead is not there")
            continue
        off_s = abs((dt.datetime.fromisoformat(entry["happened_at"]) - truth).total_seconds())
        if known["boot"] != "jump" and off_s > CLOSE_S:
            faults.append(f"{ahead_s:g} s ahead: corrected to within {off_s:.0f} s")
        if entry["clock_grade"] != grade:
            faults.append(f"{ahead_s:g} s ahead: grade {entry['clock_grade']}, not {grade}")
        said = dt.datetime.fromisoformat(entry["device_happened_at"])
        if abs((said - truth).total_seconds() - ahead_s) > CLOSE_S:
            faults.append("what the phone said is not kept")
    return judged(what, bench, [sender], made, 0, twin=twin, faults=faults)
