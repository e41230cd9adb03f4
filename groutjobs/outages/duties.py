"""What must be done by when round one chosen pour: backwards from its hour, forwards along its cure.

Plain values in and out, no clock and no database; every moment is aware, and every difference is taken in UTC.
"""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from groutjobs import units
from groutjobs.findings import Finding, Level
from groutjobs.planning.steps import StepRow, hours, step_rows

HOUR = dt.timedelta(hours=1)
CHECKS_H = ((72.0, 12.0), (24.0, 6.0), (4.0, 2.0))
"""Hours before the pour at which the forecast is looked at again, and how long there is for it [PRACTICE]."""
PUT_UP_H = {"shade": 2.0, "enclosure": 4.0, "heated": 4.0}
"""Time to put up a shade, or an enclosure with its heater, before it counts [GROUTJOBS]."""
POINTS_H, CREW_H, MATERIAL_H = 24.0, 1.0, 24.0
"""Hours for the hold points and for the crew before the pour, for the material before it is needed [PRACTICE]."""
CONDITIONING_KEPT = (
    "start_c", "store_c", "wanted_c", "least_c", "opened_h", "as_it_stands_h", "planned_h", "is_entered",
)  # fmt: skip
VERBS = frozenset({"strip", "jackscrews", "tension", "align"})
WORDS_WHEN_LATE = {
    "dry": "The concrete should have been left to dry",
    "wet": "The concrete should have been under water",
    "shade": "Shade over foundation and plate should have stood",
    "cover": "Putting up what stands over the plate should have begun",
    "material": "The material should have been at the site",
}


class DutyKind(StrEnum):
    """How a duty is done: work to begin, a look in a stretch of time, the pour, a crew's step, or the cure itself."""

    PREPARE = "prepare"
    LOOK = "look"
    POUR = "pour"
    STEP = "step"
    CURE = "cure"


@dataclass(frozen=True, kw_only=True)
class Duty:
    """One thing to do: its latest start, its end, why, and the source of that."""

    code: str
    kind: DutyKind
    label: str
    why: str
    source: str
    begins_at: dt.datetime
    ends_at: dt.datetime
    when_late: str = ""

    @property
    def late_from(self) -> dt.datetime:
        """Preparing is late once its latest start is past; the rest once its end is."""
        return self.begins_at if self.kind is DutyKind.PREPARE else self.ends_at


def basis(plan_result: Mapping[str, Any], search_result: Mapping[str, Any]) -> dict[str, Any]:
    """What duties are counted from: of the long results of plan and search the few values that they need."""
    found = plan_result.get("conditioning")
    kept = (
        {name: found[name] for name in CONDITIONING_KEPT if name in found} | {"rows": found["rows"][:1]}
        if found
        else None
    )
    cover = search_result["inputs"].get("cover")
    slim: dict[str, Any] = {"inputs": {"data_sheet": {"kind": plan_result["inputs"]["data_sheet"]["kind"]}}}
    if "lifts" in plan_result:
        slim |= {
            "conditioning": kept,
            "lifts": {name: plan_result["lifts"][name] for name in ("count", "lift_mm")},
            "timetable": {"duration_min": plan_result["timetable"]["duration_min"]},
            "heat": None,
        }
    return {
        "plan": slim,
        "kits": plan_result.get("kits_total"),
        "cover": {name: cover[name] for name in ("kind", "from_at", "to_at", "held_c")} if cover else None,
    }


