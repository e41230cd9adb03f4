"""Invented weather and needs for the tests of pour hours."""

from datetime import UTC, datetime

import numpy as np

from groutjobs.engineering.checks import Floats
from groutjobs.engineering.materials import WorkingLifePoint
from groutjobs.engineering.psychrometrics import dew_points_c
from groutjobs.scheduling.conditions import HourlyWeather, PlacementNeed

POINTS = (WorkingLifePoint(10.0, 150.0), WorkingLifePoint(23.0, 90.0), WorkingLifePoint(35.0, 45.0))


def some_weather(
    n_hours: int = 48, *, temp_c: Floats | float = 22.0, humidity: Floats | float = 0.35, **rows: Floats
) -> HourlyWeather:
    """Weather from Monday 2 March 2026 at 06:00 UTC, midnight in Chicago; calm, dry and clear unless told otherwise."""
    full = np.ones(n_hours + 1)
    temps, humidities = temp_c * full, humidity * full
    chosen = {
        "temp_c": temps,
        "relative_humidity": humidities,
        "dew_point_c": dew_points_c(temps, humidities),
        "wind_km_h": 10.0 * full,
        "solar_w_m2": 0.0 * full,
        "cloud_ratio": 0.2 * full,
        "rain_probability": 0.0 * full,
    }
    return HourlyWeather(start_at=datetime(2026, 3, 2, 6, tzinfo=UTC), timezone="America/Chicago", **(chosen | rows))


def some_need(**changes: float) -> PlacementNeed:
    numbers = {"placement_h": 2.5, "protection_h": 12.0, "batch_min": 20.0, "material_c": 21.0} | changes
    return PlacementNeed(working_life_points=POINTS, **numbers)
