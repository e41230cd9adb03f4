"""Working life from a data sheet, and the table of thermal properties."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from groutjobs.engineering import materials
from groutjobs.engineering.materials import WorkingLifePoint
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.sources import sources
from tests.golden import golden_cases

POINTS = [WorkingLifePoint(32.0, 50.0), WorkingLifePoint(10.0, 150.0), WorkingLifePoint(23.0, 90.0)]


@pytest.mark.parametrize("case", golden_cases("cure", "working_life"))
def test_one_point_halves_for_each_ten_kelvin(case: dict[str, Any]) -> None:
    point = WorkingLifePoint(case["point_c"], case["point_min"])
    found = [materials.working_life_min([point], temp_c) for temp_c in case["temp_c"]]
    expected = pytest.approx(case["expected_min"], abs=case["tolerance_min"])
    assert [life.working_life_min for life in found] == expected
    assert {life.source for life in found} == {"BLOCH-MCM"}
    assert "half as long for each 10 K" in found[0].basis


def test_the_rows_of_the_data_sheet_come_back() -> None:
    found = [materials.working_life_min(POINTS, point.temp_c).working_life_min for point in POINTS]
    assert found == pytest.approx([50.0, 150.0, 90.0])


def test_between_two_rows_the_logarithm_is_straight() -> None:
    middle = materials.working_life_min(POINTS, 16.5)
    assert middle.working_life_min == pytest.approx(math.sqrt(150.0 * 90.0))
    assert middle.source == "GROUTJOBS"


@given(st.floats(10.0, 32.0), st.floats(10.0, 32.0))
def test_warmer_grout_never_lives_longer(first_c: float, second_c: float) -> None:
    cold, warm = sorted([first_c, second_c])
    lives = materials.working_lives_min(POINTS, np.array([cold, warm]))
    assert lives[0] >= lives[1] - 1e-9


@pytest.mark.parametrize(("points", "temp_c"), [(POINTS, 9.9), (POINTS, 32.1), (POINTS[:1], 16.9), (POINTS[:1], 47.1)])
def test_a_temperature_outside_the_data_sheet_is_refused(points: list[WorkingLifePoint], temp_c: float) -> None:
    with pytest.raises(OutOfRange) as refusal:
        materials.working_life_min(points, temp_c)
    assert refusal.value.quantity == "grout temperature"
    assert np.isnan(materials.working_lives_min(points, np.array([temp_c]))).all()


def test_an_unknown_temperature_is_refused() -> None:
    with pytest.raises(OutOfRange):
        materials.working_life_min(POINTS, math.nan)


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ([], "no row"),
        ([WorkingLifePoint(20.0, 60.0), WorkingLifePoint(20.0, 50.0)], "two rows stand at 20"),
        ([WorkingLifePoint(20.0, 60.0), WorkingLifePoint(30.0, 70.0)], "lives shorter when warm"),
    ],
)
def test_rows_that_contradict_each_other_are_refused(points: list[WorkingLifePoint], words: str) -> None:
    with pytest.raises(Unusable, match=words):
        materials.working_life_min(points, 20.0)


def test_a_life_that_does_not_change_between_two_rows_is_taken() -> None:
    points = [WorkingLifePoint(20.0, 60.0), WorkingLifePoint(30.0, 60.0)]
    assert materials.working_life_min(points, 25.0).working_life_min == pytest.approx(60.0)


@pytest.mark.parametrize("minutes", [0.0, -5.0, math.nan])
def test_a_life_of_nothing_is_refused(minutes: float) -> None:
    with pytest.raises(OutOfRange) as refusal:
        materials.working_life_min([WorkingLifePoint(20.0, minutes)], 20.0)
    assert refusal.value.quantity == "working life"


def test_every_material_names_a_known_source() -> None:
    found = [
        materials.concrete(),
        materials.steel(),
        materials.grout("epoxy"),
        materials.grout("cementitious"),
        materials.soil(),
    ]
    assert {solid.source for solid in found} <= set(sources())


def test_diffusivities_match_the_worked_examples() -> None:
    """INCROPERA examples 5.4 and 5.6: steel 18.8e-6, soil 0.138e-6 m²/s, printed to three digits."""
    assert materials.steel().diffusivity_m2_s == pytest.approx(18.8e-6, rel=0.003)
    assert materials.soil().diffusivity_m2_s == pytest.approx(0.138e-6, rel=0.003)


@pytest.mark.parametrize("field", ["conductivity_w_mk", "density_kg_m3", "specific_heat_j_kgk"])
@pytest.mark.parametrize("value", [0.0, -1.0, math.nan])
def test_a_material_without_substance_is_refused(field: str, value: float) -> None:
    change: dict[str, Any] = {field: value}
    with pytest.raises(OutOfRange):
        replace(materials.concrete(), **change)


def test_an_unknown_grout_is_no_grout() -> None:
    with pytest.raises(KeyError):
        materials.grout("polymer")
