#!/usr/bin/env python3
"""Check an exported record, on any computer, with nothing but Python 3.

    python3 verify_record.py export.jsonl anchors.txt

export.jsonl is the export of the record, anchors.txt the file of anchors. Into anchors.txt you may also write anchors
that you kept elsewhere, one to a line: the two words from the foot of a printed report, such as
"4210 5dc9da79a70659a9ad55". Lines that begin with # are not read. The answer is PASS, or the first bad place.

What is checked: every event follows from the one before it (SHA-256 chain); nothing is missing, doubled, moved or cut
off; the tree over all events [RFC 9162, 2.1] comes to what each anchor says; every anchor and the end of the export
carry a good signature [RFC 8032, Ed25519]. What cannot be checked here: whether the keys are the right ones. Compare
the fingerprints that are printed with what you were told by another way, and the anchors with those on paper.
"""

from __future__ import annotations

import hashlib
import json
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

PREFIX, END_PREFIX = b"groutjobs anchor 1\n", b"groutjobs export end 1\n"
GENESIS = "0" * 64
EVENT = {
    "seq", "prev_hash", "event_hash", "at", "actor_id", "device", "kind", "object_kind", "object_id", "object_label",
    "site_id", "reason", "body",
}  # fmt: skip
END = {"seq", "event_hash", "root", "sha256", "key", "signature"}
SHORT = 20

