"""The order of work round a pour: what begins how long before the first batch, and why. From the result alone."""

import datetime as dt
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from groutjobs import units

Result = dict[str, Any]
READ_CORE_H = 1.0


@dataclass(frozen=True, kw_only=True)
class Step:
    """One step. `before_h` counts back from the first batch; None where it follows another step, see `when`."""

    code: str
    label: str
    note: str
    source: str
    before_h: float | None = None
    when: str = ""
    lasts_h: float | None = None


@dataclass(frozen=True, kw_only=True)
class StepRow:
    """A step as the page shows it; `at` where the hour of the pour is chosen."""

    step: Step
    when: str
    lasts: str
    at: dt.datetime | None


def step_rows(result: Result, system: str, starts_at: dt.datetime | None) -> list[StepRow]:
    """The steps of a stored result in the reader's units; none for a result that was computed before there were any."""
    if "lifts" not in result:
        return []
    is_epoxy = result["inputs"]["data_sheet"]["kind"] == "epoxy"
    steps = [
        *(_before_epoxy() if is_epoxy else _before_cement()),
        *_material(result, system, is_epoxy=is_epoxy),
        *_lifts(result, system, is_epoxy=is_epoxy),
        _after_epoxy() if is_epoxy else _after_cement(),
    ]
    timed = [step for step in steps if step.before_h is not None]
    timed.sort(key=lambda step: -(step.before_h or 0.0))
    return [_row(step, starts_at) for step in [*timed, *(step for step in steps if step.before_h is None)]]


def _row(step: Step, starts_at: dt.datetime | None) -> StepRow:
    when, at = step.when, None
    if step.before_h is not None:
        when = f"{hours(step.before_h)} before the first batch" if step.before_h else "First batch"
        at = starts_at - dt.timedelta(hours=step.before_h) if starts_at else None
    return StepRow(step=step, when=when, lasts=hours(step.lasts_h) if step.lasts_h is not None else "", at=at)


def hours(value: float) -> str:
    """Whole hours from ten on, tenths from one on, minutes below."""
    if value >= 10.0 or value == int(value):
        return f"{value:.0f} h"
    return f"{value:.1f} h" if value >= 1.0 else f"{value * 60:.0f} min"


def _before_epoxy() -> Iterator[Step]:
    yield Step(
        code="dry",
        label="Let the concrete dry",
        note="Only where it was cleaned with water. It is covered and stays dry from then on.",
        source="ACI351.5 3.1.2",
        before_h=48.0,
        lasts_h=48.0,
    )
    yield Step(
        code="shade",
        label="Shade foundation and plate",
        note="Concrete and plate come to one temperature; sun on the plate is kept off until 48 h after the pour.",
        source="BLOCH-MCM p.121",
        before_h=24.0,
        lasts_h=24.0,
    )


def _before_cement() -> Iterator[Step]:
    yield Step(
        code="wet",
        label="Keep the concrete wet",
        note="Right up to placing. Then free water is blown out of pockets and sleeves.",
        source="ACI351.4 3.1.1",
        before_h=24.0,
        lasts_h=24.0,
    )


def _material(result: Result, system: str, *, is_epoxy: bool) -> Iterator[Step]:
    found = result["conditioning"]
    if found and found["rows"]:
        yield _conditioning(found, system, "bags and pails" if is_epoxy else "bags")
    least = f" {units.shown(found['least_c'], 'c', system)} or more is wanted." if found else ""
    yield Step(
        code="core",
        label="Read the core of a bag and of a pail" if is_epoxy else "Read the core of a bag",
        note=f"Pushed into the middle of the package that stood coldest, or hottest.{least} Written into the pour log.",
        source="GROUTJOBS",
        before_h=READ_CORE_H,
    )


def _conditioning(found: dict[str, Any], system: str, packages: str) -> Step:
    store, wanted = (units.shown(found[name], "c", system) for name in ("store_c", "wanted_c"))
    opened, stands = (float(math.ceil(found[name])) for name in ("opened_h", "as_it_stands_h"))
    planned = found["planned_h"]
    need = f"The core needs {hours(opened)} opened and {hours(stands)} as it stands to reach {wanted}"
    spare_h = planned - opened
    if spare_h < 0:
        need += f": {hours(-spare_h)} more than planned"
    elif planned < stands:
        need += f": {hours(spare_h)} to spare, and only opened"
    else:
        need += f": {hours(spare_h)} to spare"
    return Step(
        code="condition",
        label=f"Bring the material into the store of {store}, open the pallets",
        note=f"{need}. Leave air between {packages}.",
        source="INCROPERA 5.8" if found["is_entered"] or planned != 48.0 else "BLOCH-MCM p.138, INCROPERA 5.8",
        before_h=planned,
        lasts_h=planned,
    )


def _lifts(result: Result, system: str, *, is_epoxy: bool) -> Iterator[Step]:
    lifts, placing_h = result["lifts"], result["timetable"]["duration_min"] / 60
    count, each = lifts["count"], units.shown(lifts["lift_mm"], "mm", system)
    if count == 1:
        note = f"One lift, {each} at the deepest place, without a break."
        yield Step(
            code="place", label="Mix and place", note=note, source="BLOCH-MCM p.140", before_h=0.0, lasts_h=placing_h
        )
        return
    for number in range(1, count + 1):
        if number > 1:
            yield _cold_joint(number, result, is_epoxy=is_epoxy)
        yield Step(
            code=f"lift{number}",
            label=f"Mix and place lift {number} of {count}",
            note=f"{each} thick. All lifts together take {hours(placing_h)} of placing; count batches by lift.",
            source="PRACTICE",
            before_h=0.0 if number == 1 else None,
            when=f"On the cold joint of lift {number - 1}",
            lasts_h=placing_h / count,
        )


def _cold_joint(number: int, result: Result, *, is_epoxy: bool) -> Step:
    below = number - 1
    if is_epoxy:
        planned = next((case for case in (result["heat"] or {}).get("cases", []) if case["code"] == "planned"), None)
        peak = f" It is hottest about {hours(planned['likely']['at_h'])} after placing." if planned else ""
        note = (
            f"Lift {below} has set and cooled to the concrete; read it.{peak} Then abrade its face, take the dust off "
            "and keep it dry."
        )
    else:
        note = f"Lift {below} has set. Roughen its face, take laitance and dust off, and wet it as the concrete was."
    return Step(
        code=f"joint{below}",
        label=f"Cold joint between lift {below} and lift {number}",
        note=f"{note} The supplier's instruction on the next lift decides.",
        source="PRACTICE",
        when=f"When lift {below} has cooled" if is_epoxy else f"When lift {below} has set",
    )


def _after_epoxy() -> Step:
    return Step(
        code="shade_after",
        label="Keep shade and cover over the grout",
        note="No shock of heat or cold, no rain. The cure clock tells when formwork and jackscrews come out.",
        source="BLOCH-MCM p.121",
        when="After placing",
        lasts_h=48.0,
    )


def _after_cement() -> Step:
    return Step(
        code="wet_cure",
        label="Keep the grout wet",
        note="And at 10 °C (50 °F) or more for 7 days.",
        source="BLOCH-MCM p.135",
        when="After placing",
        lasts_h=72.0,
    )
