"""The record as a file: one event to a line, the last line signed. For one site, others go in as hashes only.

audit/verify_record.py reads it without this program; `first_fault` lets the same reader look at the database itself.
"""

import datetime as dt
import hashlib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

from django.utils import timezone

from groutjobs.audit import verify_record
from groutjobs.audit.anchors import anchor_lines, log_id, record_stretch
from groutjobs.audit.chain import canonical, plain
from groutjobs.audit.keys import signing_key
from groutjobs.audit.models import Event, Head
from groutjobs.audit.tree import root_of

VERSION = "1"
END_PREFIX = verify_record.END_PREFIX
ALWAYS_WHOLE = frozenset({"record.key_changed"})
"""Belongs to no site and says nothing of anybody: which key signs."""
VERIFIER = Path(verify_record.__file__)


@cache
def verifier_sha256() -> str:
    """The hash of the verifier, to be printed where it is handed out."""
    return hashlib.sha256(VERIFIER.read_bytes()).hexdigest()


def export_lines(*, site_id: int | None = None, at: dt.datetime | None = None) -> Iterator[str]:
    """Lines of an export of the record as it stands, each with its line end. `site_id` limits the content."""
    private, key = signing_key()
    head = Head.objects.get(pk=1)
    read = hashlib.sha256()
    for line in _lines(head.seq, site_id, at or timezone.now()):
        read.update(line.encode())
        yield line
    end = {
        "seq": str(head.seq),
        "event_hash": head.event_hash,
        "root": root_of(record_stretch(), head.seq).hex(),
        "sha256": read.hexdigest(),
        "key": key.fingerprint,
    }
    signature = private.sign(END_PREFIX + canonical(end).encode()).hex()
    yield canonical({"end": end | {"signature": signature}}) + "\n"


def _lines(size: int, site_id: int | None, at: dt.datetime) -> Iterator[str]:
    yield canonical(
        {
            "groutjobs_record": VERSION,
            "log": log_id(),
            "made_at": at.astimezone(dt.UTC).isoformat(timespec="seconds"),
            "events": str(size),
            "site": None if site_id is None else str(site_id),
        }
    ) + "\n"  # fmt: skip
    for event in Event.objects.filter(seq__lte=size).order_by("seq").iterator(chunk_size=2000):
        is_whole = site_id is None or event.site_id == site_id or event.kind in ALWAYS_WHOLE
        yield canonical(_whole(event) if is_whole else _hidden(event)) + "\n"


def _whole(event: Event) -> dict[str, Any]:
    return {field.attname: plain(getattr(event, field.attname)) for field in Event._meta.concrete_fields}


def _hidden(event: Event) -> dict[str, str]:
    return {"seq": str(event.seq), "event_hash": event.event_hash}


def first_fault() -> str:
    """The first bad place of chain, tree and anchors in the database, in words; empty where all holds."""
    try:
        anchors = verify_record.Anchors(anchor_lines())
        verify_record.Record(anchors).check(line.encode() for line in export_lines())
    except verify_record.Bad as bad:
        return str(bad)
    return ""
