"""A chosen pour with known values, and what hangs on it, for the tests of what is due."""

import datetime as dt
from typing import Any

from groutjobs.accounts.models import Role
from groutjobs.equipment.models import Site
from groutjobs.outages.models import Outage, OutageCrew, OutageJob, OutageSchedule, ScheduledPour, ScheduleState
from groutjobs.windows.models import PourHours
from tests.factories import make_approved_plan, make_forecast, make_machine, make_person

HOUR = dt.timedelta(hours=1)
# 07:00 in New York on the day after its clocks were set back: 06:00 UTC on 1 November 2026 (tz database).
START = dt.datetime(2026, 11, 2, 12, tzinfo=dt.UTC)
CONDITIONING: dict[str, Any] = {
    "start_c": 9.0, "store_c": 23.0, "wanted_c": 18.0, "least_c": 18.0, "opened_h": 30.2, "as_it_stands_h": 44.0,
    "planned_h": 48.0, "is_entered": True, "rows": [["bag"]],
}  # fmt: skip
BASIS: dict[str, Any] = {
    "plan": {
        "inputs": {"data_sheet": {"kind": "epoxy"}}, "conditioning": CONDITIONING,
        "lifts": {"count": 1, "lift_mm": 55.0}, "timetable": {"duration_min": 120.0}, "heat": None,
    },
    "kits": 6,
    "cover": None,
}  # fmt: skip
COVER = {
    "kind": "heated", "from_at": "2026-11-01T06:00:00+00:00", "to_at": "2026-11-04T12:00:00+00:00", "held_c": 20.0,
}  # fmt: skip
MILESTONES: dict[str, Any] = {
    "prepared_from": {"label": "condition the material", "at": "2026-10-31T12:00:00+00:00", "source": "BLOCH-MCM"},
    "placed": {"label": "placing ends", "at": "2026-11-02T14:00:00+00:00", "source": "GROUTJOBS"},
    "strip": {"label": "strip the formwork", "at": "2026-11-03T18:00:00+00:00", "source": "BLOCH-MCM"},
    "align": {"label": "start the alignment", "at": None, "source": "GROUTJOBS"},
}


def step(code: str, starts_at: dt.datetime, hours: float = 4.0, **more: Any) -> dict[str, Any]:
    """A row of an accepted schedule, as outages/calc.py writes it."""
    ends_at = starts_at + hours * HOUR
    row = {"job": "P-1", "step": code, "label": code, "kind": "work", "crews": ["Day"], "locked": False}
    return row | {"starts_at": starts_at.isoformat(), "ends_at": ends_at.isoformat()} | more


STEPS = [
    step("chip", START - 60 * HOUR),
    step("formwork", START - 20 * HOUR, crews=["Grout crew"]),
    step("pour", START, kind="pour", crews=["Grout crew"]),
]


def search_result(starts_at: dt.datetime = START, *, blocked: bool = False) -> dict[str, Any]:
    """Three start hours, with one rule that stands in the way of all where `blocked`."""
    finding = {
        "code": "concrete", "level": "blocker", "message": "concrete 9.0 °C, under 10.0 °C",
        "message_us": "concrete 48.2 °F, under 50.0 °F", "margin": -1.0, "holds_from": None,
    }  # fmt: skip
    hour = {"ok": not blocked, "codes": [], "warnings": 0, "findings": [finding] if blocked else []}
    rule = {"code": "concrete", "label": "concrete", "hint": "Heat it.", "source": "DATASHEET"}
    align_at = (starts_at + 60 * HOUR).isoformat()
    return {
        "inputs": {"cover": None, "placement_h": 2.0},
        "rules": [rule],
        "hours": [hour | {"at": (starts_at + index * HOUR).isoformat()} for index in range(3)],
        "milestones": [{"code": "align", "label": "start the alignment", "source": "GROUTJOBS", "at": [align_at] * 3}],
    }


def make_search(pour_plan: Any, **columns: Any) -> PourHours:
    forecast = make_forecast(site=pour_plan.machine.site)
    given: dict[str, Any] = {"material_c": 22.0, "result": search_result(), "made_by": pour_plan.made_by}
    return PourHours.objects.create(plan=pour_plan, forecast=forecast, **given | columns)


def make_chosen(site: Site, *, tag: str = "P-1", **columns: Any) -> ScheduledPour:
    """The pour of an approved plan with two points before it, chosen four days ahead."""
    plan = make_approved_plan(machine=make_machine(site=site, tag=tag))
    given: dict[str, Any] = {
        "plan": plan, "starts_at": START, "milestones": MILESTONES, "basis": BASIS, "chosen_by": plan.made_by,
        "chosen_at": START - 96 * HOUR,
    }  # fmt: skip
    if "pour_hours" not in columns:
        given["pour_hours"] = make_search(plan, made_at=START - 96 * HOUR)
    return ScheduledPour.objects.create(**given | columns)


def make_outage(site: Site) -> Outage:
    return Outage.objects.create(site=site, name="Autumn", starts_at=START - 96 * HOUR, ends_at=START + 200 * HOUR)


def make_crew(outage: Outage, name: str) -> OutageCrew:
    return OutageCrew.objects.create(
        outage=outage, name=name, skills=["grout"], shift_starts=dt.time(6), shift_ends=dt.time(18),
        working_days=list(range(7)),
    )  # fmt: skip


def make_accepted(pour: ScheduledPour, **result: Any) -> OutageSchedule:
    """A schedule that pours at the chosen hour; `result` adds what a test looks at."""
    assert pour.outage is not None
    engineer = make_person(site=pour.outage.site, roles=(Role.ENGINEER,))
    OutageJob.objects.create(outage=pour.outage, plan=pour.plan)
    jobs = [
        {"tag": "P-1", "pour_at": START.isoformat(), "align_at": (START + 50 * HOUR).isoformat(), "due_at": None,
         "done_at": (START + 60 * HOUR).isoformat(), "odds": None},
    ]  # fmt: skip
    inputs = {"jobs": {"P-1": {"plan": pour.plan_id, "pour_hours": pour.pour_hours_id}}}
    return OutageSchedule.objects.create(
        outage=pour.outage, number=1, state=ScheduleState.ACCEPTED, asked_by=engineer, accepted_by=engineer,
        accepted_at=START - 90 * HOUR, result={"steps": STEPS, "jobs": jobs, "inputs": inputs} | result,
    )  # fmt: skip
