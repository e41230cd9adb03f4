"""Input that no takeoff can be made from is refused, by the quantity at fault."""

import math
from typing import Any

import pytest

from groutjobs.engineering.compartments import Compartment
from groutjobs.engineering.takeoff import Part, cylinder_volume_m3, kits_to_order, survey_depth_sd_mm, take_off
from groutjobs.errors import OutOfRange, Unusable
from tests.engineering.plates import flat, plate_case, rectangle, surveyed, whole_block

BOW_TIE = ((0.0, 0.0), (3000.0, 1500.0), (3000.0, 0.0), (0.0, 1500.0))
GOOD_ORDER: dict[str, Any] = {"waste_ratio": 0.15, "kit_yield_l": 56.6, "kit_kg": 115.0, "spare_kits": 1}


def one(name: str, x_mm: float, y_mm: float, length_mm: float, width_mm: float, **more: Any) -> Compartment:
    return Compartment(name=name, outline=rectangle(x_mm, y_mm, length_mm, width_mm), **more)


def test_the_plain_case_is_accepted() -> None:
    """What the refusals below vary is good as it stands, so each fails for its own reason."""
    assert take_off(plate_case()).net_m3 > 0.0


@pytest.mark.parametrize(
    ("quantity", "changes"),
    [
        ("plate", {"plate_outline": BOW_TIE}),
        ("plate", {"plate_outline": ((0.0, 0.0), (3000.0, 0.0))}),
        ("plate", {"plate_outline": ((0.0, 0.0), (1500.0, 0.0), (3000.0, 0.0))}),
        ("block", {"block_outline": BOW_TIE}),
        ("forms", {"block_outline": rectangle(-75, -75, 3150, 1640)}),
        ("forms", {"clearance_mm": 80.0}),
        ("compartment A", {"compartments": (one("A", 0, 0, 3100, 1500),)}),
        ("compartment A", {"compartments": (one("A", 0, 0, 1300, 1500), one("B", 1200, 0, 1800, 1500))}),
        ("compartment A", {"compartments": (one("A", 0, 0, 1000, 1500), one("A", 1200, 0, 1800, 1500))}),
        ("compartment A", {"compartments": (Compartment(name="A", outline=BOW_TIE),)}),
        ("compartment A", {"compartments": (one("A", 0, 0, 3000, 1500), one("B", 100, 100, 50, 50))}),
        ("survey of the concrete", {"survey": whole_block(flat)[:2]}),
        ("survey of the concrete", {"survey": surveyed(flat, [0.0, 1000.0, 2000.0], [100.0])}),
        ("survey of the concrete", {"survey": ((0.0, 0.0, 100.0), (1500.0, 750.0, 100.0), (3000.0, 1500.0, 99.0))}),
        ("survey of the concrete", {"survey": (*whole_block(flat), (3200.0, 0.0, 100.0))}),
        ("survey of the concrete", {"survey": (*whole_block(flat), (-75.0, -75.0, 101.0))}),
        ("strange part", {"parts": (Part(name="strange part", volume_m3=0.001, compartment="Z"),)}),
    ],
)
def test_a_contradiction_is_refused(quantity: str, changes: dict[str, Any]) -> None:
    with pytest.raises(Unusable) as refused:
        take_off(plate_case(**changes))
    assert refused.value.quantity == quantity


@pytest.mark.parametrize(
    ("quantity", "changes"),
    [
        ("plate, x", {"plate_outline": ((math.nan, 0.0), (3000.0, 0.0), (3000.0, 1500.0))}),
        ("plate, y", {"plate_outline": ((0.0, 0.0), (3000.0, math.inf), (3000.0, 1500.0))}),
        ("plate, x", {"plate_outline": rectangle(0, 0, 3_000_000, 1500)}),
        ("survey point 1, x", {"survey": ((math.nan, 0.0, 100.0), *whole_block(flat))}),
        ("elevation of the concrete", {"survey": ((0.0, 0.0, math.nan), *whole_block(flat))}),
        ("elevation of the grout top", {"plate_underside_elevation_mm": math.nan}),
        ("least grout depth", {"plate_underside_elevation_mm": 99.0}),
        ("least grout depth", {"survey": (*whole_block(flat), (10.0, 10.0, 176.0))}),
        ("plate-to-form clearance", {"clearance_mm": -1.0}),
        ("plate-to-form clearance", {"clearance_mm": math.nan}),
        ("rise of the shoulder", {"shoulder_rise_mm": -1.0}),
        ("chamfer", {"chamfer_mm": -1.0}),
        ("chamfer", {"chamfer_mm": 76.0}),
        ("chamfer", {"chamfer_mm": 25.0, "clearance_mm": 0.0}),
        ("amplitude of the chipped profile", {"roughness_mm": math.nan}),
        ("share of the profile that is filled", {"roughness_share": 1.1}),
        ("pad, volume", {"parts": (Part(name="pad", volume_m3=-0.001),)}),
        ("pad, count", {"parts": (Part(name="pad", volume_m3=0.001, count=0),)}),
        ("grout volume, A", {"parts": (Part(name="pad", volume_m3=1.0, compartment="A"),)}),
        ("grout volume", {"parts": (Part(name="pad", volume_m3=1.0),)}),
        ("compartment A, fill height", {"compartments": (one("A", 0, 0, 1000, 1500, fill_above_mm=-5.0),)}),
    ],
)
def test_a_number_beyond_its_limits_is_refused(quantity: str, changes: dict[str, Any]) -> None:
    with pytest.raises(OutOfRange) as refused:
        take_off(plate_case(**changes))
    assert refused.value.quantity == quantity


def test_a_refusal_names_quantity_value_limit_and_source() -> None:
    with pytest.raises(OutOfRange) as refused:
        take_off(plate_case(plate_underside_elevation_mm=97.0))
    assert str(refused.value) == "least grout depth -3 mm is below 0 mm, the lower limit in [GROUTJOBS]"


@pytest.mark.parametrize(
    ("quantity", "net_m3", "changes"),
    [
        ("volume of the takeoff", 0.0, {}),
        ("volume of the takeoff", math.nan, {}),
        ("waste", 0.4, {"waste_ratio": 15.0}),
        ("waste", 0.4, {"waste_ratio": -0.1}),
        ("yield of a kit", 0.4, {"kit_yield_l": 0.0}),
        ("mass of a kit", 0.4, {"kit_kg": -1.0}),
        ("spare kits", 0.4, {"spare_kits": -1}),
    ],
)
def test_an_order_from_bad_numbers_is_refused(quantity: str, net_m3: float, changes: dict[str, Any]) -> None:
    with pytest.raises(OutOfRange) as refused:
        kits_to_order(net_m3, **{**GOOD_ORDER, **changes})
    assert refused.value.quantity == quantity


def test_sizes_of_nothing_are_refused() -> None:
    for diameter_mm, height_mm in ((0.0, 10.0), (10.0, 0.0), (math.nan, 10.0)):
        with pytest.raises(OutOfRange):
            cylinder_volume_m3(diameter_mm, height_mm)
    with pytest.raises(OutOfRange):
        survey_depth_sd_mm(0.0)
