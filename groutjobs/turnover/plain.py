"""Rows and results as plain JSON values for the manifest."""

import dataclasses
import datetime as dt
import enum
from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.db.models import Model

HIDDEN = frozenset({"salt", "manifest_text", "search_text"})


def jsonable(value: Any) -> Any:
    """The value in JSON's own types; dataclasses become dicts of their fields, moments are in UTC."""
    if value is None or isinstance(value, bool | int | float):
        return value
    if isinstance(value, enum.Enum):
        return value.value
    if isinstance(value, str):
        return str(value)
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat(timespec="seconds")
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, UUID):
        return str(value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: jsonable(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(key): jsonable(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [jsonable(item) for item in value]
    raise TypeError(f"{type(value).__name__} has no place in a manifest")


def columns(row: Model) -> dict[str, Any]:
    """The stored columns of a row under their names."""
    return {
        field.attname: jsonable(getattr(row, field.attname))
        for field in row._meta.concrete_fields
        if field.attname not in HIDDEN
    }
