"""Foundation block beside its machine: the same blocks in other units, counted by hand, and what is refused."""

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from groutjobs.engineering.block import block_mass_kg, free_length_diameters, grout_space_mm, mass_ratio
from groutjobs.errors import OutOfRange, Unusable

SIZES = st.floats(1.0, 50_000.0)


def test_a_block_in_feet_and_pounds() -> None:
    # 10 ft × 5 ft × 4 ft of 150 lb/ft³ weigh 30 000 lb, by hand; conversion by the general-purpose library pint, whose
    # foot and pound are exact, so only round-off of floats is left
    ureg: pint.UnitRegistry[float] = pint.UnitRegistry()
    length, width, height = (ureg.Quantity(feet, "foot").to("mm").magnitude for feet in (10.0, 5.0, 4.0))
    density = ureg.Quantity(150.0, "pound / foot**3").to("kg / m**3").magnitude
    expected = ureg.Quantity(30_000.0, "pound").to("kg").magnitude
    assert block_mass_kg(length, width, height, density) == pytest.approx(expected, rel=1e-12)


@given(SIZES, SIZES, SIZES)
def test_the_mass_does_not_ask_which_side_is_called_length(a: float, b: float, c: float) -> None:
    assert block_mass_kg(a, b, c, 2400.0) == pytest.approx(block_mass_kg(c, a, b, 2400.0), rel=1e-12)


def test_ratio_and_diameters_by_hand() -> None:
    assert mass_ratio(10_800.0, 3000.0) == pytest.approx(3.6)
    # [API686] 12 diameters: a 1 in bolt needs 12 in
    assert free_length_diameters(12 * 25.4, 25.4) == pytest.approx(12.0)
    assert grout_space_mm(1050.0, [1000.0, 1004.0, 996.0]) == pytest.approx(50.0)


@given(st.lists(st.floats(-1000.0, 1000.0), min_size=1, max_size=20), st.floats(-500.0, 500.0))
def test_the_space_moves_with_the_plate(elevations: list[float], lift: float) -> None:
    assert grout_space_mm(100.0 + lift, elevations) == pytest.approx(grout_space_mm(100.0, elevations) + lift, abs=1e-9)


def test_a_survey_without_points_has_no_space() -> None:
    with pytest.raises(Unusable):
        grout_space_mm(100.0, [])


@pytest.mark.parametrize("wrong", [0.0, -1.0, float("nan")])
def test_a_machine_without_mass_has_no_ratio(wrong: float) -> None:
    with pytest.raises(OutOfRange) as refused:
        mass_ratio(1000.0, wrong)
    assert refused.value.quantity == "mass of the machine"
