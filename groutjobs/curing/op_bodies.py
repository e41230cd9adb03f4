"""What an inspection of a phone holds: every value checked, and turned into the rows that the actions take.

Lists are short on the wire: a row of taps is ["A1", y, x of its first tap, "ssh.u"], one sign a tap; a bolt is
["B1", value, as typed].
"""

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from groutjobs.curing import calc
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.fields import quoted
from groutjobs.limits import LIMITS
from groutjobs.pours.bodies import HASH

SOURCE = "GROUTJOBS"
LEVEL, SOUNDING, BOLTS = "level_survey", "sounding", "bolt_tightening"
SIGNS = {"s": calc.SOLID, "h": calc.HOLLOW, "u": calc.UNSURE, "n": calc.NOT_REACHED}
NO_PLACE = "."
POINTS_MOST, TAPS_MOST, BOLTS_MOST, ROUNDS_MOST = 200, 3000, 200, 4
HEAD = {"instrument", "calibration_due_on", "remarks", "replaces_id", "blobs"}
FIELDS = {
    LEVEL: HEAD | {"occasion", "resolution_mm", "resolution_entered", "points"},
    SOUNDING: HEAD | {"spacing_mm", "rows", "free"},
    BOLTS: HEAD | {"method", "friction", "rounds", "unit", "final_round"},
}


@dataclass(frozen=True)
class Head:
    """What stands at the head of each inspection of a phone."""

    instrument: str
    calibration_due_on: dt.date
    remarks: str
    replaces_id: int | None
    blobs: tuple[str, ...]


def head_of(kind: str, body: Mapping[str, Any]) -> Head:
    """The head of a body, and a refusal of fields that its kind does not have."""
    if strange := sorted(set(body) - FIELDS[kind]):
        raise Unusable("inspection", f"{quoted(strange[0])} is no field of it", source=SOURCE)
    replaces = body.get("replaces_id")
    if replaces is not None and (isinstance(replaces, bool) or not isinstance(replaces, int)):
        raise Unusable("inspection", "what it replaces is named by no number", source=SOURCE)
    return Head(
        instrument=_text(body, "instrument", "Instrument and serial number", 80),
        calibration_due_on=_day(body),
        remarks=_text(body, "remarks", "Remarks", 2000, required=False),
        replaces_id=replaces,
        blobs=_blobs(body),
    )


def level_rows(body: Mapping[str, Any]) -> dict[str, Any]:
    """Points and step of a level survey; the limits are the server's."""
    points = [_point(one) for one in _list(body, "points", "Readings", POINTS_MOST)]
    occasion = body.get("occasion")
    if occasion not in calc.OCCASIONS:
        raise Unusable("Occasion", f"{quoted(str(occasion))} is none of {', '.join(calc.OCCASIONS)}", source=SOURCE)
    return {
        "occasion": occasion,
        "points": points,
        "resolution_mm": _number(body.get("resolution_mm"), "Smallest step", "resolution_mm"),
        "as_entered": {"resolution_mm": _entered(body.get("resolution_entered"))},
    }


def _point(one: Any) -> dict[str, Any]:
    if not isinstance(one, Mapping) or set(one) - {"label", "x_mm", "y_mm", "reading_mm", "entered"}:
        raise Unusable("Readings", "one is no label, place and reading", source=SOURCE)
    label = _text(one, "label", "Point", 12)
    return {
        "label": label,
        "x_mm": _number(one.get("x_mm"), f"{label}, x", "plan_mm"),
        "y_mm": _number(one.get("y_mm"), f"{label}, y", "plan_mm"),
        "reading_mm": _number(one.get("reading_mm"), f"Reading at {label}", "level_reading_mm"),
        "entered": _entered(one.get("entered")),
    }


def sounding_rows(body: Mapping[str, Any]) -> dict[str, Any]:
    """Every tap with its place and sound."""
    spacing_mm = body.get("spacing_mm")
    if spacing_mm not in calc.SPACINGS_MM:
        raise Unusable("Spacing", f"{quoted(str(spacing_mm))} is no grid of ours", source=SOURCE)
    taps = [tap for row in _list(body, "rows", "Rows of taps", TAPS_MOST) for tap in _row(row, float(spacing_mm))]
    free = [_free(one, number) for number, one in enumerate(_list(body, "free", "Free spots", 200, least=0), 1)]
    if len(taps) > TAPS_MOST:
        raise Unusable("Taps", f"{len(taps)}, up to {TAPS_MOST} fit one survey", source=SOURCE)
    if all(tap["sound"] == calc.NOT_REACHED for tap in [*taps, *free]):
        raise Unusable("Taps", "none was tapped", source=SOURCE)
    return {"spacing_mm": float(spacing_mm), "taps": taps + free}


def _row(row: Any, spacing_mm: float) -> list[dict[str, Any]]:
    if not isinstance(row, list) or len(row) != 4 or not all(isinstance(row[at], str) for at in (0, 3)):
        raise Unusable("Row of taps", "one is no name, y, x and signs", source=SOURCE)
    name, signs = row[0], row[3]
    compartment = name.rstrip("0123456789")
    if not compartment or len(name) > 16 or compartment == name or set(signs) - {*SIGNS, NO_PLACE}:
        raise Unusable(f"Row {quoted(name)}", f"{quoted(signs[:40])} are no taps of a row", source=SOURCE)
    y_mm, x_mm = (_number(row[at], f"Row {name}", "plan_mm") for at in (1, 2))
    heard = [(column, sign) for column, sign in enumerate(signs) if sign != NO_PLACE]
    return [
        {
            "name": f"{name}.{number}",
            "compartment": compartment,
            "row": int(name[len(compartment) :]),
            "x_mm": round(x_mm + column * spacing_mm, 1),
            "y_mm": y_mm,
            "sound": SIGNS[sign],
        }
        for number, (column, sign) in enumerate(heard, 1)
    ]


