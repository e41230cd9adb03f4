"""Rows for tests: plain functions in flow order, keyword-only; a part not given is made.

They write tables directly, because a test of one stage should not depend on the pages of the stages before it.
"""

import datetime as dt
import itertools
from collections.abc import Sequence
from typing import Any

from groutjobs.accounts.models import Membership, Role, User
from groutjobs.curing.models import CureReading, ReadingImport
from groutjobs.equipment.models import (
    AnchorBolt,
    Baseplate,
    Compartment,
    Foundation,
    Machine,
    PartKind,
    PlatePart,
    Site,
    SurveyPoint,
)
from groutjobs.planning.models import DataSheet, GroutLot, GroutSystem, PlanPoint, PourPlan
from groutjobs.pours.models import Pour, PourEntry
from groutjobs.weather.models import Forecast

PASSWORD = "correct horse battery"
_numbers = itertools.count(1)


def make_site(**columns: Any) -> Site:
    defaults: dict[str, Any] = {
        "name": f"Test works {next(_numbers)}",
        "owner": "Test owner",
        "zone": "America/New_York",
        "latitude_deg": 36.1,
        "longitude_deg": -79.95,
        "elevation_m": 273.0,
        "annual_mean_c": 14.5,
        "annual_swing_c": 11.0,
        "emergency_contact": "gate house, channel 1",
        "environmental_contact": "duty environmental engineer",
        "shift_starts": dt.time(6, 0),
        "shift_ends": dt.time(18, 0),
        "working_days": [0, 1, 2, 3, 4, 5],
    }
    return Site.objects.create(**defaults | columns)


def make_person(*, site: Site | None = None, roles: tuple[Role, ...] = (), **columns: Any) -> User:
    number = next(_numbers)
    person = User.objects.create_user(
        columns.pop("email", f"person{number}@example.test"),
        password=columns.pop("password", PASSWORD),
        name=columns.pop("name", f"Person {number}"),
        **columns,
    )
    for role in roles:
        Membership.objects.create(user=person, site=site or make_site(), role=role)
    return person


def make_machine(*, site: Site | None = None, bare: bool = False, **columns: Any) -> Machine:
    """A pump on a 3.0 m by 1.5 m plate with two compartments; `bare` leaves plate and foundation out."""
    defaults: dict[str, Any] = {
        "tag": f"P-9{next(_numbers):05d}",  # no test names such a tag itself
        "service": "brine booster pump",
        "kind": "pump",
        "driver_kw": 250.0,
        "speed_rpm": 1780.0,
        "mass_kg": 3200.0,
        "level_class": "api_pump",
    }
    machine = Machine.objects.create(site=site or make_site(), **defaults | columns)
    if not bare:
        make_foundation(machine=machine)
        make_baseplate(machine=machine)
    return machine


def make_foundation(*, machine: Machine, survey: bool = True, **columns: Any) -> Foundation:
    defaults: dict[str, Any] = {
        "length_mm": 3600.0,
        "width_mm": 2100.0,
        "height_mm": 1200.0,
        "concrete_mpa": 28.0,
        "tested_mpa": 31.0,
        "placed_on": dt.date(2026, 1, 15),
        "exposure": "open",
        "removed_mm": 25.0,
        "roughness_mm": 13.0,
    }
    foundation = Foundation.objects.create(machine=machine, **defaults | columns)
    if survey:
        points = [(x, y) for x in (0.0, 1200.0, 2400.0, 3600.0) for y in (0.0, 1050.0, 2100.0)]
        SurveyPoint.objects.bulk_create(
            SurveyPoint(foundation=foundation, x_mm=x, y_mm=y, elevation_mm=100.0 + (x + y) % 7) for x, y in points
        )
    places = [(450.0, 450.0), (1800.0, 450.0), (3150.0, 450.0), (450.0, 1650.0), (1800.0, 1650.0), (3150.0, 1650.0)]
    AnchorBolt.objects.bulk_create(
        AnchorBolt(
            foundation=foundation, label=f"B{number}", x_mm=x, y_mm=y, thread="M24×3", grade="ASTM F1554 grade 36",
            free_length_mm=320.0, sleeve_diameter_mm=60.0, sleeve_depth_mm=250.0,
        )
        for number, (x, y) in enumerate(places, 1)
    )  # fmt: skip
    return foundation


