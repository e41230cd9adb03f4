"""What a sounding works out: areas, hollow places, feet, what the grid may have missed, resin."""

from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groutjobs.curing.calc import sounding_result, tap_points
from groutjobs.equipment.geometry import MachineDrawing, Region

A = ((0.0, 0.0), (1500.0, 0.0), (1500.0, 900.0), (0.0, 900.0))
L_SHAPE = ((0.0, 0.0), (1200.0, 0.0), (1200.0, 600.0), (600.0, 600.0), (600.0, 1200.0), (0.0, 1200.0))


def drawing(**compartments: tuple[tuple[float, float], ...]) -> MachineDrawing:
    regions = tuple(Region(name=name, outline=outline) for name, outline in compartments.items())
    return MachineDrawing(tag="P", service="s", outline=A, compartments=regions)


def result_of(
    plan: MachineDrawing, sounds: dict[str, str], *, spacing_mm: float = 150.0, feet: Any = None, **given: Any
) -> dict[str, Any]:
    taps = [tap | {"sound": sounds.get(tap["name"], "solid")} for tap in tap_points(plan, spacing_mm)]
    inputs = {
        "spacing_mm": spacing_mm,
        "taps": taps,
        "compartments": {region.name: [list(p) for p in region.outline] for region in plan.compartments},
        "feet": feet or {},
        "single_void_m2": 0.01,
        "total_ratio": 0.05,
        "limit_source": "GROUTJOBS",
        "least_depth_mm": 2.0,
        "greatest_depth_mm": 5.0,
    }
    return sounding_result(inputs | given)


def test_the_grid_covers_a_compartment_and_names_its_taps_by_row() -> None:
    taps = tap_points(drawing(A=A), 150.0)
    assert len(taps) == 60
    assert (taps[0]["name"], taps[0]["x_mm"], taps[0]["y_mm"]) == ("A1.1", 75.0, 825.0)
    assert taps[-1]["name"] == "A6.10"


@given(st.floats(100.0, 3000.0), st.floats(100.0, 3000.0), st.sampled_from([100.0, 125.0, 150.0]))
def test_in_a_rectangle_every_place_is_in_reach_of_a_tap(length: float, width: float, spacing: float) -> None:
    outline = ((0.0, 0.0), (length, 0.0), (length, width), (0.0, width))
    xs = sorted({tap["x_mm"] for tap in tap_points(drawing(A=outline), spacing)})
    assert xs[0] <= spacing / 2 + 0.1
    assert xs[-1] >= length - spacing / 2 - 0.1
    assert all(step == pytest.approx(spacing, abs=0.11) for step in (b - a for a, b in pairwise(xs)))


def test_taps_stay_inside_a_compartment_that_is_no_rectangle() -> None:
    taps = tap_points(drawing(A=L_SHAPE), 150.0)
    assert len(taps) == 48
    assert not [tap for tap in taps if tap["x_mm"] > 600 and tap["y_mm"] > 600]


def test_all_hollow_is_the_whole_area_and_all_solid_is_none() -> None:
    plan = drawing(A=A)
    everywhere = {tap["name"]: "hollow" for tap in tap_points(plan, 150.0)}
    assert result_of(plan, everywhere)["hollow_m2"] == pytest.approx(1.35)
    assert result_of(plan, everywhere)["hollow_ratio"] == pytest.approx(1.0)
    solid = result_of(plan, {})
    assert (solid["hollow_m2"], solid["suggested"], solid["injection_high_l"]) == (0.0, "accepted", 0.0)


def test_each_hollow_tap_stands_for_its_square() -> None:
    result = result_of(drawing(A=A), {"A2.3": "hollow", "A2.4": "hollow", "A5.9": "hollow"})
    assert [void["area_m2"] for void in result["voids"]] == pytest.approx([0.045, 0.0225])
    assert result["voids"][0]["taps"] == ["A2.3", "A2.4"]
    assert result["injection_low_l"] == pytest.approx(0.0675 * 2)
    assert result["injection_high_l"] == pytest.approx(0.0675 * 5)
    (outline,) = result["voids"][1]["outlines"]
    assert {tuple(point) for point in outline} == {(1200, 150), (1350, 150), (1350, 300), (1200, 300)}


def test_a_grid_of_150_mm_finds_a_void_of_100_mm_one_time_in_three() -> None:
    # share of the grid square within half a diameter of a tap: pi 100² / (4 · 150²) = 0.349, by arithmetic
    result = result_of(drawing(A=A), {})
    assert result["example"]["hit_ratio"] == pytest.approx(0.349, abs=0.001)
    assert result["missed"][0]["diameter_mm"] < result["missed"][1]["diameter_mm"] <= 150 * 2**0.5


def test_a_hollow_place_under_a_foot_stands_in_the_way_however_small() -> None:
    feet = {"pad M1": [[0.0, 750.0], [150.0, 750.0], [150.0, 900.0], [0.0, 900.0]]}
    sounds = {"A1.1": "hollow"}
    result = result_of(drawing(A=A), sounds, feet=feet, single_void_m2=1.0)
    assert [item["code"] for item in result["findings"]] == ["sounding.under_foot"]
    assert result["voids"][0]["under_feet"] == ["pad M1"]
    assert result_of(drawing(A=A), sounds, single_void_m2=1.0)["findings"] == []


def test_limits_can_be_edited_and_carry_their_source() -> None:
    sounds = {"A2.3": "hollow"}
    result = result_of(drawing(A=A), sounds, single_void_m2=0.02, limit_source="owner's spec 12")
    assert result["suggested"] == "refused"
    assert result["findings"][0]["source"] == "owner's spec 12"
    assert result_of(drawing(A=A), sounds, single_void_m2=0.03)["suggested"] == "accepted"


def test_places_not_reached_count_as_untapped_not_as_solid() -> None:
    missed = {f"A1.{number}": "not_reached" for number in range(1, 11)}
    result = result_of(drawing(A=A), missed)
    assert result["compartments"][0]["untapped_m2"] == pytest.approx(0.225)
    assert len(result["not_reached"]) == 10
    assert [item["code"] for item in result["findings"]] == ["sounding.untapped"]
