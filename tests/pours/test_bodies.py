"""A body is stored as it is, or refused with field, value, limit and source."""

from typing import Any
from uuid import uuid4

import pytest

from groutjobs.errors import GroutJobsError, OutOfRange, Unusable
from groutjobs.limits import LIMITS
from groutjobs.pours.bodies import BODIES, SlotKind, checked_body, in_both_units, title_of
from groutjobs.pours.models import EntryKind
from groutjobs.sources import sources

GOOD: dict[str, dict[str, Any]] = {
    "point_answer": {"point_id": 1, "answer": "accepted", "witness_id": 2, "photos": [3]},
    "reading": {"what": "air", "temp_c": 21.0, "humidity_ratio": 0.6},
    "liquids_started": {"batch": 1, "kits": 1, "lot": "L1"},
    "aggregate_in": {"batch": 1, "bags": 4},
    "wetted_out": {"batch": 1, "grout_c": 23.5, "as_entered": {"grout_c": {"text": "23,5", "unit": "degC"}}},
    "placed": {"batch": 1, "compartment": "A", "volume_l": 56.6, "left": "none"},
    "discarded": {"batch": 1, "why": "stiff"},
    "compartment_full": {"compartment": "A"},
    "leak": {"compartment": "A", "where": "north"},
    "leak_closed": {"leak": str(uuid4()), "how": "clay"},
    "stopped": {"why": "rain"},
    "resumed": {},
    "sample": {"label": "P-1", "batch": 1},
    "note": {"text": "dry"},
    "declared_complete": {},
    "struck": {},
    "resolved": {"keeps": str(uuid4()), "over": [str(uuid4())]},
}


@pytest.mark.parametrize("kind", EntryKind.values)
def test_every_kind_of_entry_has_a_body_that_is_stored_as_it_is(kind: str) -> None:
    assert checked_body(kind, GOOD[kind]) == GOOD[kind]
    assert title_of(kind)


@pytest.mark.parametrize(
    ("kind", "changes", "quantity"),
    [
        ("wetted_out", {"grout_c": float("nan")}, "Temperature of the mixed grout"),
        ("wetted_out", {"grout_c": 75.0}, "Temperature of the mixed grout"),
        ("wetted_out", {"grout_c": "23"}, "Temperature of the mixed grout"),
        ("wetted_out", {"grout_c": True}, "Temperature of the mixed grout"),
        ("wetted_out", {"batch": 1.5}, "Batch number"),
        ("wetted_out", {"batch": 0}, "Batch number"),
        ("placed", {"volume_l": -1.0}, "Volume placed"),
        ("placed", {"left": "half"}, "Left in the mixer"),
        ("reading", {"humidity_ratio": 60.0}, "Relative humidity"),
        ("note", {"text": "x" * 1001}, "Note"),
        ("note", {"text": "a\x00b"}, "Note"),
        ("note", {"text": 7}, "Note"),
        ("note", {"photos": "all"}, "Photos"),
        ("note", {"photos": ["1"]}, "Photo"),
        ("stopped", {"photos": [1]}, "Photos"),
        ("point_answer", {"point_id": "1"}, "Hold point"),
        ("leak_closed", {"leak": "north"}, "Leak"),
        ("wetted_out", {"as_entered": {"grout_c": "23"}}, "Values as typed"),
        ("wetted_out", {"as_entered": {"batches": {"text": "1", "unit": ""}}}, "Values as typed"),
        ("wetted_out", {"colour": "grey"}, "body"),
    ],
)
def test_a_malformed_value_is_refused_by_name(kind: str, changes: dict[str, Any], quantity: str) -> None:
    with pytest.raises(GroutJobsError) as refusal:
        checked_body(kind, GOOD[kind] | changes)
    assert isinstance(refusal.value, OutOfRange | Unusable)
    assert refusal.value.quantity == quantity
    assert refusal.value.source in sources()


@pytest.mark.parametrize("kind", [kind for kind in BODIES if any(slot.required for slot in BODIES[kind])])
def test_a_missing_value_is_refused_and_never_filled_in(kind: str) -> None:
    slot = next(slot for slot in BODIES[kind] if slot.required)
    body = {name: value for name, value in GOOD[kind].items() if name != slot.name}
    with pytest.raises(Unusable, match="is missing"):
        checked_body(kind, body)


def test_an_unknown_kind_is_refused() -> None:
    with pytest.raises(Unusable, match="is none of"):
        checked_body("poured_out", {})


def test_limits_are_taken_at_the_edge_and_refused_beyond_it() -> None:
    limit = LIMITS["material_c"]
    assert checked_body("wetted_out", {"batch": 1, "grout_c": limit.high})["grout_c"] == limit.high
    with pytest.raises(OutOfRange):
        checked_body("wetted_out", {"batch": 1, "grout_c": limit.high + 0.01})


def test_every_number_of_the_table_has_a_limit_in_its_own_unit() -> None:
    for slots in BODIES.values():
        for slot in slots:
            if slot.kind is SlotKind.NUMBER and LIMITS[slot.limit_key].suffix:
                assert slot.name.endswith("_" + LIMITS[slot.limit_key].suffix), slot.name


def test_a_value_is_read_back_in_both_units() -> None:
    """23.5 °C is 74.3 °F by the definition of the degree Fahrenheit."""
    assert in_both_units(23.5, "c") == "23.5 °C = 74.3 °F"
    assert in_both_units(0.45, "ratio") == "45%"
