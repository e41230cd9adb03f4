#!/usr/bin/env python3
"""Check a sealed turnover report on a machine without network: one file, the standard library, nothing to install.

    python3 verify_report.py report.pdf
    python3 verify_report.py report.pdf --sha256 HASH --record-sha256 HASH --seal HASH

It finds a changed byte, anything added after the seal, and an attached record that is not the one printed at the foot
of each page. It does not work out the mathematics of the signature: whoever can write a PDF can write these parts anew
and seal them with another key. Compare the fingerprint of the seal with the one you were told, and have "pdfsig" of
poppler or pyHanko check the signature itself.
"""

import argparse
import hashlib
import json
import re
import sys
import zlib
from dataclasses import dataclass
from pathlib import Path

MOST_BYTES = 64 * 1024 * 1024
MOST_RECORD_BYTES = 64 * 1024 * 1024
MESSAGE_DIGEST = bytes.fromhex("06092a864886f70d010904")
SIGNING_CERTIFICATE_V2 = bytes.fromhex("060b2a864886f70d010910022f")
SIGNATURE = re.compile(rb"/ByteRange\s*\[\s*(\d{1,10})\s+(\d{1,10})\s+(\d{1,10})\s+(\d{1,10})\s*\]")
EMBEDDED = re.compile(
    rb"\d+ 0 obj\s*<<(?:(?!endobj|stream).){0,600}?/EmbeddedFile(?:(?!endobj|stream).){0,600}?>>\s*stream\r?\n", re.S
)
HEX = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True)
class Found:
    """One thing that was looked at: its name, whether it holds, and what was found, in plain words."""

    name: str
    holds: bool
    words: str


@dataclass(frozen=True)
class Seal:
    """Where the seal lies: two stretches of bytes that it covers, and the signature between them."""

    start: int
    gap_at: int
    gap_end: int
    end: int
    signature: bytes


class Unreadable(ValueError):
    """The bytes are not what they should be; the text says where."""


def check(content: bytes, *, sha256: str = "", record_sha256: str = "", seal: str = "") -> list[Found]:
    """All checks in order; the first that does not hold is the first bad place."""
    if not content.startswith(b"%PDF-"):
        return [Found("file", False, "This is not a PDF: it does not begin with %PDF-.")]
    digest = hashlib.sha256(content).hexdigest()
    found = [Found("file", True, f"A PDF of {len(content)} bytes, SHA-256 {digest}.")]
    if sha256:
        same = digest == sha256.lower()
        words = "It is byte for byte the file with the hash you gave." if same else f"You gave another hash: {sha256}."
        found.append(Found("hash", same, words))
    try:
        place = seal_of(content)
    except Unreadable as error:
        return [*found, Found("seal", False, str(error))]
    return [
        *found,
        _coverage(content, place),
        _digest(content, place),
        *_certificate(place, seal),
        *_record(content, record_sha256),
    ]


def seal_of(content: bytes) -> Seal:
    """The first signature of the file, which must be the only one."""
    places = list(SIGNATURE.finditer(content))
    if not places:
        raise Unreadable("There is no seal in this file.")
    if len(places) > 1:
        raise Unreadable(
            f"There are {len(places)} signatures in this file; a report has one seal and nothing after it."
        )
    start, length, begins, rest = (int(number) for number in places[0].groups())
    gap = content[start + length : begins]
    if not (gap.startswith(b"<") and gap.endswith(b">")):
        raise Unreadable(f"The signature is not where the seal says, at byte {start + length}.")
    try:
        signature = bytes.fromhex(gap[1:-1].decode("ascii"))
    except ValueError as error:
        raise Unreadable(f"The signature at byte {start + length} cannot be read.") from error
    return Seal(start, start + length, begins, begins + rest, signature)


def _coverage(content: bytes, place: Seal) -> Found:
    if place.start != 0:
        return Found("coverage", False, f"The seal leaves out the first {place.start} bytes of the file.")
    if place.end < len(content):
        words = f"{len(content) - place.end} bytes were added after the seal, from byte {place.end} on."
        return Found("coverage", False, words)
    if place.end > len(content):
        return Found("coverage", False, f"The file ends {place.end - len(content)} bytes too early; it was cut.")
    return Found("coverage", True, "The seal covers the whole file; nothing was added after it.")


