"""What people type in the forms of this stage, and the machine of the worked takeoff."""

import datetime as dt
import tomllib
from pathlib import Path
from typing import Any

from django.test import Client

from groutjobs.accounts.models import Role, User
from groutjobs.equipment.models import Machine, Site
from groutjobs.planning import actions
from groutjobs.planning.models import DataSheet, GroutSystem, PourPlan
from tests.factories import make_data_sheet, make_grout_system, make_machine, make_person

GOLDEN = tomllib.loads(Path("fixtures/golden/takeoff.toml").read_text(encoding="utf-8"))["plate"]


def typed(**fields: str) -> dict[str, str]:
    """POST data: "75 mm" becomes the number and its unit; all other text is sent as it is."""
    data: dict[str, str] = {}
    for name, text in fields.items():
        number, _, unit = text.partition(" ")
        if unit and name.endswith(UNIT_ENDINGS):
            data |= {name: number, f"{name}_unit": unit}
        else:
            data[name] = text
    return data


UNIT_ENDINGS = ("_mm", "_c", "_l", "_kg", "_kg_m3", "_min", "_d", "_kn", "_ratio", "_h")

SHEET = typed(
    revision="4",
    dated_on="2026-01-10",
    composition="resin, hardener and 4 bags",
    kit_yield_l="56.6 L",
    kit_kg="115 kg",
    density_kg_m3="2030 kg_m3",
    thickness_min_mm="25 mm",
    thickness_max_mm="150 mm",
    placing_min_c="10 degC",
    placing_max_c="32 degC",
    cure_min_c="8 degC",
    mix_min="8 min",
    shelf_life_d="730 d",
    mixing_rules="Whole kits only.",
) | {
    "working_life": "10; 180\n23; 90\n32; 48",
    "working_life_unit": "metric",
    "strength": "23; 16; 45\n23; 24; 62\n23; 168; 95",
    "strength_unit": "metric",
}

PLAN = typed(
    planned_grout_c="22 degC",
    clearance_mm="75 mm",
    rise_mm="15 mm",
    chamfer_mm="25 mm",
    head_mm="200 mm",
    snug_kn="40 kN",
    waste_ratio="15 percent",
    place_min="10 min",
    turnaround_min="3 min",
) | {"on_plate": "bare", "spare_kits": "1", "mixers": "2", "crew": "6", "kits_per_batch": "1", "pour_on": ""}

COLUMNS: dict[str, Any] = {
    "clearance_mm": 75.0,
    "rise_mm": 15.0,
    "chamfer_mm": 25.0,
    "head_mm": 200.0,
    "waste_ratio": 0.15,
    "spare_kits": 1,
    "mixers": 2,
    "crew": 6,
    "place_min": 10.0,
    "turnaround_min": 3.0,
    "planned_grout_c": 22.0,
    "snug_kn": 40.0,
    "pour_on": dt.date(2026, 5, 4),
}


def engineer_of(site: Site) -> User:
    return make_person(site=site, roles=(Role.ENGINEER,))


def sheet_of(site: Site, *, kind: str = "epoxy", **columns: Any) -> DataSheet:
    system: GroutSystem = make_grout_system(site=site, kind=kind)
    return make_data_sheet(grout_system=system, **columns)


def planned(machine: Machine | None = None, **columns: Any) -> PourPlan:
    """A drafted plan made by the action."""
    machine = machine or make_machine()
    sheet = columns.pop("data_sheet", None) or sheet_of(machine.site)
    return actions.make_plan(machine=machine, by=engineer_of(machine.site), data_sheet=sheet, **COLUMNS | columns)


def worked_machine() -> Machine:
    """The plate of the worked takeoff: flat concrete, no profile, nothing that displaces grout."""
    machine = make_machine()
    machine.foundation.survey_points.update(elevation_mm=machine.baseplate.underside_elevation_mm - GOLDEN["gap_mm"])
    machine.foundation.bolts.all().delete()
    machine.foundation.roughness_mm = 0.0
    machine.foundation.save()
    machine.baseplate.parts.filter(kind="jackscrew").delete()
    return machine


def signed_in(person: User) -> Client:
    client = Client()
    client.force_login(person)
    return client
