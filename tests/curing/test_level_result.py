"""What a level survey works out: the plane, the limits, and turns that do bring the plate level."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from groutjobs.curing.calc import level_inputs, level_points, level_result
from groutjobs.equipment.geometry import drawing_of
from groutjobs.pours.models import Pour
from tests.curing.rows import PADS, level_rows
from tests.factories import make_approved_plan, make_baseplate, make_foundation, make_machine, make_pour

SCREWS: list[dict[str, Any]] = [
    {"name": f"J{number}", "x_mm": x, "y_mm": y, "pitch_mm": 2.54, "gap_mm": 55.0}
    for number, (x, y) in enumerate([(650.0, 450.0), (2950.0, 450.0), (650.0, 1650.0), (2950.0, 1650.0)], 1)
]


def result_of(*readings: float, **given: Any) -> dict[str, Any]:
    return level_result(level_rows(*readings, **given) | {"screws": SCREWS, "min_gap_mm": 25.0, "drawing": {}})


@given(st.lists(st.floats(-2.0, 2.0), min_size=4, max_size=4))
def test_the_plane_is_that_of_numpy(readings: list[float]) -> None:
    # numpy.linalg.lstsq on the raw coordinates, a general-purpose reference
    design = np.array([[1.0, x / 1000, y / 1000] for x, y in PADS.values()])
    truth = np.linalg.lstsq(design, np.array(readings), rcond=None)[0]
    result = result_of(*readings)
    assert (result["tilt_along_mm_m"], result["tilt_across_mm_m"]) == pytest.approx(tuple(truth[1:]), abs=1e-9)
    residuals = np.array(readings) - design @ truth
    assert [point["residual_mm"] for point in result["points"]] == pytest.approx(list(residuals), abs=1e-9)


def test_two_thousandths_of_an_inch_in_a_foot_are_the_limit_of_a_pump() -> None:
    # 0.002 in/ft = 0.1667 mm/m exactly by the inch; over 1800 mm that is 0.300 mm
    assert result_of(0.0, 0.0, 0.295, 0.295)["suggested"] == "accepted"
    over = result_of(0.0, 0.0, 0.330, 0.330)
    assert over["suggested"] == "refused"
    assert {item["source"] for item in over["findings"]} == {"PPH"}


def test_findings_are_worded_for_both_kinds_of_readers() -> None:
    result = result_of(0.0, 0.0, 2.0, 2.0)
    assert "mm/m" in result["findings"][0]["message"]
    assert "in/ft" in result["findings_us"][0]["message"]


@given(st.lists(st.floats(-1.5, 1.5), min_size=4, max_size=4))
def test_the_turns_bring_the_plate_level(readings: list[float]) -> None:
    result = result_of(*readings, occasion="before_pour")
    design = np.array([[1.0, screw["x_mm"] / 1000, screw["y_mm"] / 1000] for screw in SCREWS])
    moves = np.array([turn["turns"] * 2.54 for turn in result["turns"]])
    lifted = np.linalg.lstsq(design, moves, rcond=None)[0]
    assert design @ lifted == pytest.approx(moves, abs=1e-6)
    assert lifted[1] == pytest.approx(-result["tilt_along_mm_m"], abs=1e-6)
    assert lifted[2] == pytest.approx(-result["tilt_across_mm_m"], abs=1e-6)
    assert [turn["flats"] for turn in result["turns"]] == pytest.approx([6 * turn["turns"] for turn in result["turns"]])


def test_once_the_grout_holds_the_plate_there_are_no_turns() -> None:
    result = result_of(0.0, 0.0, 0.5, 0.5, occasion="after_grout")
    assert result["turns"] == []
    assert "no longer" in result["turns_note"]


def test_turns_that_cannot_be_worked_out_say_why() -> None:
    screws = [screw | {"pitch_mm": None} for screw in SCREWS]
    rows = level_rows(occasion="before_pour") | {"screws": screws, "min_gap_mm": 25.0, "drawing": {}}
    assert "jackscrew J1: no thread pitch is entered" in level_result(rows)["turns_note"]


@pytest.mark.django_db
def test_points_are_the_pads_else_the_jackscrews_else_the_corners() -> None:
    machine = make_machine()
    assert [label for label, *_ in level_points(drawing_of(machine))] == ["M1", "M2", "M3", "M4"]
    machine.baseplate.parts.filter(kind="mounting_pad").delete()
    assert [label for label, *_ in level_points(drawing_of(machine))] == ["J1", "J2", "J3", "J4"]
    machine.baseplate.parts.all().delete()
    assert [label for label, *_ in level_points(drawing_of(machine))] == ["C1", "C2", "C3", "C4"]


def _pour(survey: bool) -> Pour:
    machine = make_machine(bare=True)
    make_foundation(machine=machine, survey=survey)
    make_baseplate(machine=machine)
    return make_pour(plan=make_approved_plan(machine=machine))


@pytest.mark.django_db
def test_the_gap_at_a_jackscrew_is_that_of_the_nearest_surveyed_point() -> None:
    inputs = level_inputs(_pour(survey=True), level_rows())
    # the underside is at 155 mm; the survey point nearest to J1 (650, 450) is (1200, 0), at 100 + 1200 % 7 = 103 mm
    assert inputs["screws"][0]["gap_mm"] == pytest.approx(52.0)
    without = level_inputs(_pour(survey=False), level_rows(occasion="before_pour"))
    assert {screw["gap_mm"] for screw in without["screws"]} == {None}
    assert "no survey of the concrete is entered" in level_result(without)["turns_note"]
