"""An op as a phone wrote it: read from its very text, never written again. Pure; asks no table."""

import datetime as dt
import hashlib
import hmac
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from groutjobs.fields import quoted
from groutjobs.pours.bodies import PHOTOS_MAX

VERSION = 1
OP_BYTES = 16 * 1024
DEPS_MAX = 20
NESTED_MOST = 200
NO_PROOF = "0" * 64
_PROOF_FIELD = b'"author_proof":"'
GRADE_A_S = 15 * 60
GRADE_B_S = 24 * 3600
"""Ages of the last comparison with the server's clock up to which a time has grade A and B [GROUTJOBS]."""
BIGGEST = 2**53


class NotAnOp(ValueError):
    """The text names no op at all: nothing could be filed under it. The message says what is wrong with it."""


@dataclass(frozen=True)
class Clock:
    """What the phone knew of its clock: server time less phone time, how old that is, whether it still holds."""

    offset_ms: int | None = None
    age_s: int | None = None
    boot: str = "jump"

    @property
    def grade(self) -> str:
        """A: compared within a quarter of an hour in this run of the app. B: within a day. C: anything else."""
        if self.offset_ms is None or self.age_s is None or self.age_s < 0 or self.boot not in {"same", "other"}:
            return "C"
        if self.boot == "same" and self.age_s < GRADE_A_S:
            return "A"
        return "B" if self.age_s < GRADE_B_S else "C"

    def corrected(self, moment: dt.datetime) -> dt.datetime:
        """The moment by the server's clock; as the phone said where the difference is not known."""
        if self.offset_ms is None or self.boot == "jump":
            return moment
        try:
            return moment + dt.timedelta(milliseconds=self.offset_ms)
        except OverflowError:
            return moment


@dataclass(frozen=True)
class Op:
    """One op. `fault` says which field of it cannot be used; it is stored all the same."""

    text: bytes
    sha256: str
    op_id: UUID
    device_id: UUID
    device_seq: int
    version: int = 0
    record_id: int = 0
    kind: str = ""
    base_rev: int = 0
    deps: tuple[UUID, ...] = ()
    replaces: UUID | None = None
    reason: str = ""
    author_id: int = 0
    author_key: UUID | None = None
    author_proof: str = NO_PROOF
    happened_at: dt.datetime | None = None
    entered_at: dt.datetime | None = None
    clock: Clock = field(default_factory=Clock)
    build: str = ""
    body: Mapping[str, Any] = field(default_factory=dict)
    fault: str = ""

    @property
    def entered_corrected(self) -> dt.datetime | None:
        return self.clock.corrected(self.entered_at) if self.entered_at else None

    def proven_by(self, key: bytes) -> bool:
        """Whether the proof was made with this key: HMAC-SHA-256 over the text with zeros in its own place."""
        start = self.text.find(_PROOF_FIELD)
        if start < 0:
            return False
        start += len(_PROOF_FIELD)
        blank = self.text[:start] + NO_PROOF.encode() + self.text[start + len(NO_PROOF) :]
        return hmac.compare_digest(hmac.new(key, blank, hashlib.sha256).hexdigest(), self.author_proof)


