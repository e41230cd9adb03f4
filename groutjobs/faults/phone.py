"""A phone as a program: it makes ops as the app does, with ids, numbers and proofs. For fault runs and tests."""

import base64
import datetime as dt
import hashlib
import hmac
import json
import secrets
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

ZEROS = "0" * 64


def uuid7(at_ms: int | None = None) -> UUID:
    """An id of version 7 (RFC 9562): time in front, the rest by chance."""
    number = (at_ms if at_ms is not None else time.time_ns() // 1_000_000) << 80 | secrets.randbits(80)
    number = number & ~(0xF << 76) | 7 << 76
    return UUID(int=number & ~(0x3 << 62) | 0x2 << 62)


def canonical(values: Mapping[str, Any]) -> str:
    return json.dumps(values, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


@dataclass(frozen=True)
class Made:
    """An op as the phone keeps and sends it."""

    op_id: str
    sha256: str
    text: str
    seq: int

    def sent(self) -> dict[str, str]:
        return {"op_id": self.op_id, "sha256": self.sha256, "text": self.text}


@dataclass
class Phone:
    """One phone with one person on it. `offset_ms` is what it believes of its clock."""

    device_id: str
    token: str
    author_id: int
    author_key: str | None
    key: bytes
    seq: int = 0
    clock: dict[str, Any] = field(default_factory=lambda: {"offset_ms": 0, "age_s": 60, "boot": "same"})

    def op(self, record_id: int, kind: str, body: Mapping[str, Any], /, **fields: Any) -> Made:
        """Make one op; `fields` replaces any of its fields, `proof` the proof."""
        self.seq += 1
        at = fields.pop("at", None) or dt.datetime.now(dt.UTC)
        proof = fields.pop("proof", None)
        values: dict[str, Any] = {
            "v": 1, "op_id": str(uuid7()), "device_id": self.device_id, "device_seq": self.seq, "record_id": record_id,
            "kind": kind, "base_rev": 0, "deps": [], "replaces": None, "reason": "", "author_id": self.author_id,
            "author_key": self.author_key, "author_proof": ZEROS, "happened_at": stamp(at), "entered_at": stamp(at),
            "clock": dict(self.clock), "build": "harness", "body": dict(body),
        }  # fmt: skip
        values |= fields
        if proof is None and values["author_key"]:
            proof = hmac.new(self.key, canonical(values).encode(), hashlib.sha256).hexdigest()
        text = canonical(values | {"author_proof": proof or ZEROS})
        return Made(values["op_id"], hashlib.sha256(text.encode()).hexdigest(), text, values["device_seq"])


def stamp(moment: dt.datetime) -> str:
    return moment.isoformat(timespec="milliseconds")


def envelope(ops: Sequence[Made]) -> bytes:
    return json.dumps({"ops": [one.sent() for one in ops]}, ensure_ascii=False).encode()


def headers(content: bytes, **more: str) -> dict[str, str]:
    """What a phone sends beside its cookie."""
    digest = base64.b64encode(hashlib.sha256(content).digest()).decode()
    plain = {"Content-Type": "application/json", "X-Sync-Proto": "1", "Content-Digest": f"sha-256=:{digest}:"}
    return plain | more
