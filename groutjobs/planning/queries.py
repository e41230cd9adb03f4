"""Reads of grout systems and plans that pages and later stages share."""

from dataclasses import dataclass
from typing import Any

from django.db.models import Prefetch, QuerySet

from groutjobs.equipment.geometry import baseplate_of, foundation_of
from groutjobs.equipment.models import Machine
from groutjobs.planning.calc import SURVEY_POINTS_NEEDED
from groutjobs.planning.models import DataSheet, GroutLot, GroutSystem, PlanState, PourPlan


@dataclass(frozen=True)
class Lack:
    """Something that a machine must have before it can be planned."""

    part: str
    why: str


def plan_whole() -> QuerySet[PourPlan]:
    """Plans with all that a page, the pour and the report show of them; six queries for any number of plans."""
    return PourPlan.objects.select_related(
        "machine__site", "machine__foundation", "machine__baseplate", "data_sheet__grout_system", "lot", "made_by",
        "approved_by",
    ).prefetch_related(
        "points",
        "machine__foundation__survey_points",
        "machine__foundation__bolts",
        "machine__baseplate__compartments",
        "machine__baseplate__parts",
    )  # fmt: skip


def current_plan(machine: Machine) -> PourPlan | None:
    """The approved plan of the machine, else its newest one, else None."""
    plans = list(machine.plans.select_related("data_sheet__grout_system", "lot").order_by("-revision"))
    approved = [plan for plan in plans if plan.state == PlanState.APPROVED]
    return next(iter(approved or plans), None)


def plans_of(machine: Machine) -> QuerySet[PourPlan]:
    """All revisions, newest first, with their people."""
    return machine.plans.select_related("made_by", "approved_by").order_by("-revision")


def hour_set(plan: PourPlan) -> Any:
    """The hour chosen for the plan, with who chose it, or None. Its table stands right of this stage."""
    return plan.scheduled_pours.filter(is_current=True).select_related("chosen_by").first()


def systems_listed() -> QuerySet[GroutSystem]:
    """Grout systems with data sheets (newest first) and lots (oldest first); three queries for any number."""
    return (
        GroutSystem.objects.select_related("site")
        .prefetch_related(
            Prefetch("data_sheets", DataSheet.objects.order_by("-dated_on", "-pk")),
            Prefetch("lots", GroutLot.objects.order_by("expires_on", "pk")),
        )
        .order_by("site__name", "name")
    )


def sheets_in_use(sheet_ids: list[int]) -> set[int]:
    """Those data sheets that an approved or superseded plan rests on: they can no longer be changed."""
    fixed = PourPlan.objects.filter(data_sheet__in=sheet_ids).exclude(state=PlanState.DRAFTED)
    return set(fixed.values_list("data_sheet_id", flat=True))


def promised_kits(plan: PourPlan) -> int:
    """Kits of the plan's lot that approved plans of other machines bring to their pours."""
    if plan.lot_id is None:
        return 0
    others = PourPlan.objects.filter(lot=plan.lot_id, state=PlanState.APPROVED).exclude(machine=plan.machine_id)
    return sum(others.values_list("result__kits_total", flat=True))


def lacks_of(machine: Machine) -> list[Lack]:
    """What must be entered before the machine can be planned; the rows come from machine_whole()."""
    foundation, plate = foundation_of(machine), baseplate_of(machine)
    lacks = []
    if foundation is None:
        lacks.append(Lack("foundation", "its block, and elevations of the prepared concrete"))
    elif len(foundation.survey_points.all()) < SURVEY_POINTS_NEEDED:
        count = len(foundation.survey_points.all())
        lacks.append(
            Lack("foundation", f"{SURVEY_POINTS_NEEDED} or more surveyed points of the concrete; it has {count}")
        )
    if plate is None:
        lacks.append(Lack("plate", "its outline, compartments, holes and the elevation of its underside"))
    elif not plate.compartments.all():
        lacks.append(Lack("plate", "at least one compartment, because grout is placed and counted by compartment"))
    return lacks
