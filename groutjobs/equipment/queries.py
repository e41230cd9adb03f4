"""Reads of the equipment that other stages share."""

from typing import Any

from django.db.models import Count, F, Max, Q, QuerySet

from groutjobs.equipment.geometry import baseplate_of, foundation_of
from groutjobs.equipment.models import Machine, Site


def machine_whole() -> QuerySet[Machine]:
    """Machines with site, foundation, survey, bolts, plate, compartments and parts: five queries for any number."""
    return Machine.objects.select_related("site", "foundation", "baseplate").prefetch_related(
        "foundation__survey_points", "foundation__bolts", "baseplate__compartments", "baseplate__parts"
    )


def machines_listed(found: str = "") -> QuerySet[Machine]:
    """Machines as the list shows them, with foundation_pk, plate_pk and plan_revision, each None where there is none.

    Plans come after machines in the flow, so their stage is reached by the reverse name alone.
    """
    rows = Machine.objects.select_related("site").annotate(
        foundation_pk=F("foundation__pk"), plate_pk=F("baseplate__pk"), plan_revision=Max("plans__revision")
    )
    if found:
        rows = rows.filter(Q(tag__icontains=found) | Q(service__icontains=found))
    return rows.order_by("site__name", "tag", "pk")


def plans_of(machine: Machine) -> list[Any]:
    """The pour plans of a machine, newest first."""
    return list(machine.plans.order_by("-revision"))


def sites_listed() -> QuerySet[Site]:
    """Sites with the number of their machines as `machine_count`."""
    return Site.objects.annotate(machine_count=Count("machines")).order_by("name")


def missing_from(machine: Machine) -> str:
    """What the machine still lacks before it can be planned, in words; empty where nothing is missing."""
    lacks = [
        word for word, row in (("foundation", foundation_of(machine)), ("plate", baseplate_of(machine))) if row is None
    ]
    return " and ".join(lacks)
