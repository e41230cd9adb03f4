"""Ops of every released version are read for ever, byte for byte.

Proofs and hashes stand in the file; they were made apart from this program and checked with openssl (HMAC, RFC 2104).
"""

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest

from groutjobs.pours.bodies import checked_body
from groutjobs.pours.models import EntryKind
from groutjobs.sync.ops import read_op

FILE = Path(__file__).resolve().parents[2] / "fixtures" / "sync" / "op_v1.json"
GOLDEN: list[dict[str, str]] = json.loads(FILE.read_text(encoding="utf-8"))["ops"]
KEY = bytes(range(32))


def test_the_file_has_every_kind_of_entry() -> None:
    assert {read_op(one["text"]).kind for one in GOLDEN} == set(EntryKind.values)


@pytest.mark.parametrize("one", GOLDEN, ids=lambda one: str(json.loads(one["text"])["kind"]))
def test_it_is_read_without_a_fault(one: dict[str, str]) -> None:
    op = read_op(one["text"])
    assert op.fault == ""
    assert (str(op.op_id), op.sha256) == (one["op_id"], one["sha256"])
    assert op.sha256 == hashlib.sha256(one["text"].encode()).hexdigest()
    assert op.proven_by(KEY) is (op.author_key is not None)
    assert not op.proven_by(bytes(32))
    assert checked_body(op.kind, op.body) is not None


def test_the_first_hash_is_the_one_that_phones_were_told() -> None:
    assert GOLDEN[0]["sha256"] == "6499250c1451b782a346406de91c87340072d38a8eccbfc56f988d76f1947ce0"
    proof = "58005ab0f7f17e0732fd910d8ed1dd46cd1ad6f8d881f5795ee9a0337bb783bb"
    assert read_op(GOLDEN[0]["text"]).author_proof == proof


@pytest.mark.parametrize("place", [0, 300, -3])
def test_one_changed_sign_breaks_the_proof(place: int) -> None:
    text = GOLDEN[0]["text"]
    values: dict[str, Any] = json.loads(text)
    changed = json.dumps(values | {"device_seq": values["device_seq"] + 1 + abs(place)}, sort_keys=True,
                         separators=(",", ":"), ensure_ascii=False)  # fmt: skip
    assert not read_op(changed).proven_by(KEY)
