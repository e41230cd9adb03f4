"""Strength of a specimen: the greatest load over the loaded area."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groutjobs.engineering.specimens import compressive_strength_mpa, cylinder_area_mm2
from groutjobs.errors import OutOfRange


def test_golden_a_two_inch_cube_at_40_000_pounds_is_10_000_psi() -> None:
    """[ASTMC579] method B defines load over area: 40 000 lbf on 2 in by 2 in is 10 000 lbf/in² by arithmetic.

    1 lbf = 4.4482216152605 N and 1 in = 25.4 mm, exact by definition [NIST SP 811, from memory].
    """
    found = compressive_strength_mpa(40_000 * 4.4482216152605 / 1000, 50.8 * 50.8)
    assert found == pytest.approx(10_000 * 0.006894757293168, rel=1e-12)


def test_golden_the_standard_cylinder_of_150_mm() -> None:
    """Area of a circle, π/4 · 150² = 17 671.46 mm², any table of circles [from memory]."""
    assert cylinder_area_mm2(150.0) == pytest.approx(17_671.46, abs=0.005)


@given(load=st.floats(0.1, 9999.0), side=st.floats(10.0, 900.0))
def test_property_load_over_strength_gives_the_area_back(load: float, side: float) -> None:
    assert load * 1000 / compressive_strength_mpa(load, side * side) == pytest.approx(side * side)


@pytest.mark.parametrize(("load", "area"), [(0.0, 2500.0), (-1.0, 2500.0), (10.0, 0.0), (math.nan, 2500.0)])
def test_it_refuses_nothing_and_less(load: float, area: float) -> None:
    with pytest.raises(OutOfRange):
        compressive_strength_mpa(load, area)