def read_op(text: str) -> Op:
    """The op in this text. NotAnOp where it names no id, phone and number; any other fault stands in `fault`."""
    try:
        raw = text.encode()
        values = json.loads(text, object_pairs_hook=_no_key_twice, parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        raise NotAnOp(f"the text is not JSON: {error}") from error
    if not isinstance(values, dict):
        raise NotAnOp("the text is no JSON object")
    try:
        named: dict[str, Any] = {
            "text": raw,
            "sha256": hashlib.sha256(raw).hexdigest(),
            "op_id": _uuid(values, "op_id"),
            "device_id": _uuid(values, "device_id"),
            "device_seq": _whole(values, "device_seq", least=1),
        }
    except ValueError as error:
        raise NotAnOp(str(error)) from error
    fault = _not_storable(text, values)
    if fault:
        return Op(**named, fault=fault)
    rest, fault = _rest(values)
    return Op(**named, **rest, fault=_plain(fault))


def _not_storable(text: str, values: Mapping[str, Any]) -> str:
    """Why the values as a whole cannot be used: signs that no database takes, or a nest that no page could show."""
    if text.count("[") + text.count("{") > NESTED_MOST:
        return f"it holds more than {NESTED_MOST} lists and objects"
    plain = json.dumps(values, ensure_ascii=False)
    if "\\u0000" in plain or not _is_whole(plain):
        return "it holds a sign that cannot be stored: a zero, or half of a pair"
    return ""


def _is_whole(text: str) -> bool:
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return True


def _plain(text: str) -> str:
    return text.encode("utf-8", "replace").decode().replace("\x00", "?")


def _no_key_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    values = dict(pairs)
    if len(values) != len(pairs):
        raise ValueError("a name stands twice in one object")
    return values


def _no_constant(word: str) -> Any:
    raise ValueError(f"{word} is not a number")


def _rest(values: Mapping[str, Any]) -> tuple[dict[str, Any], str]:
    """Every other field that can be read, and the first one that cannot."""
    rest: dict[str, Any] = {}
    fault = ""
    for name, read in READERS.items():
        try:
            rest["version" if name == "v" else name] = read(values, name)
        except ValueError as error:
            fault = fault or str(error)
    unknown = sorted(set(values) - set(READERS) - {"op_id", "device_id", "device_seq"})
    if unknown and not fault:
        fault = f"{quoted(unknown[0])} is no field of an op"
    return rest, fault


def _given(values: Mapping[str, Any], name: str) -> Any:
    if name not in values:
        raise ValueError(f"{name} is missing")
    return values[name]


def _uuid(values: Mapping[str, Any], name: str) -> UUID:
    value = _given(values, name)
    return _as_uuid(value, name)


def _as_uuid(value: Any, name: str) -> UUID:
    if isinstance(value, str):
        try:
            read = UUID(value)
        except ValueError:
            read = None
        if read is not None and str(read) == value:
            return read
    raise ValueError(f"{name} {quoted(str(value))} is not a UUID in small letters")


def _uuid_or_none(values: Mapping[str, Any], name: str) -> UUID | None:
    return None if _given(values, name) is None else _uuid(values, name)


def _uuids(values: Mapping[str, Any], name: str) -> tuple[UUID, ...]:
    given = _given(values, name)
    if not isinstance(given, list) or len(given) > DEPS_MAX:
        raise ValueError(f"{name} is no list of up to {DEPS_MAX} ids")
    return tuple(_as_uuid(one, name) for one in given)


def _whole(values: Mapping[str, Any], name: str, least: int = 0) -> int:
    value = _given(values, name)
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value < BIGGEST:
        raise ValueError(f"{name} {quoted(str(value))} is not a whole number from {least} on")
    return value


def _version(values: Mapping[str, Any], name: str) -> int:
    value = _whole(values, name)
    if value != VERSION:
        raise ValueError(f"version {value} of the op is not known to this server, which knows {VERSION}")
    return value


def _text(most: int, fixed: int = 0) -> Any:
    def read(values: Mapping[str, Any], name: str) -> str:
        value = _given(values, name)
        if not isinstance(value, str) or len(value) > most or len(value) < fixed or "\x00" in value:
            raise ValueError(f"{name} {quoted(str(value))} is not text of up to {most} characters")
        return value

    return read


def _moment(values: Mapping[str, Any], name: str) -> dt.datetime:
    value = _given(values, name)
    if isinstance(value, str):
        try:
            read = dt.datetime.fromisoformat(value)
        except ValueError:
            read = None
        if read is not None and read.tzinfo is not None and 1970 <= read.year <= 9998:
            return read.astimezone(dt.UTC)
    raise ValueError(f"{name} {quoted(str(value))} is no time with offset, such as 2026-04-30T09:05:12.345-04:00")


def _clock(values: Mapping[str, Any], name: str) -> Clock:
    value = _given(values, name)
    if not isinstance(value, dict) or set(value) != {"offset_ms", "age_s", "boot"}:
        raise ValueError("clock is not offset_ms, age_s and boot")
    for key in ("offset_ms", "age_s"):
        number = value[key]
        if number is not None and (isinstance(number, bool) or not isinstance(number, int) or abs(number) >= BIGGEST):
            raise ValueError(f"clock: {key} {quoted(str(number))} is neither a whole number nor null")
    if value["boot"] not in {"same", "other", "jump"}:
        raise ValueError(f"clock: boot {quoted(str(value['boot']))} is none of same, other, jump")
    return Clock(value["offset_ms"], value["age_s"], value["boot"])


def _body(values: Mapping[str, Any], name: str) -> dict[str, Any]:
    value = _given(values, name)
    if not isinstance(value, dict):
        raise ValueError("body is no object")
    if "photos" in value:
        raise ValueError("body names photos by id; a phone names them by hash in blobs")
    blobs = value.get("blobs", [])
    if not isinstance(blobs, list) or len(blobs) > PHOTOS_MAX:
        raise ValueError(f"blobs is no list of up to {PHOTOS_MAX} hashes")
    return value


READERS: dict[str, Any] = {
    "v": _version,
    "record_id": _whole,
    "kind": _text(40),
    "base_rev": _whole,
    "deps": _uuids,
    "replaces": _uuid_or_none,
    "reason": _text(300),
    "author_id": _whole,
    "author_key": _uuid_or_none,
    "author_proof": _text(64, 64),
    "happened_at": _moment,
    "entered_at": _moment,
    "clock": _clock,
    "build": _text(40),
    "body": _body,
}
