"""What the phone sends for each kind of entry, for one pour."""

from typing import Any
from uuid import uuid4

from groutjobs.pours.models import Pour, PourEntry


def sent(pour: Pour, kind: str, **changes: Any) -> dict[str, Any]:
    """A good answer to the form of this kind; `changes` replace fields."""
    point = pour.plan.points.first()
    leak = PourEntry.objects.filter(pour=pour, kind="leak").first()
    values: dict[str, dict[str, Any]] = {
        "point_answer": {"point_id": point.pk if point else "", "answer": "accepted", "measured": "0.1 mm/m"},
        "reading": {"what": "plate", "temp_c": "21,5", "temp_c_unit": "degC", "instrument": "probe 3"},
        "liquids_started": {"batch": "1", "kits": "1", "lot": pour.plan.lot.lot_no if pour.plan.lot else "L1"},
        "aggregate_in": {"batch": "1", "bags": "4"},
        "wetted_out": {"batch": "1", "grout_c": "23.5", "grout_c_unit": "degC"},
        "placed": {"batch": "1", "compartment": "A", "volume_l": "56.6", "volume_l_unit": "L", "left": "none"},
        "discarded": {"batch": "1", "why": "too stiff"},
        "compartment_full": {"compartment": "A"},
        "leak": {"compartment": "A", "where": "north form"},
        "leak_closed": {"leak": str(leak.pk) if leak else "", "how": "clay"},
        "stopped": {"why": "rain"},
        "resumed": {},
        "sample": {"label": "P-1", "batch": "1"},
        "note": {"text": "dry"},
    }
    return {"entry_id": str(uuid4()), **values[kind], **changes}


def enter(pour: Pour, kind: str, query: str = "") -> str:
    return f"/phone/pours/{pour.pk}/enter/{kind}/{query}"
