"""Sunlight from the height of the sun and cloud, against pvlib's Haurwitz model and a year of measured hours."""

import numpy as np
import pandas as pd  # type: ignore[import-untyped]
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pvlib.clearsky import haurwitz

from groutjobs.engineering.sunlight import sunlight_from_cloud_w_m2
from groutjobs.errors import OutOfRange


def test_the_clear_sky_is_that_of_pvlib() -> None:
    """pvlib.clearsky.haurwitz [HAURWITZ1945]; pvlib rounds its constant 1098, so equal to 1e-9."""
    heights = np.arange(-10.0, 90.5, 0.5)
    expected = haurwitz(pd.Series(90.0 - heights))["ghi"].to_numpy()
    assert sunlight_from_cloud_w_m2(heights, np.zeros_like(heights)) == pytest.approx(expected, abs=1e-9)


def test_a_whole_cloud_leaves_a_quarter() -> None:
    """[KASTEN1980] 1 - 0.75 N^3.4, from memory: 0.25 at N = 1."""
    clear, overcast = sunlight_from_cloud_w_m2(np.array([40.0, 40.0]), np.array([0.0, 1.0]))
    assert overcast / clear == pytest.approx(0.25)


@given(st.floats(0.1, 90.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_more_cloud_is_never_brighter(height_deg: float, one: float, other: float) -> None:
    light = sunlight_from_cloud_w_m2(np.array([height_deg] * 2), np.array(sorted([one, other])))
    assert light[1] <= light[0]


@pytest.mark.parametrize(
    ("height_deg", "cloud"), [(91.0, 0.5), (np.nan, 0.5), (30.0, -0.1), (30.0, 1.1), (30.0, np.nan)]
)
def test_it_refuses_impossible_input(height_deg: float, cloud: float) -> None:
    with pytest.raises(OutOfRange):
        sunlight_from_cloud_w_m2(np.array([height_deg]), np.array([cloud]))
