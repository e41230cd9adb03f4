"""The published description of record.json fits what is frozen, and refuses what it should.

The part of JSON Schema 2020-12 that the file uses is checked by the few lines here, from memory of that standard.
"""

import copy
import json
import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from tests.turnover.finished import Job
from tests.turnover.signed import frozen

pytestmark = pytest.mark.django_db
TYPES: dict[str, type | tuple[type, ...]] = {
    "object": dict, "array": list, "string": str, "integer": int, "number": (int, float), "boolean": bool,
    "null": type(None),
}  # fmt: skip
KNOWN = {
    "$schema", "title", "description", "type", "required", "properties", "items", "enum", "const", "pattern", "minimum",
    "format", "additionalProperties", "prefixItems",
}  # fmt: skip


def faults(value: Any, schema: dict[str, Any], at: str = "$") -> Iterator[str]:
    assert set(schema) <= KNOWN, f"{at}: {set(schema) - KNOWN} is not checked here"
    kinds = schema.get("type", [])
    kinds = [kinds] if isinstance(kinds, str) else kinds
    if kinds and not any(isinstance(value, TYPES[kind]) for kind in kinds):
        yield f"{at} is no {kinds}"
        return
    if "const" in schema and value != schema["const"]:
        yield f"{at} is not {schema['const']}"
    if "enum" in schema and value not in schema["enum"]:
        yield f"{at} is none of {schema['enum']}"
    if "pattern" in schema and not re.search(schema["pattern"], value):
        yield f"{at} does not match {schema['pattern']}"
    if "minimum" in schema and value < schema["minimum"]:
        yield f"{at} is below {schema['minimum']}"
    yield from faults_inside(value, schema, at)


def faults_inside(value: Any, schema: dict[str, Any], at: str) -> Iterator[str]:
    if isinstance(value, dict):
        yield from (f"{at}.{name} is missing" for name in schema.get("required", ()) if name not in value)
        for name, one in value.items():
            yield from faults(one, schema.get("properties", {}).get(name) or schema.get("additionalProperties", {}),
                              f"{at}.{name}")  # fmt: skip
    if isinstance(value, list):
        for number, one in enumerate(value):
            yield from faults(one, schema.get("items", {}), f"{at}[{number}]")
        for number, part in enumerate(schema.get("prefixItems", ())):
            yield from faults(value[number], part, f"{at}[{number}]")


def schema() -> dict[str, Any]:
    answer = Client().get(reverse("turnover:record_schema"))
    assert answer.status_code == 200
    read: dict[str, Any] = json.loads(answer.content)
    return read


def test_what_is_frozen_fits_the_published_description(job: Job) -> None:
    assert list(faults(frozen(job).manifest, schema())) == []


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (("schema",), "another", "$.schema is not"),
        (("record", "event_hash"), "xyz", "$.record.event_hash does not match"),
        (("report", "revision"), 0, "$.report.revision is below 1"),
        (("report", "unit_system"), "feet", "$.report.unit_system is none of"),
        (("trail",), {}, "$.trail is no"),
        (("readings",), {"grout": [["2026-01-01T00:00:00+00:00", "warm"]]}, "$.readings.grout[0][1] is no"),
    ],
)
def test_it_refuses_what_it_should(job: Job, path: tuple[str, ...], value: Any, said: str) -> None:
    changed = copy.deepcopy(frozen(job).manifest)
    inner = changed
    for name in path[:-1]:
        inner = inner[name]
    inner[path[-1]] = value
    assert any(said in fault for fault in faults(changed, schema()))


def test_a_missing_part_is_told(job: Job) -> None:
    changed = frozen(job).manifest
    del changed["trail"]
    assert list(faults(changed, schema())) == ["$.trail is missing"]
