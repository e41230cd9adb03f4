"""Checks a sealed PDF with pyHanko and looks at what makes it PDF/A-3. Its own process, limited in time and memory.

Reads one JSON order (path, certificate as PEM) from standard input and writes one JSON answer: `seal` with the
judgement of pyHanko, `gaps` with what PDF/A-3 asks for and the file lacks. It imports nothing of Django.
"""

import contextlib
import json
import logging
import re
import resource
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from asn1crypto import pem
from asn1crypto import x509 as asn1_x509
from pyhanko.pdf_utils import generic
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko.sign.validation.status import PdfSignatureStatus, TimestampSignatureStatus
from pyhanko_certvalidator import ValidationContext

CPU_LIMIT_S = 30
MEMORY_LIMIT_BYTES = 1024**3
FORBIDDEN = ("/JavaScript", "/JS", "/Launch", "/RichMedia", "/Movie", "/Sound", "/XFA")
MOST_OBJECTS = 400_000
NOT_FOLLOWED = frozenset({"/StructTreeRoot", "/Parent"})
"""The tree of tags holds no type and no action, and reading its many objects one by one takes time by their square."""


def judge(path: str, certificate: str) -> dict[str, Any]:
    """What pyHanko says of the seal, and what the file lacks of PDF/A-3."""
    with Path(path).open("rb") as file:
        reader = PdfFileReader(file)
        return {"seal": _seal(reader, certificate), "gaps": list(gaps(reader))}


def _seal(reader: PdfFileReader, certificate: str) -> dict[str, Any]:
    signatures = list(reader.embedded_signatures)
    if len(signatures) != 1:
        return {"holds": False, "words": f"{len(signatures)} signatures instead of one"}
    roots = [asn1_x509.Certificate.load(pem.unarmor(certificate.encode())[2])] if certificate else []
    moment = signatures[0].self_reported_timestamp
    context = ValidationContext(trust_roots=roots, moment=moment, allow_fetching=False)
    status = validate_pdf_signature(signatures[0], signer_validation_context=context, ts_validation_context=context)
    return {
        "holds": _holds(status),
        "intact": bool(status.intact),
        "valid": bool(status.valid),
        "trusted": bool(status.trusted),
        "whole_file": status.coverage is not None and status.coverage.name == "ENTIRE_FILE",
        "at": moment.isoformat() if moment else "",
        "time_stamp": _time_stamp(status.timestamp_validity),
        "words": status.summary(),
    }


def _holds(status: PdfSignatureStatus) -> bool:
    """Whole, by the key that is asked for, and a time stamp over these very bytes where there is one. Whether its
    authority is to be trusted is for the reader to say: we know none of them."""
    stamp = status.timestamp_validity
    return bool(
        status.intact and status.valid and status.trusted and status.seed_value_ok
        and (status.docmdp_ok or status.modification_level is None)
        and (stamp is None or (stamp.intact and stamp.valid))
    )  # fmt: skip


def _time_stamp(stamp: TimestampSignatureStatus | None) -> dict[str, str]:
    """When and by whom the seal was time-stamped; empty where it was not."""
    if stamp is None:
        return {}
    return {"at": stamp.timestamp.isoformat(), "by": stamp.signing_cert.subject.human_friendly}


def gaps(reader: PdfFileReader) -> Iterator[str]:
    """What ISO 19005-3 asks for and this file lacks, as far as its structure shows; from memory of the standard."""
    root = reader.root
    if reader.encrypted:
        yield "the file is encrypted"
    xmp = root["/Metadata"].data if "/Metadata" in root else b""
    for name, value in (("part", "3"), ("conformance", "A")):
        if not re.search(rf"pdfaid:{name}(=[\"']|>){value}[\"'<]".encode(), xmp):
            yield f"the metadata do not say {name} {value} of PDF/A"
    intents = _items(root.get("/OutputIntents", ()))
    if not any(one["/S"] == "/GTS_PDFA1" and "/DestOutputProfile" in one for one in intents):
        yield "there is no output intent with a colour profile"
    if not root.get("/MarkInfo", {}).get("/Marked") or "/StructTreeRoot" not in root:
        yield "the file is not tagged"
    if not root.get("/Lang"):
        yield "the language is not told"
    if not root.get("/AF") or any("/AFRelationship" not in one for one in _items(root.get("/AF", ()))):
        yield "an attachment does not say how it belongs to the file"
    yield from sorted(_gaps_of_objects(reader))


def _items(values: Any) -> list[Any]:
    return [_resolved(one) for one in values]


def _resolved(one: Any) -> Any:
    return one.get_object() if isinstance(one, generic.IndirectObject) else one  # type: ignore[no-untyped-call]


def _gaps_of_objects(reader: PdfFileReader) -> set[str]:
    found: set[str] = set()
    for one in _objects(reader.trailer.flatten()):
        found |= {f"the file holds {name[1:]}" for name in FORBIDDEN if name in one or one.get("/S") == name}
        if one.get("/Type") == "/FontDescriptor" and not {"/FontFile", "/FontFile2", "/FontFile3"} & set(one):
            found.add(f"the type {one.get('/FontName')} is not embedded")
        if one.get("/Type") == "/Annot" and not int(one.get("/F", 0)) & 4:
            found.add("an annotation is not printed")
        if "/Encrypt" in one:
            found.add("the file is encrypted")
    return found


def _objects(start: Any) -> Iterator[Any]:
    """Every dictionary that hangs from this one, each once."""
    waiting, seen = [start], set()
    while waiting:
        one = waiting.pop()
        if isinstance(one, generic.IndirectObject):
            if one.idnum in seen:
                continue
            seen.add(one.idnum)
            if len(seen) > MOST_OBJECTS:
                raise ValueError(f"more than {MOST_OBJECTS} objects")
            one = _resolved(one)
        if isinstance(one, generic.DictionaryObject):
            yield one
            waiting.extend(value for name, value in dict.items(one) if name not in NOT_FOLLOWED)
        elif isinstance(one, generic.ArrayObject):
            waiting.extend(list.__iter__(one))


def _limit() -> None:
    for what, most in ((resource.RLIMIT_CPU, CPU_LIMIT_S), (resource.RLIMIT_AS, MEMORY_LIMIT_BYTES)):
        with contextlib.suppress(ValueError, OSError):  # a system that knows no such limit
            resource.setrlimit(what, (most, most))


def main() -> None:
    _limit()
    logging.disable(logging.CRITICAL)
    order = json.load(sys.stdin)
    try:
        answer = judge(order["path"], order["certificate"])
    except Exception as error:  # a strange file may raise anything; the answer says so
        answer = {"seal": {"holds": False, "words": f"{type(error).__name__}: {error}"[:300]}, "gaps": ["not readable"]}
    json.dump(answer, sys.stdout)


if __name__ == "__main__":
    main()