def _digest(content: bytes, place: Seal) -> Found:
    computed = hashlib.sha256(content[place.start : place.gap_at] + content[place.gap_end : place.end]).digest()
    try:
        signed = octets_after(place.signature, MESSAGE_DIGEST)
    except Unreadable as error:
        return Found("content", False, str(error))
    if signed != computed:
        return Found("content", False, "The content was changed after it was sealed: its digest is not the sealed one.")
    return Found("content", True, "Every byte under the seal is as it was when it was sealed.")


def octets_after(signature: bytes, name: bytes) -> bytes:
    """The octet string that follows this object identifier in the signature, inside SET or SEQUENCE."""
    at = signature.find(name)
    if at < 0:
        raise Unreadable("The signature holds no digest of the content.")
    at += len(name)
    while at + 2 <= len(signature):
        kind, length, body = _header(signature, at)
        if kind == 0x04:
            return signature[body : body + length]
        if kind not in {0x30, 0x31}:
            break
        at = body
    raise Unreadable("The digest in the signature cannot be read.")


def _header(data: bytes, at: int) -> tuple[int, int, int]:
    """Kind, length and first byte of the body of one DER value."""
    kind, length = data[at], data[at + 1]
    if length < 0x80:
        return kind, length, at + 2
    count = length & 0x7F
    if not 1 <= count <= 4 or at + 2 + count > len(data):
        raise Unreadable("The signature is damaged.")
    return kind, int.from_bytes(data[at + 2 : at + 2 + count], "big"), at + 2 + count


def _certificate(place: Seal, wanted: str) -> list[Found]:
    """The signature names the SHA-256 of the certificate that made it (RFC 5035)."""
    try:
        fingerprint = octets_after(place.signature, SIGNING_CERTIFICATE_V2).hex()
    except Unreadable as error:
        return [Found("key", False, f"The seal does not say which key made it. {error}")]
    if wanted and fingerprint != wanted.lower().replace(":", ""):
        return [Found("key", False, f"It was sealed with another key, fingerprint {fingerprint}.")]
    words = "the one you gave" if wanted else "compare it with the one you were told"
    return [Found("key", True, f"Fingerprint of the seal: {fingerprint}, {words}.")]


def record_of(content: bytes) -> bytes:
    """The bytes of the attached record.json."""
    place = EMBEDDED.search(content)
    if place is None:
        raise Unreadable("No record is attached to this file.")
    end = content.find(b"endstream", place.end())
    raw = content[place.end() : end if end >= 0 else len(content)]
    if b"/FlateDecode" not in place.group():
        return raw.rstrip(b"\r\n")
    unpacker = zlib.decompressobj()
    try:
        text = unpacker.decompress(raw, MOST_RECORD_BYTES)
    except zlib.error as error:
        raise Unreadable(f"The attached record cannot be unpacked: {error}.") from error
    if unpacker.unconsumed_tail:
        raise Unreadable(f"The attached record is larger than {MOST_RECORD_BYTES} bytes.")
    return text


def _record(content: bytes, wanted: str) -> list[Found]:
    try:
        text = record_of(content)
        facts = json.loads(text)
        words = f"{facts['report']['number']} revision {facts['report']['revision']}, {facts['machine']['tag']}"
    except Unreadable as error:
        return [Found("record", False, str(error))]
    except (ValueError, KeyError, TypeError, RecursionError):
        return [Found("record", False, "The attached record is not that of a report.")]
    digest = hashlib.sha256(text).hexdigest()
    if wanted and not digest.startswith(wanted.lower()):
        return [Found("record", False, f"The attached record has another hash: {digest}.")]
    return [
        Found(
            "record", True, f"Attached record of report {words}, SHA-256 {digest}; its beginning stands on each page."
        )
    ]


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", 1)[0])
    parser.add_argument("pdf", type=Path)
    parser.add_argument("--sha256", default="", help="hash of the whole file, as the register tells it")
    parser.add_argument("--record-sha256", default="", help="hash of the record or its beginning, as on each page")
    parser.add_argument("--seal", default="", help="fingerprint of the seal that you were told")
    given = parser.parse_args()
    if given.pdf.stat().st_size > MOST_BYTES:
        sys.exit(f"The file is larger than {MOST_BYTES} bytes.")
    found = check(given.pdf.read_bytes(), sha256=given.sha256, record_sha256=given.record_sha256, seal=given.seal)
    for one in found:
        sys.stdout.write(f"{'holds' if one.holds else 'FAILS':6}{one.name:10}{one.words}\n")
    bad = next((one for one in found if not one.holds), None)
    sys.stdout.write(f"FAIL at {bad.name}\n" if bad else "PASS, but see the note on the mathematics of the signature\n")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