def duties(
    *,
    starts_at: dt.datetime,
    counted_from: Mapping[str, Any],
    milestones: Mapping[str, Mapping[str, Any]],
    steps: Iterable[Mapping[str, Any]] = (),
    points: int = 0,
    system: str = units.METRIC,
) -> list[Duty]:
    """All duties of a pour by their latest start.

    `counted_from` is what basis() gave, `milestones` those of ScheduledPour, `steps` the rows of an accepted schedule
    that are this machine's, `points` how many hold and witness points come before the pour.
    """
    start = starts_at.astimezone(dt.UTC)
    cover = counted_from.get("cover")
    found = [
        *_of_plan(start, counted_from, system, is_covered=cover is not None),
        *(_of_cover(cover, system) if cover else ()),
        *_looks(start),
        *_release(start, points),
        _pour(start, milestones),
        *_of_cure(milestones),
        *_of_schedule(steps),
    ]
    material = _material(found, start, counted_from.get("kits"))
    return sorted([*found, material], key=lambda duty: duty.begins_at)


def _of_plan(start: dt.datetime, counted_from: Mapping[str, Any], system: str, *, is_covered: bool) -> Iterator[Duty]:
    """The steps of the plan that begin before the first batch."""
    plan = counted_from.get("plan") or {}
    for row in step_rows(plan, system, start) if plan else []:
        if not row.step.before_h or (is_covered and row.step.code == "shade"):
            continue
        yield _of_step(row, start, plan)


def _of_step(row: StepRow, start: dt.datetime, plan: Mapping[str, Any]) -> Duty:
    step = row.step
    begins_at = start - (step.before_h or 0.0) * HOUR
    lasts_h = step.before_h if step.lasts_h is None else step.lasts_h
    when_late = WORDS_WHEN_LATE.get(step.code, "")
    if step.code == "condition":
        found = plan["conditioning"]
        warm = "warm" if found["store_c"] >= found.get("start_c", found["store_c"]) else "cool"
        when_late = f"The pallet should have gone into the {warm} store"
    return Duty(
        code=step.code,
        kind=DutyKind.LOOK if step.code == "core" else DutyKind.PREPARE,
        label=step.label,
        why=f"{row.when}. {step.note}",
        source=step.source,
        begins_at=begins_at,
        ends_at=begins_at + (lasts_h or 0.0) * HOUR,
        when_late=when_late,
    )


def _of_cover(cover: Mapping[str, Any], system: str) -> Iterator[Duty]:
    """What the search took to stand over the plate: put up so early that it counts from its first hour."""
    from_at, to_at = (dt.datetime.fromisoformat(cover[name]) for name in ("from_at", "to_at"))
    put_up_h = PUT_UP_H[cover["kind"]]
    is_heated = cover.get("held_c") is not None
    what = "Put up the shade" if cover["kind"] == "shade" else "Put up the enclosure"
    if is_heated:
        what += f", switch the heat on and hold {units.shown(cover['held_c'], 'c', system)}"
    yield Duty(
        code="cover",
        kind=DutyKind.PREPARE,
        label=what,
        why=f"The pour hour was found with it. {hours(put_up_h)} are taken for putting it up; then it must stand.",
        source="GROUTJOBS",
        begins_at=from_at - put_up_h * HOUR,
        ends_at=from_at,
        when_late=WORDS_WHEN_LATE["cover"],
    )
    yield Duty(
        code="cover_off",
        kind=DutyKind.STEP,
        label="Take it down from here on" if not is_heated else "Heat off and enclosure down from here on",
        why="The search counted on it until then; the supplier's instruction decides.",
        source="GROUTJOBS",
        begins_at=to_at,
        ends_at=to_at + 24 * HOUR,
    )


def _looks(start: dt.datetime) -> Iterator[Duty]:
    for before_h, within_h in CHECKS_H:
        yield Duty(
            code=f"forecast_{before_h:.0f}h",
            kind=DutyKind.LOOK,
            label="Look at the forecast again, search the hours anew",
            why=f"{hours(before_h)} before the first batch; the nearer the hour, the better the forecast.",
            source="PRACTICE",
            begins_at=start - before_h * HOUR,
            ends_at=start - (before_h - within_h) * HOUR,
        )