def _free(one: Any, number: int) -> dict[str, Any]:
    if not isinstance(one, list) or len(one) != 3 or one[2] not in SIGNS:
        raise Unusable("Free spot", "one is no x, y and sign", source=SOURCE)
    name = f"{calc.FREE} {number}"
    x_mm, y_mm = (_number(one[at], name, "plan_mm") for at in (0, 1))
    return {"name": name, "compartment": "", "row": 0, "x_mm": x_mm, "y_mm": y_mm, "sound": SIGNS[one[2]]}


def bolt_rows(body: Mapping[str, Any], order: Mapping[str, int], labels: set[str]) -> dict[str, Any]:
    """Passes bolt by bolt, the last values, and whether the order was kept, from the order of the entries."""
    method = body.get("method")
    if method not in calc.VALUE_OF or body.get("friction") not in calc.friction_names():
        raise Unusable("Bolts", "the way or the state of the threads is not one of ours", source=SOURCE)
    unit = _text(body, "unit", "Unit", 12)
    rounds = [_round(one, method, unit) for one in _list(body, "rounds", "Passes", ROUNDS_MOST)]
    if [one["share_ratio"] for one in rounds] != sorted({one["share_ratio"] for one in rounds}):
        raise Unusable("Passes", "they do not rise one after the other", source=SOURCE)
    final = rounds[-1]["values"] if rounds[-1]["share_ratio"] == 1.0 else []
    if not isinstance(body.get("final_round"), bool):
        raise Unusable("Final round", "neither made nor not made", source=SOURCE)
    turns = [[order.get(value["label"], 0) for value in one["values"]] for one in rounds]
    return {
        "method": method,
        "friction": body["friction"],
        "rounds": rounds,
        "final_round": body["final_round"],
        "passes": sum(labels <= {value["label"] for value in one["values"]} for one in rounds),
        "in_order": all(turn == sorted(turn) for turn in turns),
        "values": final,
        "as_entered": {},
    }


def _round(one: Any, method: str, unit: str) -> dict[str, Any]:
    if not isinstance(one, Mapping) or set(one) != {"share_ratio", "values"}:
        raise Unusable("Pass", "one is no share and values", source=SOURCE)
    share = one["share_ratio"]
    if isinstance(share, bool) or not isinstance(share, int | float) or not 0 < share <= 1:
        raise Unusable("Pass", f"{quoted(str(share))} is no share of the full value", source=SOURCE)
    values = [_bolt(value, method, unit) for value in _list(one, "values", "Pass", BOLTS_MOST, least=0)]
    if len({value["label"] for value in values}) < len(values):
        raise Unusable("Pass", "a bolt stands in it twice", source=SOURCE)
    return {"share_ratio": float(share), "values": values}


def _bolt(value: Any, method: str, unit: str) -> dict[str, Any]:
    if not isinstance(value, list) or len(value) != 3 or not all(isinstance(value[at], str) for at in (0, 2)):
        raise Unusable("Pass", "an entry is no bolt, value and text", source=SOURCE)
    name = calc.VALUE_OF[method]
    return {
        "label": value[0][:40],
        name: _number(value[1], f"Bolt {quoted(value[0])}", name),
        "entered": {"text": value[2][:30], "unit": unit},
    }


def _number(value: Any, what: str, limit_key: str) -> float:
    limit = LIMITS[limit_key]
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise Unusable(what, f"{quoted(str(value))} is not a number", source=SOURCE)
    if not limit.low <= value <= limit.high:
        raise OutOfRange(what, value, low=limit.low, high=limit.high, unit=limit.suffix, source=limit.source)
    return float(value)


def _text(values: Mapping[str, Any], name: str, what: str, most: int, *, required: bool = True) -> str:
    value = values.get(name, "")
    if not isinstance(value, str) or len(value) > most or (required and not value.strip()):
        raise Unusable(what, f"{quoted(str(value)[:60])} is not text of 1 to {most} characters", source=SOURCE)
    return value.strip()


def _day(body: Mapping[str, Any]) -> dt.date:
    value = body.get("calibration_due_on")
    try:
        return dt.date.fromisoformat(value if isinstance(value, str) else "")
    except ValueError as error:
        raise Unusable("Calibration due on", f"{quoted(str(value))} is no day", source=SOURCE) from error


def _blobs(body: Mapping[str, Any]) -> tuple[str, ...]:
    blobs = body.get("blobs") or []
    if wrong := [one for one in blobs if not isinstance(one, str) or not HASH.fullmatch(one)]:
        raise Unusable("Photo", f"{quoted(str(wrong[0]))} is not a SHA-256 in hex", source=SOURCE)
    return tuple(dict.fromkeys(blobs))


def _entered(value: Any) -> dict[str, str] | None:
    if value is None:
        return None
    if not isinstance(value, Mapping) or set(value) != {"text", "unit"}:
        raise Unusable("Value as typed", "is no text and unit", source=SOURCE)
    return {name: _text(value, name, "Value as typed", 30, required=False) for name in ("text", "unit")}


def _list(values: Mapping[str, Any], name: str, what: str, most: int, *, least: int = 1) -> list[Any]:
    value = values.get(name, [])
    if not isinstance(value, list) or not least <= len(value) <= most:
        raise Unusable(what, f"there is no list of {least} to {most} of them", source=SOURCE)
    return value
