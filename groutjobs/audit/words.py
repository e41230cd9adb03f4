"""Events of the record in words: who, when, what it was and became with units, and why."""

import datetime as dt
import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.core.exceptions import FieldDoesNotExist
from django.db.models import Field, Model

from groutjobs import units
from groutjobs.audit.models import Event
from groutjobs.audit.queries import changes_in

LONGEST = 160
NOBODY = "the program"
HASHED = "personal, kept as a hash"
SKIPPED = frozenset({"salt", "as_entered"})


@dataclass(frozen=True)
class Change:
    """One column of one row: what it was and what it became."""

    name: str
    old: str
    new: str


@dataclass(frozen=True)
class Told:
    """An event as a person reads it. Of a new row `is_new` says so and the changes are its first values."""

    event: Event
    who: str
    what: str
    is_new: bool
    changes: tuple[Change, ...]


def told(events: Sequence[Event], names: Mapping[int, str], *, system: str) -> list[Told]:
    """Events in words; `names` gives people by id, `system` is the reader's."""
    return [_told(event, names, system) for event in events]


def people_in(events: Sequence[Event]) -> set[int]:
    """Ids of people whose names the words need, so that they can be fetched at once."""
    ids = {event.actor_id for event in events if event.actor_id}
    for event in events:
        model = _model(event.object_kind)
        for name, old, new in changes_in(event):
            field = _field(model, name)
            if field is not None and _is_person(field):
                ids |= {int(one) for one in (old, new) if str(one or "").isdigit()}
    return ids


def kind_words(kind: str) -> str:
    """“pour.entry_added” as “Pour: entry added”."""
    thing, _, step = kind.partition(".")
    return f"{thing.replace('_', ' ').capitalize()}: {step.replace('_', ' ')}"


def _told(event: Event, names: Mapping[int, str], system: str) -> Told:
    model, changes = _model(event.object_kind), changes_in(event)
    is_new = bool(changes) and all(old is None for _, old, _ in changes)
    shown = tuple(
        Change(_label(model, name), _value(model, name, old, names, system), _value(model, name, new, names, system))
        for name, old, new in changes
        if name not in SKIPPED and not (is_new and new in (None, "", [], {}))
    )
    who = names.get(event.actor_id, f"person {event.actor_id}") if event.actor_id else NOBODY
    return Told(event, who, kind_words(event.kind), is_new, shown)


def _model(kind: str) -> type[Model] | None:
    try:
        return apps.get_model("groutjobs", kind)
    except LookupError:
        return None


def _field(model: type[Model] | None, name: str) -> Field[Any, Any] | None:
    if model is None:
        return None
    try:
        return model._meta.get_field(name.removesuffix("_id"))  # type: ignore[return-value]
    except FieldDoesNotExist:
        return None


def _suffix(name: str) -> str:
    """The unit that a name ends in; empty for a name without one."""
    try:
        return units.suffix_of(name)
    except KeyError:
        return ""


def _is_person(field: Field[Any, Any]) -> bool:
    related = field.related_model
    return isinstance(related, type) and related._meta.model_name == "user"


def _label(model: type[Model] | None, name: str) -> str:
    field = _field(model, name)
    words = str(field.verbose_name) if field is not None else name.replace("_", " ")
    suffix = _suffix(name)
    bare = words.removesuffix(f" {suffix.replace('_', ' ')}") if suffix else words
    return bare[:1].upper() + bare[1:]


def _value(model: type[Model] | None, name: str, value: Any, names: Mapping[int, str], system: str) -> str:
    if value in (None, ""):
        return "empty"
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False, sort_keys=True)
    field = _field(model, name)
    if text.startswith("sha256:"):
        return HASHED
    if isinstance(value, bool):
        return "yes" if value else "no"
    if field is not None and _is_person(field):
        return names.get(int(text), f"person {text}") if text.isdigit() else text
    if field is not None and field.choices:
        return str(dict(field.flatchoices).get(text, text))
    return _quantity(name, text, system) or _moment(text) or _short(text)


def _quantity(name: str, text: str, system: str) -> str:
    suffix = _suffix(name)
    try:
        return units.shown(float(text), suffix, system) if suffix else ""
    except ValueError:
        return ""


def _moment(text: str) -> str:
    try:
        moment = dt.datetime.fromisoformat(text) if len(text) > 18 and text[4:5] == "-" else None
    except ValueError:
        return ""
    return f"{moment.astimezone(dt.UTC):%Y-%m-%d %H:%M} UTC" if moment and moment.tzinfo else ""


def _short(text: str) -> str:
    if len(text) <= LONGEST:
        return text
    digest = hashlib.sha256(text.encode()).hexdigest()[:16]
    return f"{text[:60]}… ({len(text)} characters, SHA-256 {digest})"