def _release(start: dt.datetime, points: int) -> Iterator[Duty]:
    if points:
        yield Duty(
            code="points",
            kind=DutyKind.LOOK,
            label=f"Answer the {points} hold and witness points before the pour",
            why="The pour is released when all of them are answered; witnesses want notice.",
            source="PRACTICE",
            begins_at=start - POINTS_H * HOUR,
            ends_at=start,
        )
    yield Duty(
        code="crew",
        kind=DutyKind.LOOK,
        label="Crew, mixers and tools at the machine",
        why="Briefed, with gloves, masks and goggles; nobody joins after the first batch.",
        source="PRACTICE",
        begins_at=start - CREW_H * HOUR,
        ends_at=start,
    )


def _material(found: list[Duty], start: dt.datetime, kits: int | None) -> Duty:
    """The material comes a day before it is first needed: for the store, else for the pour."""
    needed_at = next((duty.begins_at for duty in found if duty.code == "condition"), start)
    count = "Material" if not kits else f"All {kits} kits or bags"
    return Duty(
        code="material",
        kind=DutyKind.LOOK,
        label=f"{count} at the site, counted against the plan",
        why="A day before it is needed, with lot numbers and expiry read.",
        source="PRACTICE",
        begins_at=needed_at - MATERIAL_H * HOUR,
        ends_at=needed_at,
        when_late=WORDS_WHEN_LATE["material"],
    )


def _pour(start: dt.datetime, milestones: Mapping[str, Mapping[str, Any]]) -> Duty:
    placed = milestones.get("placed", {}).get("at")
    return Duty(
        code="pour",
        kind=DutyKind.POUR,
        label="Pour: mix and place without a break",
        why="The hour that was chosen.",
        source="GROUTJOBS",
        begins_at=start,
        ends_at=dt.datetime.fromisoformat(placed) if placed else start + HOUR,
    )


def _of_cure(milestones: Mapping[str, Mapping[str, Any]]) -> Iterator[Duty]:
    for code, row in milestones.items():
        if code in {"prepared_from", "placed"} or not row.get("at"):
            continue
        reached_at = dt.datetime.fromisoformat(row["at"])
        label = str(row["label"])
        yield Duty(
            code=f"cure_{code}",
            kind=DutyKind.CURE,
            label=f"Cured enough to {label}" if code in VERBS else label.capitalize(),
            why="Predicted with the search; readings of the grout correct it on the Cure page.",
            source=str(row["source"]),
            begins_at=reached_at,
            ends_at=reached_at,
        )


def _of_schedule(steps: Iterable[Mapping[str, Any]]) -> Iterator[Duty]:
    """Work of the crews on this machine as the accepted schedule has it."""
    for row in steps:
        if row["kind"] != "work":
            continue
        crews = f" ({', '.join(row['crews'])})" if row["crews"] else ""
        yield Duty(
            code=f"step_{row['step']}",
            kind=DutyKind.STEP,
            label=f"{str(row['label']).capitalize()}{crews}",
            why="As the accepted schedule of the outage has it.",
            source="GROUTJOBS",
            begins_at=dt.datetime.fromisoformat(row["starts_at"]),
            ends_at=dt.datetime.fromisoformat(row["ends_at"]),
        )


def late_findings(found: Iterable[Duty], starts_at: dt.datetime, now: dt.datetime) -> list[Finding]:
    """A warning for each duty whose latest start is past when the hour is chosen; none for an hour that is past."""
    if starts_at <= now:
        return []
    return [_late(duty, now) for duty in found if duty.when_late and duty.begins_at < now and duty.late_from < now]


def _late(duty: Duty, now: dt.datetime) -> Finding:
    past_h = (now - duty.late_from) / HOUR
    return Finding(
        level=Level.WARNING,
        code=f"late_{duty.code}",
        message=f"{duty.when_late} {hours(past_h)} before now.",
        hint="Choose a later hour, or make sure that it was begun in time.",
        source=duty.source,
    )
