"""Rows of inspections as their forms hand them to the actions, and heads to go with them."""

import datetime as dt
from typing import Any

from groutjobs.curing import calc
from groutjobs.curing.actions import InspectionHead
from groutjobs.curing.models import CureInspection
from groutjobs.equipment.geometry import drawing_of
from groutjobs.pours.models import Pour

MADE_AT = dt.datetime(2026, 5, 4, 14, 0, tzinfo=dt.UTC)
PADS = {"M1": (800.0, 750.0), "M2": (800.0, 1350.0), "M3": (2600.0, 750.0), "M4": (2600.0, 1350.0)}


def head(*, replaces: CureInspection | None = None, **given: Any) -> InspectionHead:
    defaults: dict[str, Any] = {
        "made_at": MADE_AT,
        "instrument": "precision level no. 4711 (invented)",
        "calibration_due_on": dt.date(2027, 1, 31),
        "verdict": "accepted",
    }
    return InspectionHead(**defaults | given, replaces=replaces)


def level_rows(*readings_mm: float, **given: Any) -> dict[str, Any]:
    """Readings at the four pads of the plate in tests/factories.py; level and flat without any."""
    readings = readings_mm or (0.0, 0.01, 0.0, 0.01)
    points = [
        {"label": label, "x_mm": x, "y_mm": y, "reading_mm": reading}
        for (label, (x, y)), reading in zip(PADS.items(), readings, strict=True)
    ]
    defaults: dict[str, Any] = {
        "points": points,
        "resolution_mm": 0.01,
        "occasion": "after_grout",
        "tilt_limit_mm_m": 0.1667,
        "coplanarity_limit_mm": 0.0508,
        "limit_source": "PPH",
    }
    return defaults | given


def sounding_rows(
    pour: Pour, *, hollow: tuple[str, ...] = (), spacing_mm: float = 150.0, **given: Any
) -> dict[str, Any]:
    """All taps of the grid made; those named ring hollow."""
    taps = calc.tap_points(drawing_of(pour.plan.machine), spacing_mm)
    defaults: dict[str, Any] = {
        "spacing_mm": spacing_mm,
        "taps": [tap | {"sound": "hollow" if tap["name"] in hollow else "solid"} for tap in taps],
        "single_void_m2": 0.01,
        "total_ratio": 0.05,
        "limit_source": "GROUTJOBS",
        "least_depth_mm": 1.0,
        "greatest_depth_mm": 10.0,
    }
    return defaults | given


def bolt_rows(pour: Pour, *, torque_nm: float = 245.0, **given: Any) -> dict[str, Any]:
    defaults: dict[str, Any] = {
        "method": "torque",
        "friction": "oiled",
        "target_mpa": 149.0,
        "target_source": "PRACTICE",
        "passes": 3,
        "in_order": True,
        "values": [{"label": bolt["label"], "torque_nm": torque_nm} for bolt in calc.bolts_of(pour.plan.machine)],
    }
    return defaults | given
