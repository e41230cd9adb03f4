"""The export and its one-file verifier: every edit is found, and the first bad place is named."""

import hashlib
import json
import random
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import connection

from groutjobs.audit.anchors import anchor_lines, anchor_words, make_anchor
from groutjobs.audit.chain import GENESIS, canonical
from groutjobs.audit.export import VERIFIER, verifier_sha256
from groutjobs.audit.models import Event
from groutjobs.audit.verify_record import Tree
from tests.audit.written import exported, fault_of, write_events
from tests.factories import make_machine

pytestmark = pytest.mark.django_db
EDITS = 600
Edit = Callable[[list[bytes], random.Random], tuple[list[bytes], int]]


@pytest.fixture
def lines() -> list[bytes]:
    machine = make_machine(bare=True)
    write_events(machine, 20)
    make_anchor()
    write_events(machine, 20, start=20)
    return exported()


def test_what_nobody_touched_passes(lines: list[bytes]) -> None:
    assert fault_of(lines) == ""
    assert len(lines) == 41 + 2


def flipped(lines: list[bytes], chance: random.Random) -> tuple[list[bytes], int]:
    number = chance.randrange(len(lines))
    spoilt = bytearray(lines[number])
    spoilt[chance.randrange(len(spoilt))] ^= 1 << chance.randrange(8)
    return [*lines[:number], bytes(spoilt), *lines[number + 1 :]], number


def deleted(lines: list[bytes], chance: random.Random) -> tuple[list[bytes], int]:
    number = chance.randrange(len(lines))
    return lines[:number] + lines[number + 1 :], number


def doubled(lines: list[bytes], chance: random.Random) -> tuple[list[bytes], int]:
    number, other = chance.randrange(1, len(lines)), chance.randrange(len(lines))
    return [*lines[:number], lines[other], *lines[number:]], number


def swapped(lines: list[bytes], chance: random.Random) -> tuple[list[bytes], int]:
    first, second = sorted(chance.sample(range(len(lines)), 2))
    edited = list(lines)
    edited[first], edited[second] = edited[second], edited[first]
    return edited, first


def cut(lines: list[bytes], chance: random.Random) -> tuple[list[bytes], int]:
    number = chance.randrange(len(lines))
    return lines[:number], number


def cut_inside(lines: list[bytes], chance: random.Random) -> tuple[list[bytes], int]:
    number = chance.randrange(len(lines))
    return [*lines[:number], lines[number][: chance.randrange(1, len(lines[number]))]], number


def altered(lines: list[bytes], chance: random.Random) -> tuple[list[bytes], int]:
    """A value of one event changed by somebody who writes the line as an export does."""
    number = chance.randrange(1, len(lines) - 1)
    event = json.loads(lines[number])
    name = chance.choice(sorted(event))
    event[name] = f"{event[name]}1"
    return [*lines[:number], canonical(event).encode() + b"\n", *lines[number + 1 :]], number


EVERY_EDIT: list[Edit] = [flipped, deleted, doubled, swapped, cut, cut_inside, altered]


def test_six_hundred_random_edits_are_all_found_at_their_place(lines: list[bytes]) -> None:
    """Line 1 is the head, line n + 1 is event n: what is named lies at the edit, or speaks of the whole file."""
    anchors, missed = list(anchor_lines()), []
    for seed in range(EDITS):
        chance = random.Random(seed)  # noqa: S311 (a test that can be repeated)
        edit = EVERY_EDIT[seed % len(EVERY_EDIT)]
        edited, number = edit(lines, chance)
        said = fault_of(edited, anchors)
        is_event = 1 <= number < len(lines) - 1
        if not said or (is_event and f"event {number}" not in said and edited != lines):
            missed.append((seed, edit.__name__, number, said))
    assert missed == []


def test_every_single_flipped_byte_is_found(lines: list[bytes]) -> None:
    """Each byte of the first line, of one event, and of the last line."""
    anchors = list(anchor_lines())
    for number in (0, 9, len(lines) - 1):
        for place in range(len(lines[number])):
            spoilt = bytearray(lines[number])
            spoilt[place] ^= 0x04
            assert fault_of([*lines[:number], bytes(spoilt), *lines[number + 1 :]], anchors), (number, place)


def chained_anew(lines: list[bytes], from_event: int, **values: str) -> list[bytes]:
    """A forger without the key: one event rewritten, every hash after it made anew, the last line too."""
    head, *events, last = lines
    previous, written, tree = GENESIS, [head], Tree()
    for number, line in enumerate(events, 1):
        event = json.loads(line) | (values if number == from_event else {}) | {"prev_hash": previous}
        event.pop("event_hash")
        event["event_hash"] = previous = hashlib.sha256(canonical(event).encode()).hexdigest()
        tree.add(previous)
        written.append(canonical(event).encode() + b"\n")
    end = json.loads(last)["end"] | {"event_hash": previous, "root": tree.root()}
    end["sha256"] = hashlib.sha256(b"".join(written)).hexdigest()
    return [*written, canonical({"end": end}).encode() + b"\n"]


def test_a_record_chained_anew_is_found_by_the_anchors(lines: list[bytes]) -> None:
    said = fault_of(chained_anew(lines, 7, reason="another reason"))
    assert said.startswith("the first 21 events are not those of the anchor made at")
    assert "at or before event 21" in said
    later = fault_of(chained_anew(lines, 30, reason="another reason"))
    assert "at or before event 41, after event 21, up to which an anchor holds" in later


def test_a_record_cut_and_closed_anew_is_found_by_an_anchor_from_paper(lines: list[bytes]) -> None:
    anchor = make_anchor()
    shorter = chained_anew([*lines[:31], lines[-1]], 99)
    keys = [line for line in anchor_lines() if line.startswith('{"key"')]
    said = fault_of(shorter, [*keys, "# from the foot of report T-00001", anchor_words(anchor)])
    assert said == "event 31 is missing: the record ends at 30, an anchor tells of 41 events"
    assert "not the one" not in fault_of(lines, [*keys, anchor_words(anchor)])