def make_baseplate(*, machine: Machine, **columns: Any) -> Baseplate:
    defaults: dict[str, Any] = {
        "outline": [[300, 300], [3300, 300], [3300, 1800], [300, 1800]],
        "underside_elevation_mm": 155.0,
        "thickness_mm": 25.0,
        "mass_kg": 900.0,
    }
    plate = Baseplate.objects.create(machine=machine, **defaults | columns)
    halves = {"A": (300, 1800), "B": (1800, 3300)}
    for name, (west, east) in halves.items():
        Compartment.objects.create(
            baseplate=plate, name=name, outline=[[west, 300], [east, 300], [east, 1800], [west, 1800]]
        )
    parts: list[dict[str, Any]] = [
        {"kind": PartKind.FILL_HOLE, "label": "F1", "x_mm": 1050.0, "y_mm": 1050.0, "diameter_mm": 120.0},
        {"kind": PartKind.FILL_HOLE, "label": "F2", "x_mm": 2550.0, "y_mm": 1050.0, "diameter_mm": 120.0},
        *(
            {"kind": PartKind.VENT, "label": f"V{number}", "x_mm": x, "y_mm": y, "diameter_mm": 13.0}
            for number, (x, y) in enumerate([(380.0, 380.0), (1720.0, 1720.0), (1880.0, 380.0), (3220.0, 1720.0)], 1)
        ),
        *(
            {
                "kind": PartKind.JACKSCREW, "label": f"J{number}", "x_mm": x, "y_mm": y,
                "diameter_mm": 60.0, "pitch_mm": 2.54,
            }
            for number, (x, y) in enumerate([(650.0, 450.0), (2950.0, 450.0), (650.0, 1650.0), (2950.0, 1650.0)], 1)
        ),
        *(
            {
                "kind": PartKind.MOUNTING_PAD, "label": f"M{number}", "x_mm": x, "y_mm": y,
                "length_mm": 300.0, "width_mm": 160.0,
            }
            for number, (x, y) in enumerate([(800.0, 750.0), (800.0, 1350.0), (2600.0, 750.0), (2600.0, 1350.0)], 1)
        ),
    ]  # fmt: skip
    PlatePart.objects.bulk_create(PlatePart(baseplate=plate, **part) for part in parts)
    return plate


def make_grout_system(*, site: Site | None = None, **columns: Any) -> GroutSystem:
    defaults: dict[str, Any] = {"name": f"Test epoxy {next(_numbers)}", "kind": "epoxy", "supplier": "Test supplier"}
    return GroutSystem.objects.create(site=site or make_site(), **defaults | columns)


def make_data_sheet(*, grout_system: GroutSystem | None = None, **columns: Any) -> DataSheet:
    defaults: dict[str, Any] = {
        "revision": "3",
        "dated_on": dt.date(2025, 6, 1),
        "kit_yield_l": 56.6,
        "kit_kg": 115.0,
        "composition": "resin 9.5 kg, hardener 3.5 kg, aggregate 4 bags of 25.5 kg",
        "density_kg_m3": 2030.0,
        "thickness_min_mm": 25.0,
        "thickness_max_mm": 150.0,
        "placing_min_c": 10.0,
        "placing_max_c": 32.0,
        "cure_min_c": 8.0,
        "shelf_life_d": 730.0,
        "mix_min": 8.0,
        "mixing_rules": "Whole kits only. Mixer at 25 rpm or less.",
        "working_life": [[10.0, 180.0], [23.0, 90.0], [32.0, 48.0]],
        "strength": [[23.0, 16.0, 45.0], [23.0, 24.0, 62.0], [23.0, 48.0, 80.0], [23.0, 168.0, 95.0]],
        "activation_kj_mol": 55.0,
    }
    return DataSheet.objects.create(grout_system=grout_system or make_grout_system(), **defaults | columns)


def make_lot(*, grout_system: GroutSystem, **columns: Any) -> GroutLot:
    defaults: dict[str, Any] = {
        "lot_no": f"L{next(_numbers)}",
        "kits": 24,
        "expires_on": dt.date(2028, 1, 1),
        "store_c": 20.0,
        "place": "heated store, bay 2",
    }
    return GroutLot.objects.create(grout_system=grout_system, **defaults | columns)


def make_plan(*, machine: Machine | None = None, made_by: User | None = None, **columns: Any) -> PourPlan:
    machine = machine or make_machine()
    if "data_sheet" not in columns:
        columns["data_sheet"] = make_data_sheet(grout_system=make_grout_system(site=machine.site))
    defaults: dict[str, Any] = {
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
    }
    maker = made_by or make_person(site=machine.site, roles=(Role.ENGINEER,))
    return PourPlan.objects.create(machine=machine, made_by=maker, **defaults | columns)


PLAN_RESULT: dict[str, Any] = {
    "engine_version": "1",
    "inputs": {},
    "compartments": [
        {"name": name, "area_m2": 2.25, "depth_min_mm": 45.0, "depth_mean_mm": 49.0, "depth_max_mm": 55.0,
         "volume_l": 110.0, "sd_l": 3.6}
        for name in ("A", "B")
    ],
    "shoulder_l": 24.0, "chamfer_l": 3.0, "displaced_l": 1.0, "net_l": 240.0, "net_sd_l": 8.0,
    "with_waste_l": 276.0, "kits_needed": 5, "kits_total": 6, "mass_kg": 690.0,
}  # fmt: skip


