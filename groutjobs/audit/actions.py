"""Writing the record. `action` wraps every function of a stage that writes; `record` notes one change inside it."""

import functools
import hashlib
from collections.abc import Callable
from contextvars import ContextVar
from datetime import datetime
from typing import Any, ParamSpec, Protocol, TypeVar

from django.db import transaction
from django.db.models import Model
from django.utils import timezone

from groutjobs.audit.chain import canonical, hash_of, plain
from groutjobs.audit.models import AuditedRow, Event, Head

P = ParamSpec("P")
R = TypeVar("R")
_recorded: ContextVar[int] = ContextVar("recorded", default=0)


class Actor(Protocol):
    @property
    def pk(self) -> Any: ...


class NothingRecorded(RuntimeError):
    """An action ended without a word in the record; its changes were rolled back. A fault of the program."""


def action(function: Callable[P, R]) -> Callable[P, R]:
    """Run the function in one transaction and refuse to commit unless it noted at least one change."""

    @functools.wraps(function)
    def run(*args: P.args, **kwargs: P.kwargs) -> R:
        with transaction.atomic():
            before = _recorded.get()
            result = function(*args, **kwargs)
            if _recorded.get() == before:
                raise NothingRecorded(f"{function.__module__}.{function.__qualname__}")
        return result

    run.is_action = True  # type: ignore[attr-defined]
    return run


def unchanged() -> None:
    """Say, inside an action, that it looked and found nothing to change; nothing is appended."""
    _recorded.set(_recorded.get() + 1)


def snapshot(row: Model) -> dict[str, Any]:
    """The stored columns of a row as the record keeps them; taken before a change."""
    personal = getattr(row, "personal_fields", ())
    columns: dict[str, Any] = {}
    for field in row._meta.concrete_fields:
        value = getattr(row, field.attname)
        columns[field.attname] = _commitment(row, value) if field.attname in personal else plain(value)
    return columns


def record(
    row: AuditedRow,
    *,
    by: Actor | None,
    kind: str,
    before: dict[str, Any] | None = None,
    reason: str = "",
    device: str = "",
    at: datetime | None = None,
    extra: dict[str, Any] | None = None,
) -> Event | None:
    """Append what changed in the row since `before` (all of it for a new row); None where nothing did."""
    _recorded.set(_recorded.get() + 1)
    after = snapshot(row)
    old = before or {}
    changed = {name: {"old": old.get(name), "new": value} for name, value in after.items() if old.get(name) != value}
    if not changed and not extra:
        return None
    body = {"changed": changed} | ({"extra": plain(extra)} if extra else {})
    return _append(
        at=at or timezone.now(),
        actor_id=by.pk if by else None,
        device=device,
        kind=kind,
        object_kind=row._meta.model_name or "",
        object_id=str(row.pk),
        object_label=str(getattr(row, "record_label", row))[:200],
        site_id=row.owning_site_id(),
        reason=reason,
        body=canonical(body),
    )


def _append(**columns: Any) -> Event:
    head = Head.objects.select_for_update().get(pk=1)
    event = Event(seq=head.seq + 1, prev_hash=head.event_hash, **columns)
    event.event_hash = hash_of(event)
    event.save(force_insert=True)
    head.seq, head.event_hash = event.seq, event.event_hash
    head.save(update_fields=["seq", "event_hash"])
    return event


def _commitment(row: Model, value: Any) -> str:
    salt = getattr(row, "salt", "")
    return "sha256:" + hashlib.sha256(f"{salt}|{value}".encode()).hexdigest()
