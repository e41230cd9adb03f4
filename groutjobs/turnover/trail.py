"""The change trail of a pour: who changed what, when, from what to what, and why; read from the append-only record."""

import hashlib
import json
from typing import Any

from groutjobs.accounts.models import User
from groutjobs.audit.models import Event
from groutjobs.audit.queries import changes_in
from groutjobs.pours.models import Pour
from groutjobs.turnover.plain import jsonable
from groutjobs.turnover.queries import trail_of

LONGEST = 160


def trail_json(pour: Pour) -> list[dict[str, Any]]:
    """One row for each event, oldest first. A new row lists no columns: the report shows it in its own table."""
    events = list(trail_of(pour))
    names = dict(User.objects.filter(pk__in={event.actor_id for event in events}).values_list("pk", "name"))
    return [
        {
            "seq": event.seq,
            "at": jsonable(event.at),
            "actor_id": event.actor_id,
            "who": names.get(event.actor_id or 0, "the program"),
            "device": event.device,
            "kind": event.kind,
            "object": event.object_label,
            "reason": event.reason,
            "changes": _changes(event),
            "event_hash": event.event_hash,
        }
        for event in events
    ]


def _changes(event: Event) -> list[dict[str, str]]:
    changes = changes_in(event)
    if all(old is None for _, old, _ in changes):
        return []
    return [{"name": name, "old": shortened(old), "new": shortened(new)} for name, old, new in changes]


def shortened(value: Any) -> str:
    """A stored value as text; a long one by its beginning, its length and its hash."""
    if value is None or value == "":
        return "empty"
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False, sort_keys=True)
    if len(text) <= LONGEST:
        return text
    return f"{text[:60]}… ({len(text)} characters, SHA-256 {hashlib.sha256(text.encode()).hexdigest()[:16]})"