# Ed25519 [RFC 8032, 5.1], verification only; points are (x, y, z, t) with x = X/Z, y = Y/Z, xy = T/Z.
P = 2**255 - 19
L = 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, P - 2, P) % P
ROOT_OF_MINUS_ONE = pow(2, (P - 1) // 4, P)
Point = tuple[int, int, int, int]


class Bad(Exception):
    """The first place that does not hold, in words."""


def add(a: Point, b: Point) -> Point:
    e = (a[1] - a[0]) * (b[1] - b[0]) % P
    f = (a[1] + a[0]) * (b[1] + b[0]) % P
    g = 2 * a[3] * b[3] * D % P
    h = 2 * a[2] * b[2] % P
    p, q, r, s = f - e, h - g, h + g, f + e
    return (p * q % P, r * s % P, q * r % P, p * s % P)


def times(number: int, point: Point) -> Point:
    total: Point = (0, 1, 1, 0)
    while number:
        if number & 1:
            total = add(total, point)
        point = add(point, point)
        number >>= 1
    return total


def same(a: Point, b: Point) -> bool:
    return (a[0] * b[2] - b[0] * a[2]) % P == 0 and (a[1] * b[2] - b[1] * a[2]) % P == 0


def point_of(text: bytes) -> Point | None:
    """The point that 32 bytes stand for, or None."""
    if len(text) != 32:
        return None
    y = int.from_bytes(text, "little")
    sign, y = y >> 255, y & (2**255 - 1)
    if y >= P:
        return None
    square = (y * y - 1) * pow(D * y * y + 1, P - 2, P) % P
    if square == 0:
        return None if sign else (0, y, 1, 0)
    x = pow(square, (P + 3) // 8, P)
    if (x * x - square) % P:
        x = x * ROOT_OF_MINUS_ONE % P
    if (x * x - square) % P:
        return None
    if x & 1 != sign:
        x = P - x
    return (x, y, 1, x * y % P)


BASE = point_of((4 * pow(5, P - 2, P) % P).to_bytes(32, "little")) or (0, 1, 1, 0)


def is_signed(public: bytes, message: bytes, signature: bytes) -> bool:
    """Whether this is the Ed25519 signature of the message under the public key; all three are bytes."""
    if len(signature) != 64:
        return False
    key, r = point_of(public), point_of(signature[:32])
    s = int.from_bytes(signature[32:], "little")
    if key is None or r is None or s >= L:
        return False
    h = int.from_bytes(hashlib.sha512(signature[:32] + public + message).digest(), "little") % L
    return same(times(s, BASE), add(r, times(h, key)))


def canonical(value: Any) -> str:
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def node(left: bytes, right: bytes) -> bytes:
    return hashlib.sha256(b"\x01" + left + right).digest()


class Tree:
    """The tree as it grows: whole stretches from the left, the widest first."""

    def __init__(self) -> None:
        self.size = 0
        self.edge: list[tuple[int, bytes]] = []

    def add(self, event_hash: str) -> None:
        found, width = hashlib.sha256(b"\x00" + bytes.fromhex(event_hash)).digest(), 1
        while self.edge and self.edge[-1][0] == width:
            found, width = node(self.edge.pop()[1], found), 2 * width
        self.edge.append((width, found))
        self.size += 1

    def root(self) -> str:
        if not self.edge:
            return hashlib.sha256(b"").hexdigest()
        found = self.edge[-1][1]
        for _, left in reversed(self.edge[:-1]):
            found = node(left, found)
        return found.hex()


def is_hash(text: Any, length: int = 64) -> bool:
    return isinstance(text, str) and len(text) == length and all(sign in "0123456789abcdef" for sign in text)


class Anchors:
    """What the file of anchors says, by the size of the tree. Reading it checks every signature."""

    def __init__(self, lines: Iterable[str] = ()) -> None:
        self.keys: dict[str, bytes] = {}
        self.by_size: dict[int, list[tuple[str, str]]] = {}
        self.log: str | None = None
        self.count = 0
        for number, line in enumerate(lines, 1):
            line = line.strip()
            if line and not line.startswith("#"):
                self._read(number, line)

    def _read(self, number: int, line: str) -> None:
        where = f"line {number} of the anchors"
        if not line.startswith("{"):
            self._typed(where, line.split())
            return
        try:
            said = json.loads(line)
        except (ValueError, RecursionError):
            raise Bad(f"{where} cannot be read") from None
        if canonical(said) != line:
            raise Bad(f"{where} is not written as an export writes it")
        if set(said) == {"key"}:
            self._key(where, said["key"])
            return
        if set(said) != {"anchor", "signature"}:
            raise Bad(f"{where} is neither a key nor an anchor")
        self._signed(where, said["anchor"], said["signature"])

    def _key(self, where: str, key: Any) -> None:
        public = key.get("public") if isinstance(key, dict) else None
        if not is_hash(public) or hashlib.sha256(bytes.fromhex(str(public))).hexdigest() != key.get("fingerprint"):
            raise Bad(f"{where}: the key does not belong to its fingerprint")
        if set(key) != {"fingerprint", "public", "from"}:
            raise Bad(f"{where}: a key has a fingerprint, a public half and a day, and nothing else")
        self.keys[key["fingerprint"]] = bytes.fromhex(str(public))

    def _signed(self, where: str, facts: Any, signature: Any) -> None:
        if not isinstance(facts, dict) or set(facts) != {"at", "epoch", "key", "log", "root", "size"}:
            raise Bad(f"{where}: the anchor is not complete")
        public = self.keys.get(facts["key"])
        if public is None:
            raise Bad(f"{where}: the anchor names a key that does not stand above it")
        if not is_hash(signature, 128) or not is_signed(
            public, PREFIX + canonical(facts).encode(), bytes.fromhex(signature)
        ):
            raise Bad(f"{where}: the signature of the anchor of {facts['size']} events is not good")
        if self.log not in (None, facts["log"]):
            raise Bad(f"{where}: the anchor belongs to another record")
        self.log = facts["log"]
        self._keep(facts["size"], facts["root"], f"the anchor made at {facts['at']}")

    def _typed(self, where: str, words: list[str]) -> None:
        if len(words) != 2 or not words[0].isdigit() or not is_hash(words[1].lower(), len(words[1])):
            raise Bad(f"{where} is no anchor; write the number of events and the beginning of the root")
        if len(words[1]) < SHORT:
            raise Bad(f"{where}: {len(words[1])} characters of the root are given, {SHORT} are needed")
        self._keep(words[0], words[1].lower(), f"{where}, typed in,")

    def _keep(self, size: str, root: str, words: str) -> None:
        self.by_size.setdefault(int(size), []).append((root, words))
        self.count += 1


class Record:
    """The export as it is read, line by line. `check` gives the first bad place as Bad."""

    def __init__(self, anchors: Anchors) -> None:
        self.anchors, self.tree, self.last = anchors, Tree(), GENESIS
        self.held, self.hidden, self.read = 0, 0, hashlib.sha256()
        self.header: dict[str, Any] | None = None
        self.end: Any = None

    def check(self, lines: Iterable[bytes]) -> Record:
        """Read all lines, each as bytes with its line end; returns this."""
        for number, raw in enumerate(lines, 1):
            self._line(number, raw)
            if self.end is None:
                self.read.update(raw)
        self._finish()
        return self

    def _line(self, number: int, raw: bytes) -> None:
        if self.end is not None:
            raise Bad(f"{self._place(number)} stands behind the end of the export")
        try:
            text = raw.decode()
            said = json.loads(text)
        except (ValueError, RecursionError):
            raise Bad(f"{self._place(number)} cannot be read") from None
        if not isinstance(said, dict) or text != canonical(said) + "\n":
            raise Bad(f"{self._place(number)} is not written as an export writes it")
        if number == 1:
            self._header(said)
        elif set(said) == {"end"}:
            self.end = said["end"]
        else:
            self._event(said)

    def _place(self, number: int) -> str:
        return "the first line" if number == 1 else f"event {self.tree.size + 1} (line {number})"

    def _header(self, said: dict[str, Any]) -> None:
        if set(said) != {"groutjobs_record", "log", "made_at", "events", "site"} or said["groutjobs_record"] != "1":
            raise Bad("the first line does not say that this is an export of a record, version 1")
        self.header = said
        if self.anchors.log not in (None, said["log"]):
            raise Bad("the anchors belong to another record than the export")

    def _event(self, said: dict[str, Any]) -> None:
        seq = self.tree.size + 1
        if str(said.get("seq")) != str(seq):
            raise Bad(self._out_of_order(seq, said.get("seq")))
        if set(said) == {"seq", "event_hash"}:
            if self.header is None or self.header["site"] is None:
                raise Bad(f"event {seq} has lost its content")
            self.hidden += 1
        else:
            self._full(seq, said)
        if not is_hash(said["event_hash"]):
            raise Bad(f"event {seq} has no hash that can be read")
        self.last = said["event_hash"]
        self.tree.add(self.last)
        self._compare(seq)

    def _full(self, seq: int, said: dict[str, Any]) -> None:
        if set(said) != EVENT:
            raise Bad(f"event {seq} has not the parts of an event")
        if said["prev_hash"] != self.last:
            raise Bad(f"event {seq} does not follow the event before it")
        content = {name: value for name, value in said.items() if name != "event_hash"}
        if hashlib.sha256(canonical(content).encode()).hexdigest() != said["event_hash"]:
            raise Bad(f"the content of event {seq} does not match its hash")
        self.held += 1

    @staticmethod
    def _out_of_order(seq: int, found: Any) -> str:
        if str(found).isdigit() and int(found) > seq:
            return f"event {seq} is missing; event {found} stands in its place"
        return f"event {found} stands in the place of event {seq}"

    def _compare(self, seq: int) -> None:
        """Every anchor of this size must say what the tree comes to."""
        said = self.anchors.by_size.get(seq)
        if not said:
            return
        root = self.tree.root()
        for expected, words in said:
            if not root.startswith(expected):
                raise Bad(
                    f"the first {seq} events are not those of {words}: "
                    f"the change is at or before event {seq}, after {self._good_before(seq)}"
                )

    def _good_before(self, seq: int) -> str:
        good = max((size for size in self.anchors.by_size if size < seq), default=0)
        return f"event {good}, up to which an anchor holds" if good else "the beginning; no anchor holds before it"

    def _finish(self) -> None:
        seq, longest = self.tree.size, max(self.anchors.by_size, default=0)
        if self.header is None:
            raise Bad("the export is empty")
        if longest > seq:
            raise Bad(f"event {seq + 1} is missing: the record ends at {seq}, an anchor tells of {longest} events")
        if self.end is None:
            raise Bad(f"the export is cut off after event {seq}: its last line is missing")
        if not isinstance(self.end, dict) or set(self.end) != END:
            raise Bad("the last line of the export is not complete")
        self._ends_here(seq, self.end)
        self._is_sealed(self.end)

    def _ends_here(self, seq: int, end: dict[str, Any]) -> None:
        told = self.header["events"] if self.header else ""
        if (str(end["seq"]), end["event_hash"]) != (str(seq), self.last) or told != str(seq):
            raise Bad(f"event {seq + 1} is missing: the export should hold {end['seq']} events and holds {seq}")
        if end["root"] != self.tree.root():
            raise Bad("the tree of the events does not come to what the last line says")
        if end["sha256"] != self.read.hexdigest():
            raise Bad("the export was changed after it was made: its lines do not match the hash in its last line")

    def _is_sealed(self, end: dict[str, Any]) -> None:
        public = self.anchors.keys.get(end["key"])
        if public is None:
            raise Bad("the last line names a key that the file of anchors does not hold")
        text = END_PREFIX + canonical({name: value for name, value in end.items() if name != "signature"}).encode()
        if not is_hash(end["signature"], 128) or not is_signed(public, text, bytes.fromhex(end["signature"])):
            raise Bad("the signature in the last line of the export is not good")


def told(record: Record) -> list[str]:
    """What was found good, as lines of text."""
    count, anchors = record.tree.size, record.anchors
    lines = [
        f"PASS: {count} events follow from each other; {record.held} were read whole, {record.hidden} by their hash.",
        f"{anchors.count} anchors hold. The last covers {max(anchors.by_size, default=0)} of {count} events.",
        f"Root of the tree over all {count} events: {record.tree.root()}",
    ]
    return lines + [f"Key that signed: {fingerprint}. Compare it." for fingerprint in anchors.keys]


def main(words: list[str]) -> int:
    if len(words) != 2:
        sys.stderr.write("Write: python3 verify_record.py export.jsonl anchors.txt\n")
        return 2
    try:
        with Path(words[1]).open(encoding="utf-8") as anchors, Path(words[0]).open("rb") as export:
            record = Record(Anchors(anchors)).check(export)
    except (OSError, UnicodeDecodeError) as error:
        sys.stderr.write(f"A file cannot be read: {error}\n")
        return 2
    except Bad as bad:
        sys.stdout.write(f"FAIL: {bad}.\n")
        return 1
    sys.stdout.write("\n".join(told(record)) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
