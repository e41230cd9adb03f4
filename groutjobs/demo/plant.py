"""The invented works: its site, people, grouts and machines."""

import datetime as dt
import math
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from groutjobs.accounts.actions import accept_invitation, change_preferences, invite
from groutjobs.accounts.models import Role, User
from groutjobs.demo import PASSWORD, address_of
from groutjobs.equipment.actions import add_machine, add_site, save_foundation, save_plate
from groutjobs.equipment.layout import Rectangle, compartments_of, outline_of, parts_of_rectangle
from groutjobs.equipment.models import Machine, PartKind, Site
from groutjobs.planning.actions import add_data_sheet, add_grout_system, add_lot
from groutjobs.planning.models import DataSheet, GroutLot

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures" / "demo"
MACHINE_COLUMNS = ("tag", "service", "kind", "driver_kw", "speed_rpm", "mass_kg", "level_class")


@dataclass(frozen=True)
class Works:
    """The site with its people by key, and data sheet and lot of each grout by its name."""

    site: Site
    people: dict[str, User]
    grouts: dict[str, tuple[DataSheet, GroutLot]]
    today: dt.date


def read(name: str) -> dict[str, Any]:
    return tomllib.loads((FIXTURES / name).read_text(encoding="utf-8"))


def make_works(today: dt.date, *, stock: int = 1) -> Works:
    """Site, people and grouts; `stock` multiplies the kits in the store."""
    site = add_site(by=None, columns=read("plant.toml")["site"] | {"is_demo": True})
    people: dict[str, User] = {}
    for row in read("people.toml")["person"]:
        invitation, _ = invite(
            site_id=site.pk,
            email=address_of(row["key"]),
            name=row["name"],
            roles=[Role(role) for role in row["roles"]],
            by=people.get("administrator"),
        )
        person = accept_invitation(invitation=invitation, password=PASSWORD)
        if "units" in row:
            change_preferences(by=person, name=person.name, unit_system=row["units"])
        people[row["key"]] = person
    grouts = {
        row["name"]: _make_grout(site, row, people["engineer"], today, stock) for row in read("grouts.toml")["system"]
    }
    return Works(site, people, grouts, today)


def _make_grout(site: Site, row: dict[str, Any], by: User, today: dt.date, stock: int) -> tuple[DataSheet, GroutLot]:
    system = add_grout_system(site=site, name=row["name"], kind=row["kind"], supplier=row["supplier"], by=by)
    sheet = add_data_sheet(grout_system=system, by=by, **row["sheet"])
    lots = [
        add_lot(
            grout_system=system,
            by=by,
            lot_no=lot["lot_no"],
            kits=lot["kits"] * stock,
            expires_on=today + dt.timedelta(days=lot["expires_in_d"]),
            store_c=lot["store_c"],
            place=lot["place"],
        )
        for lot in row["lot"]
    ]
    return sheet, lots[0]


def make_machine(works: Works, row: dict[str, Any]) -> Machine:
    """A machine; with its foundation and plate where the row has a block."""
    by = works.people["engineer"]
    machine = add_machine(site=works.site, by=by, columns={name: row[name] for name in MACHINE_COLUMNS})
    if "block" in row:
        _make_foundation(machine, row, by, works.today)
        _make_plate(machine, row, by)
    return machine


def _plate_rectangle(row: dict[str, Any]) -> Rectangle:
    (block_length, block_width, _), (length, width) = row["block"], row["plate"]
    return Rectangle(
        x_mm=(block_length - length) / 2,
        y_mm=(block_width - width) / 2,
        length_mm=length,
        width_mm=width,
        compartments_along=row["compartments"],
        fill_hole_mm=125.0,
        vent_mm=13.0,
    )


def _make_foundation(machine: Machine, row: dict[str, Any], by: User, today: dt.date) -> None:
    length, width, height = row["block"]
    columns = {
        "length_mm": length,
        "width_mm": width,
        "height_mm": height,
        "concrete_mpa": 28.0,
        "tested_mpa": 33.5,
        "placed_on": today - dt.timedelta(days=90),
        "exposure": row["exposure"],
        "removed_mm": 27.0,
        "roughness_mm": 14.0,
    }
    save_foundation(machine=machine, by=by, columns=columns, survey_points=_survey(length, width), bolts=_bolts(row))


def _survey(length_mm: float, width_mm: float) -> list[dict[str, float]]:
    """A grid of about 0.6 m on chipped concrete, a few millimetres up and down."""
    columns, lines = math.ceil(length_mm / 600), math.ceil(width_mm / 600)
    places = [(length_mm * i / columns, width_mm * j / lines) for i in range(columns + 1) for j in range(lines + 1)]
    return [
        {"x_mm": x, "y_mm": y, "elevation_mm": round(4100.0 + 5 * math.sin(x / 310) + 4 * math.cos(y / 270), 1)}
        for x, y in places
    ]


def _bolts(row: dict[str, Any]) -> list[dict[str, Any]]:
    """Three bolts along each long side of the plate."""
    plate = _plate_rectangle(row)
    xs = [plate.x_mm + 260, plate.x_mm + plate.length_mm / 2 + 110, plate.x_mm + plate.length_mm - 260]
    ys = [plate.y_mm + 100, plate.y_mm + plate.width_mm - 100]
    return [
        {
            "label": f"B{number}",
            "x_mm": x,
            "y_mm": y,
            "thread": "M24×3",
            "grade": "F1554-55",
            "free_length_mm": 340.0,
            "sleeve_diameter_mm": 76.0,
            "sleeve_depth_mm": 280.0,
        }
        for number, (x, y) in enumerate(((x, y) for y in ys for x in xs), 1)
    ]


def _make_plate(machine: Machine, row: dict[str, Any], by: User) -> None:
    plate = _plate_rectangle(row)
    columns = {
        "outline": outline_of(plate),
        "underside_elevation_mm": 4100.0 + row["gap_mm"],
        "thickness_mm": 30.0,
        "mass_kg": round(plate.length_mm * plate.width_mm * 30.0 * 7.85e-6 * 1.4),
    }
    parts = [*parts_of_rectangle(plate), *_jackscrews(plate), *_pads(plate)]
    save_plate(machine=machine, by=by, columns=columns, compartments=compartments_of(plate), parts=parts)


def _jackscrews(plate: Rectangle) -> list[dict[str, Any]]:
    places = [
        (plate.x_mm + inset, plate.y_mm + edge)
        for edge in (100.0, plate.width_mm - 100.0)
        for inset in (460.0, plate.length_mm - 460.0)
    ]
    return [
        {"kind": PartKind.JACKSCREW, "label": f"J{n}", "x_mm": x, "y_mm": y, "diameter_mm": 65.0, "pitch_mm": 2.5}
        for n, (x, y) in enumerate(places, 1)
    ]


def _pads(plate: Rectangle) -> list[dict[str, Any]]:
    places = [
        (plate.x_mm + plate.length_mm * along, plate.y_mm + plate.width_mm * across)
        for across in (0.3, 0.7)
        for along in (0.2, 0.78)
    ]
    return [
        {"kind": PartKind.MOUNTING_PAD, "label": f"M{n}", "x_mm": x, "y_mm": y, "length_mm": 260.0, "width_mm": 150.0}
        for n, (x, y) in enumerate(places, 1)
    ]
