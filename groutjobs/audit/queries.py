"""Reading and checking the record."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import CharField, QuerySet, Value
from django.db.models.functions import Cast

from groutjobs.audit.chain import GENESIS, hash_of
from groutjobs.audit.models import AuditedRow, Event, Head


@dataclass(frozen=True)
class Break:
    """The first place where the chain does not hold, and what is wrong there."""

    seq: int
    reason: str


def events_about(rows: Iterable[AuditedRow], *others: QuerySet[Any]) -> QuerySet[Event]:
    """All events of these rows and of those that the querysets find, oldest first: one query for the rows' keys where
    there are querysets, one for the events."""
    keys: dict[str, list[str]] = {}
    for row in rows:
        keys.setdefault(row._meta.model_name or "", []).append(str(row.pk))
    for kind, key in _keys_in(others) if others else ():
        keys.setdefault(kind, []).append(key)
    events = Event.objects.none()
    for kind, ids in keys.items():
        events = events | Event.objects.filter(object_kind=kind, object_id__in=ids)
    return events.order_by("seq")


def _keys_in(querysets: Sequence[QuerySet[Any]]) -> list[tuple[str, str]]:
    """Kind and key, as the record writes it, of every row that the querysets find."""
    models = {queryset.model._meta.model_name: queryset.model for queryset in querysets}
    first, *rest = (
        queryset.order_by()
        .annotate(found_kind=Value(queryset.model._meta.model_name), found_key=Cast("pk", CharField()))
        .values_list("found_kind", "found_key")
        for queryset in querysets
    )
    found = first.union(*rest, all=True)
    return [(kind, str(models[kind]._meta.pk.to_python(key))) for kind, key in found]


def changes_in(event: Event) -> list[tuple[str, Any, Any]]:
    """Name, old and new value of each column that the event changed."""
    changed = json.loads(event.body).get("changed", {})
    return [(name, pair["old"], pair["new"]) for name, pair in sorted(changed.items())]


def first_break() -> Break | None:
    """Walk the whole chain; None where every link holds and the head is its last event."""
    previous, seq = GENESIS, 0
    for event in Event.objects.order_by("seq").iterator(chunk_size=2000):
        if event.seq != seq + 1:
            return Break(seq + 1, f"event {seq + 1} is missing")
        if event.prev_hash != previous:
            return Break(event.seq, "does not follow the event before it")
        if hash_of(event) != event.event_hash:
            return Break(event.seq, "its content does not match its hash")
        previous, seq = event.event_hash, event.seq
    head = Head.objects.get(pk=1)
    if (head.seq, head.event_hash) != (seq, previous):
        return Break(seq + 1, "the record ends before its head")
    return None
