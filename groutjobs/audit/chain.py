"""The text that is hashed: one for each value, the same on every machine and database."""

import hashlib
import json
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any
from uuid import UUID

from groutjobs.audit.models import Event

GENESIS = "0" * 64


def plain(value: Any) -> Any:
    """A value in the form that is hashed: numbers as decimal strings, times in UTC, nothing that rounds."""
    if value is None or isinstance(value, bool | str):
        return value
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds")
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, Decimal | UUID | date | time):
        return str(value)
    return str(value)


def canonical(value: Any) -> str:
    """One text for one value: sorted keys, no spaces, UTF-8."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def hash_of(event: Event) -> str:
    """The hash that the event must carry, from all its other columns and the hash before it."""
    columns = {
        field.attname: plain(getattr(event, field.attname))
        for field in Event._meta.concrete_fields
        if field.attname != "event_hash"
    }
    return hashlib.sha256(canonical(columns).encode()).hexdigest()