@pytest.mark.parametrize(
    ("typed", "said"),
    [("41 abc", "3 characters of the root are given, 20 are needed"), ("forty-one", "is no anchor"),
     ("41 " + "f" * 20, "the first 41 events are not those of line 2 of the anchors, typed in,")],
)  # fmt: skip
def test_a_wrong_anchor_from_paper_is_named(lines: list[bytes], typed: str, said: str) -> None:
    key = next(anchor_lines())
    assert said in fault_of(lines, [key, typed])


def test_an_export_for_one_site_holds_others_as_hashes_only() -> None:
    ours, theirs = make_machine(bare=True), make_machine(bare=True)
    write_events(ours, 5)
    write_events(theirs, 5, start=50)
    write_events(ours, 5, start=5)
    lines = exported(ours.site_id)
    text = b"".join(lines).decode()
    assert fault_of(lines) == ""
    assert "duty 9" in text
    assert "duty 5" in text
    assert "duty 50" not in text
    hidden = [json.loads(line) for line in lines if set(json.loads(line)) == {"seq", "event_hash"}]
    assert len(hidden) == 5
    stripped = [line if number != 3 else _hidden(line) for number, line in enumerate(lines)]
    assert "changed after it was made" in fault_of(stripped)


def _hidden(line: bytes) -> bytes:
    event = json.loads(line)
    return canonical({"seq": event["seq"], "event_hash": event["event_hash"]}).encode() + b"\n"


def test_the_file_runs_alone_and_says_pass_and_fail(tmp_path: Path) -> None:
    write_events(make_machine(bare=True), 10)
    call_command("record", "export", tmp_path / "out")
    folder = tmp_path / "out"
    passed = run_alone(folder)
    assert passed.returncode == 0
    assert passed.stdout.startswith("PASS: 11 events follow from each other; 11 were read whole")
    export = folder / "export.jsonl"
    export.write_bytes(export.read_bytes().replace(b"reason 4,", b"reason 5,"))
    failed = run_alone(folder)
    assert failed.returncode == 1
    assert failed.stdout == "FAIL: the content of event 5 does not match its hash.\n"
    assert hashlib.sha256((folder / VERIFIER.name).read_bytes()).hexdigest() == verifier_sha256()
    shutil.rmtree(folder)


def run_alone(folder: Path) -> subprocess.CompletedProcess[str]:
    """Isolated from this program and its packages, as on a stranger's computer."""
    words = [sys.executable, "-I", "-S", VERIFIER.name, "export.jsonl", "anchors.txt"]
    return subprocess.run(words, cwd=folder, capture_output=True, text=True, check=False)  # noqa: S603


def test_it_needs_the_standard_library_alone() -> None:
    imported = [line for line in VERIFIER.read_text().splitlines() if line.startswith(("import ", "from "))]
    allowed = {"__future__", "hashlib", "json", "sys", "collections.abc", "pathlib", "typing"}
    assert {line.split()[1] for line in imported} <= allowed


def test_the_database_itself_is_verified_and_a_forged_row_is_named() -> None:
    write_events(make_machine(bare=True), 4)
    make_anchor()
    forged = Event.objects.get(seq=3)
    forged.reason = "another"
    with connection.cursor() as cursor:
        _without_trigger(cursor)
        cursor.execute("UPDATE groutjobs_event SET reason = 'another' WHERE seq = 3")
    with pytest.raises(Exception, match="the content of event 3 does not match its hash"):
        call_command("record", "verify")


def _without_trigger(cursor: object) -> None:
    execute = cursor.execute  # type: ignore[attr-defined]
    suffix = " ON groutjobs_event" if connection.vendor == "postgresql" else ""
    execute(f"DROP TRIGGER groutjobs_event_no_update{suffix}")


def test_how_long_a_hundred_thousand_events_take(capsys: pytest.CaptureFixture[str]) -> None:
    """Printed, not asserted: P18 asks for five seconds."""
    events = 100_000
    lines = made_up(events)
    started = time.perf_counter()
    said = fault_of(lines, [])
    took = time.perf_counter() - started
    with capsys.disabled():
        print(f"\n{events} events read by the verifier in {took:.1f} s")  # noqa: T201
    assert said == "the last line names a key that the file of anchors does not hold"


def made_up(count: int) -> list[bytes]:
    previous = GENESIS
    head = {"groutjobs_record": "1", "log": "0" * 64, "made_at": "2026-01-01T00:00:00+00:00", "site": None}
    lines, tree = [canonical(head | {"events": str(count)}).encode() + b"\n"], Tree()
    for number in range(1, count + 1):
        event = {
            "seq": str(number), "prev_hash": previous, "at": "2026-01-01T00:00:00.000000+00:00", "actor_id": "7",
            "device": "Phone 4", "kind": "pour.entry_added", "object_kind": "pourentry", "object_id": str(number),
            "object_label": "Reading", "site_id": "1", "reason": "",
            "body": '{"changed":{"body":{"new":{"temp_c":"21.5","what":"grout"},"old":null}}}',
        }  # fmt: skip
        event["event_hash"] = previous = hashlib.sha256(canonical(event).encode()).hexdigest()
        tree.add(previous)
        lines.append(canonical(event).encode() + b"\n")
    read = hashlib.sha256(b"".join(lines)).hexdigest()
    end = {"seq": str(count), "event_hash": previous, "root": tree.root(), "sha256": read, "key": "", "signature": ""}
    return [*lines, canonical({"end": end}).encode() + b"\n"]
