"""A pour as plain values, for a phone that works without the server: plan, points, forms with their limits, log."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from groutjobs import units
from groutjobs.limits import LIMITS
from groutjobs.pours.bodies import BODIES, KINDS_WITH_PHOTOS, Slot, SlotKind, title_of
from groutjobs.pours.calc import Basis, batch_life
from groutjobs.pours.forms import AHEAD_MIN
from groutjobs.pours.judge import MORE_THAN_A_BATCH
from groutjobs.pours.log import Fact, Line, PourLog
from groutjobs.pours.merge import SAME_MOMENT_S
from groutjobs.pours.models import EntryKind, Pour
from groutjobs.pours.steps import SOON_MIN

LIFE_STEP_K = 0.5
WITHOUT_FORM = frozenset({EntryKind.STRUCK, EntryKind.RESOLVED})
RULES = {
    "ahead_min": AHEAD_MIN,
    "soon_min": SOON_MIN,
    "double_s": SAME_MOMENT_S,
    "more_than_a_batch": MORE_THAN_A_BATCH,
}


def stamp(moment: dt.datetime | None) -> str | None:
    return moment.astimezone(dt.UTC).isoformat().replace("+00:00", "Z") if moment else None


def grout(pour: Pour, basis: Basis) -> dict[str, Any]:
    """What the data sheet and the plan say about the grout."""
    sheet = pour.plan.data_sheet
    return {
        "kind": basis.grout_kind,
        "data_sheet": basis.data_sheet,
        "kit_yield_l": basis.kit_yield_l,
        "kits_per_batch": basis.kits_per_batch,
        "kits_total": basis.kits_total,
        "batch_l": basis.kits_per_batch * basis.kit_yield_l,
        "mixing_rules": sheet.mixing_rules,
        "mix_min": sheet.mix_min,
        "placing_min_c": basis.placing_min_c,
        "placing_max_c": basis.placing_max_c,
        "planned_grout_c": basis.planned_grout_c,
        "working_life": [[point.temp_c, point.working_life_min] for point in basis.working_life],
        "life_by_tenth": _lives(basis),
    }


def _lives(basis: Basis) -> dict[str, Any]:
    """Minutes of working life by temperature, so that no second program has to compute them."""
    limit = LIMITS["material_c"]
    count = int((limit.high - limit.low) / LIFE_STEP_K) + 1
    temps = [limit.low + step * LIFE_STEP_K for step in range(count)]
    lives = [batch_life(basis, temp_c, system=units.METRIC).minutes for temp_c in temps]
    return {"from_c": limit.low, "step_k": LIFE_STEP_K, "minutes": [life and round(life, 2) for life in lives]}


def takeoff(basis: Basis) -> dict[str, Any]:
    rows = [{"name": fill.name, "takeoff_l": fill.takeoff_l, "sd_l": fill.sd_l} for fill in basis.fills]
    return {"net_l": basis.net_l, "net_sd_l": basis.net_sd_l, "compartments": rows}


def points(log: PourLog) -> list[dict[str, Any]]:
    names = ("id", "position", "step", "checked", "recorded", "acceptance", "code", "witness_role", "before_pour")
    return [{name: getattr(point, name) for name in names} | {"source": point.source} for point in log.points]


def kinds(grout_kind: str, cautions: Mapping[str, str]) -> dict[str, Any]:
    """The forms of the log: for each kind its fields with limits and units."""
    return {
        str(kind): {
            "title": title_of(kind, grout_kind),
            "takes_photos": kind in KINDS_WITH_PHOTOS,
            "caution": cautions.get(kind, ""),
            "slots": [_slot(slot) for slot in slots if not slot.cement_only or grout_kind == "cement"],
        }
        for kind, slots in BODIES.items()
        if kind not in WITHOUT_FORM
    }


def number(name: str, label: str, limit_key: str, *, required: bool = True) -> dict[str, Any]:
    """A number as a phone asks for it, with its limits and units."""
    return _slot(Slot(name, label, SlotKind.NUMBER, limit_key, required=required))


def _slot(slot: Slot) -> dict[str, Any]:
    told: dict[str, Any] = {
        "name": slot.name,
        "label": slot.label,
        "shape": slot.kind.value,
        "required": slot.required,
        "help": slot.help,
        "max_length": slot.max_length,
        "choices": [list(pair) for pair in slot.choices],
    }
    if slot.kind is not SlotKind.NUMBER:
        return told
    limit = LIMITS[slot.limit_key]
    names = ("low", "high", "likely_low", "likely_high", "source")
    return told | {
        "whole": limit.whole,
        "limit": {name: getattr(limit, name) for name in names},
        "units": [_unit(limit.suffix, unit) for unit in units.UNITS_OF[limit.suffix]] if limit.suffix else [],
    }


def _unit(suffix: str, unit: units.Unit) -> dict[str, Any]:
    """A unit with the two numbers that turn what is typed into SI: typed × scale + offset."""
    at_0, at_1 = (units.to_si(typed, suffix, unit.key) for typed in (0.0, 1.0))
    return {"key": unit.key, "label": unit.label, "decimals": unit.decimals, "scale": at_1 - at_0, "offset": at_0}


def entry(line: Line) -> dict[str, Any]:
    """One entry of the log as a phone keeps it."""
    fact = line.fact
    body = {name: value for name, value in fact.body.items() if name != "photos" or "blobs" not in fact.body}
    return {
        "id": str(fact.id),
        "rev": fact.rev,
        "kind": str(fact.kind),
        "title": line.title,
        "body": body,
        "happened_at": stamp(fact.happened_at),
        "entered_at": stamp(fact.entered_at),
        "received_at": stamp(fact.received_at),
        "device_happened_at": fact.sent.get("happened_at"),
        "clock_grade": fact.clock_grade,
        "author_id": fact.author_id,
        "author": fact.author,
        "device": fact.device,
        "replaces": str(fact.replaces_id) if fact.replaces_id else None,
        "reason": fact.reason,
        "deps": list(fact.sent.get("deps", ())),
        "is_late": fact.is_late,
    }


def merge(log: PourLog) -> dict[str, Any]:
    """What stands unequal or twice, and what settled it."""
    open_ones = [
        {
            "key": one.key, "what": one.what, "shown": str(one.shown), "sides": [str(side) for side in one.sides],
            "resolved_by": None,
        }
        for one in log.conflicts
    ]  # fmt: skip
    return {
        "conflicts": open_ones + [_settled(line.fact) for line in log.lines if _settles(line)],
        "doubles": [{"what": one.what, "entries": [str(side) for side in one.entries]} for one in log.doubles],
    }


def _settles(line: Line) -> bool:
    return line.fact.kind == EntryKind.RESOLVED and not line.is_struck


def _settled(fact: Fact) -> dict[str, Any]:
    keeps, over = fact.body["keeps"], list(fact.body["over"])
    what = f"Settled: {fact.reason}"
    return {
        "key": f"settled {fact.id}",
        "what": what,
        "shown": keeps,
        "sides": [keeps, *over],
        "resolved_by": str(fact.id),
    }
