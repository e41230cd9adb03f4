"""Height of the sun against pvlib over all latitudes and a century. Ours is the true height, without refraction."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd  # type: ignore[import-untyped]
import pytest
from pvlib import solarposition

from groutjobs.engineering import sun

LATITUDES = [float(latitude) for latitude in range(-90, 91, 15)]


def instants(first_year: int, last_year: int, count: int) -> tuple[datetime, np.ndarray]:
    first_at = datetime(first_year, 1, 1, tzinfo=UTC)
    hours = (datetime(last_year, 12, 31, tzinfo=UTC) - first_at) / timedelta(hours=1)
    return first_at, np.linspace(0.0, hours, count)


def by_pvlib(first_at: datetime, after_h: np.ndarray, latitude_deg: float, longitude_deg: float) -> pd.DataFrame:
    times = pd.DatetimeIndex([first_at + timedelta(hours=float(hour)) for hour in after_h])
    return solarposition.get_solarposition(times, latitude_deg, longitude_deg, delta_t=None)


@pytest.mark.parametrize("latitude_deg", LATITUDES)
def test_the_height_of_the_sun_agrees_on_the_whole_globe_for_a_century(latitude_deg: float) -> None:
    """Reference: pvlib, its NREL SPA. Range: pole to pole by 15°, four longitudes, 1950 to 2050, 1500 instants
    each. Tolerance: 0.02°, what the short series states of itself; parallax, which it leaves out, is 0.0024° of
    that."""
    for longitude_deg in (-180.0, -75.3, 0.0, 121.7):
        first_at, after_h = instants(1950, 2049, 1500)
        expected = by_pvlib(first_at, after_h, latitude_deg, longitude_deg)["elevation"].to_numpy()
        found = sun.sun_elevations_deg(first_at, after_h, latitude_deg, longitude_deg)
        assert np.abs(found - expected).max() < 0.02


def test_refraction_is_left_out_and_matters_at_the_horizon_only() -> None:
    """Reference: pvlib, apparent less true height. Range: one year at 45° N, all heights. Tolerance: refraction is
    under 0.07° from 15° up and 0.4 to 0.6° at the horizon, from memory of any almanac."""
    first_at, after_h = instants(2026, 2026, 20_000)
    apparent = by_pvlib(first_at, after_h, 45.0, 0.0)["apparent_elevation"].to_numpy()
    found = sun.sun_elevations_deg(first_at, after_h, 45.0, 0.0)
    high, horizon = found > 15.0, np.abs(found) < 0.25
    assert horizon.sum() > 30
    assert np.abs(apparent - found)[high].max() < 0.07 + 0.02
    assert (apparent - found)[horizon] == pytest.approx(0.5, abs=0.1)


@pytest.mark.parametrize("latitude_deg", [-60.0, -35.0, 0.0, 30.0, 52.0, 64.0])
def test_sunrise_and_sunset_are_at_the_height_that_we_take(latitude_deg: float) -> None:
    """Reference: pvlib, rise and set by its NREL SPA. Range: every tenth day of 2026 at six latitudes. Tolerance:
    0.03°: 0.02° of the series, and 0.01° for seconds of rise and set, at most 15° an hour."""
    days = pd.date_range("2026-01-01", "2026-12-31", freq="10D", tz="UTC")
    rise_set = solarposition.sun_rise_set_transit_spa(days, latitude_deg, 0.0)
    at = pd.concat([rise_set["sunrise"], rise_set["sunset"]])
    first_at = datetime(2026, 1, 1, tzinfo=UTC)
    after_h = np.array([(moment - first_at) / timedelta(hours=1) for moment in at])
    found = sun.sun_elevations_deg(first_at, after_h, latitude_deg, 0.0)
    assert len(found) == 2 * len(days)
    assert np.abs(found - sun.RISE_DEG).max() < 0.03