def make_approved_plan(*, machine: Machine | None = None, points: bool = True, **columns: Any) -> PourPlan:
    """A plan as approving leaves it, with a short result and three lines of its inspection and test plan."""
    machine = machine or make_machine()
    engineer = make_person(site=machine.site, roles=(Role.ENGINEER,))
    if "data_sheet" not in columns:
        columns["data_sheet"] = make_data_sheet(grout_system=make_grout_system(site=machine.site))
    if "lot" not in columns:
        columns["lot"] = make_lot(grout_system=columns["data_sheet"].grout_system)
    defaults: dict[str, Any] = {
        "state": "approved",
        "approved_by": engineer,
        "approved_at": dt.datetime(2026, 4, 29, 12, 0, tzinfo=dt.UTC),
        "result": PLAN_RESULT,
    }
    plan = make_plan(machine=machine, made_by=engineer, **defaults | columns)
    if points:
        make_point(plan=plan, position=1, step="Set plate, level", code="H", before_pour=True)
        make_point(plan=plan, position=2, step="Forms, wax, seal", code="W", before_pour=True)
        make_point(plan=plan, position=3, step="Sounding", code="H", before_pour=False)
    return plan


def make_point(*, plan: PourPlan, **columns: Any) -> PlanPoint:
    defaults: dict[str, Any] = {
        "step": "Set plate, level",
        "checked": "Level along and across, grout gap",
        "recorded": "Readings and instrument",
        "acceptance": "Within 0.17 mm/m",
        "code": "H",
        "witness_role": "engineer",
        "before_pour": True,
        "source": "PPH",
    }
    if "position" not in columns:
        columns["position"] = plan.points.count() + 1
    return PlanPoint.objects.create(plan=plan, **defaults | columns)


def make_pour(*, plan: PourPlan | None = None, opened_by: User | None = None, **columns: Any) -> Pour:
    plan = plan or make_approved_plan()
    lead = opened_by or make_person(site=plan.machine.site, roles=(Role.CREW_LEAD,))
    return Pour.objects.create(plan=plan, opened_by=lead, **columns)


def make_entry(*, pour: Pour, kind: str, author: User | None = None, **columns: Any) -> PourEntry:
    """One entry as it is stored; the state of the pour is not renewed, use the action for that."""
    at = columns.pop("happened_at", dt.datetime(2026, 4, 30, 12, 0, tzinfo=dt.UTC))
    defaults: dict[str, Any] = {"body": {}, "happened_at": at, "entered_at": at, "received_at": at}
    return PourEntry.objects.create(pour=pour, kind=kind, author=author or pour.opened_by, **defaults | columns)


PLACED_AT = dt.datetime(2026, 4, 30, 13, 0, tzinfo=dt.UTC)


def make_placed_pour(*, plan: PourPlan | None = None, placed_at: dt.datetime = PLACED_AT, **columns: Any) -> Pour:
    """A pour whose last batch was placed at this moment, two hours after the first one."""
    poured_at = placed_at - dt.timedelta(hours=2)
    return make_pour(plan=plan, state="placed", poured_at=poured_at, placed_at=placed_at, **columns)


def make_cure_readings(
    *, pour: Pour, temps: Sequence[tuple[float, float]], probe: str = "grout", by: User | None = None
) -> ReadingImport:
    """Readings of one probe as (hours after placing, °C), filed under one import."""
    placed_at = pour.placed_at or PLACED_AT
    brought = ReadingImport.objects.create(
        pour=pour, row_count=len(temps), new_count=len(temps), brought_by=by or pour.opened_by
    )
    CureReading.objects.bulk_create(
        CureReading(
            pour=pour,
            brought_in=brought,
            probe=probe,
            read_at=placed_at + dt.timedelta(hours=hours),
            temp_c=temp_c,
            typed=f"{temp_c} °C",
        )
        for hours, temp_c in temps
    )
    return brought


def make_forecast(*, site: Site | None = None, hour_count: int = 240, past_hours: int = 0, **columns: Any) -> Forecast:
    """Mild, dry and even weather from 2026-05-04 00:00 UTC on; `hours` replaces single quantities by other lists."""
    site = site or make_site()
    even = {
        "temp_c": 22.0, "dew_point_c": 11.0, "relative_humidity": 0.5, "wind_km_h": 8.0, "cloud_ratio": 1.0,
        "solar_w_m2": 0.0, "rain_probability": 0.0,
    }  # fmt: skip
    hours: dict[str, Any] = {quantity: [value] * hour_count for quantity, value in even.items()}
    hours |= columns.pop("hours", {}) | {"past_hours": past_hours, "computed": []}
    defaults: dict[str, Any] = {
        "source": "hand",
        "source_name": "Test weather service",
        "issued_at": dt.datetime(2026, 5, 3, 18, tzinfo=dt.UTC),
        "zone": site.zone,
        "starts_at": dt.datetime(2026, 5, 4, tzinfo=dt.UTC),
    }
    maker = columns.pop("made_by", None) or make_person(site=site, roles=(Role.ENGINEER,))
    return Forecast.objects.create(site=site, hour_count=hour_count, hours=hours, made_by=maker, **defaults | columns)
