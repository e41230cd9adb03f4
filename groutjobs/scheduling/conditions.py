"""What a search for pour hours is given: weather, predicted temperatures, the need of the pour, shifts, cure times."""

from collections.abc import Callable
from dataclasses import dataclass, fields
from datetime import UTC, date, datetime, time, timedelta
from typing import Protocol
from zoneinfo import ZoneInfo

import numpy as np

from groutjobs.engineering.checks import Floats, require_above, require_all_between, require_between
from groutjobs.engineering.materials import WorkingLifePoint, working_life_range_c, working_lives_min
from groutjobs.engineering.psychrometrics import WIND_SHARE_AT_HALF_METRE, evaporation_rates_kg_m2_h
from groutjobs.engineering.sky import HourlyAir
from groutjobs.engineering.sun import RISE_DEG, sun_elevations_deg
from groutjobs.errors import Unusable
from groutjobs.scheduling.spans import spells_at_or_above

TimeSpells = tuple[tuple[datetime, datetime], ...]


@dataclass(frozen=True, kw_only=True)
class HourlyWeather:
    """Weather at the instants start_at, one hour later, and so on: n_hours + 1 values each, straight lines between.

    timezone is the site's, for the words; rain_probability and wind_km_h (10 m above ground) may be NaN where the
    source does not tell them. The others must be known.
    """

    start_at: datetime
    timezone: str
    temp_c: Floats
    relative_humidity: Floats
    dew_point_c: Floats
    wind_km_h: Floats
    solar_w_m2: Floats
    cloud_ratio: Floats
    rain_probability: Floats

    def __post_init__(self) -> None:
        if self.start_at.tzinfo is None:
            raise Unusable("start of the weather", "its time zone is missing", source="GROUTJOBS")
        rows = {field.name: getattr(self, field.name) for field in fields(self)[2:]}
        if {row.shape for row in rows.values()} != {self.temp_c.shape} or self.temp_c.ndim != 1 or len(self.temp_c) < 2:
            raise Unusable("hourly weather", "its rows must hold the same two or more hours", source="GROUTJOBS")
        require_all_between("air temperature", self.temp_c, -60.0, 60.0, unit="°C", source="GROUTJOBS")
        require_all_between("relative humidity", self.relative_humidity, 0.0, 1.0, source="GROUTJOBS")
        require_all_between("dew point", self.dew_point_c, -100.0, 60.0, unit="°C", source="GROUTJOBS")
        require_all_between("sunlight", self.solar_w_m2, 0.0, 1400.0, unit="W/m²", source="GROUTJOBS")
        require_all_between("cloud cover", self.cloud_ratio, 0.0, 1.0, source="GROUTJOBS")
        known_wind, known_rain = (row[~np.isnan(row)] for row in (self.wind_km_h, self.rain_probability))
        require_all_between("wind", known_wind, 0.0, 250.0, unit="km/h", source="GROUTJOBS")
        require_all_between("rain probability", known_rain, 0.0, 1.0, source="GROUTJOBS")

    @property
    def n_hours(self) -> int:
        return len(self.temp_c) - 1

    def at(self, hour: float) -> datetime:
        """The instant so many hours after the start, in the time of the site."""
        return (self.start_at.astimezone(UTC) + timedelta(hours=hour)).astimezone(ZoneInfo(self.timezone))

    def hour_of(self, at: datetime) -> float:
        """Hours from the start, also across a change of the clock: two times of one zone subtract by wall clock."""
        return (at.astimezone(UTC) - self.start_at.astimezone(UTC)) / timedelta(hours=1)

    def for_heat(self) -> HourlyAir:
        """The part of it that heats and cools a foundation. OutOfRange where the wind is not known."""
        return HourlyAir(
            air_c=self.temp_c,
            dew_point_c=np.minimum(self.dew_point_c, self.temp_c),
            wind_km_h=self.wind_km_h,
            solar_w_m2=self.solar_w_m2,
            cloud_ratio=self.cloud_ratio,
        )


@dataclass(frozen=True, kw_only=True)
class Predicted:
    """Temperatures of concrete and plate at the same instants as the weather. plate_c is None without a plate.

    For many weathers at once the arrays have one more axis, the weathers first.
    """

    concrete_c: Floats
    plate_c: Floats | None


@dataclass(frozen=True, kw_only=True)
class PlacementNeed:
    """What the pour needs. batch_min runs from the end of mixing to the last of the batch in place."""

    placement_h: float
    protection_h: float
    batch_min: float
    material_c: float
    working_life_points: tuple[WorkingLifePoint, ...]

    def __post_init__(self) -> None:
        require_above("placement", self.placement_h, 0.0, unit="h", source="GROUTJOBS")
        require_between("placement", self.placement_h, 0.0, 72.0, unit="h", source="GROUTJOBS")
        require_between("protection", self.protection_h, 0.0, 720.0, unit="h", source="GROUTJOBS")
        require_above("time to place a batch", self.batch_min, 0.0, unit="min", source="GROUTJOBS")
        require_between("material temperature", self.material_c, -20.0, 60.0, unit="°C", source="GROUTJOBS")


@dataclass(frozen=True, kw_only=True)
class CureForecast:
    """When a milestone of the cure is reached after each start of placing, and by when it must be.

    ready_h has a value for each start, counted from the start of placing; NaN where the weather ends before.
    """

    code: str
    label: str
    ready_h: Floats
    source: str
    due_at: datetime | None = None


@dataclass(frozen=True, kw_only=True)
class ShiftHours:
    """Working hours of a site: weekdays (Monday is 0) on which a shift begins, and its first and last local time.

    A shift whose last time is not after its first runs into the next day.
    """

    timezone: str
    weekdays: frozenset[int]
    first: time
    last: time

    def spells(self, from_at: datetime, to_at: datetime) -> TimeSpells:
        """The shifts that touch the span; those that follow each other without a break are one."""
        zone = ZoneInfo(self.timezone)
        day = from_at.astimezone(zone).date() - timedelta(days=1)
        found: list[tuple[datetime, datetime]] = []
        while (begins := datetime.combine(day, self.first, zone)) <= to_at:
            ends = datetime.combine(self._last_day(day), self.last, zone)
            if day.weekday() in self.weekdays and ends >= from_at:
                found.append((begins.astimezone(UTC), ends.astimezone(UTC)))
            day += timedelta(days=1)
        return _joined(found)

    def _last_day(self, day: date) -> date:
        return day if self.last > self.first else day + timedelta(days=1)


def _joined(spells: list[tuple[datetime, datetime]]) -> TimeSpells:
    joined: list[tuple[datetime, datetime]] = []
    for begins, ends in spells:
        if joined and begins <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], ends))
        else:
            joined.append((begins, ends))
    return tuple(joined)


def daylight_spells(from_at: datetime, to_at: datetime, latitude_deg: float, longitude_deg: float) -> TimeSpells:
    """Return the spells from sunrise to sunset, for every day that touches the span.

    Parameters
    ----------
    from_at, to_at : First and last moment of the span.
    latitude_deg : Latitude, north is positive. [deg], -90 to 90
    longitude_deg : Longitude, east is positive. [deg], -180 to 180

    Returns
    -------
    Sunrise and sunset of each day, in UTC.

    Source
    ------
    [NOAA-SOLAR] height of the sun every ten minutes, straight lines between.
    """
    step_h = 1 / 6
    from_at, to_at = from_at.astimezone(UTC), to_at.astimezone(UTC)
    first_at, hours = from_at - timedelta(days=1), (to_at - from_at) / timedelta(hours=1) + 48
    after_h = np.arange(0.0, hours + step_h, step_h)
    heights = sun_elevations_deg(first_at, after_h, latitude_deg, longitude_deg)
    begins, ends = spells_at_or_above(heights, RISE_DEG)
    spells = (
        (first_at + timedelta(hours=float(rise) * step_h), first_at + timedelta(hours=float(sink) * step_h))
        for rise, sink in zip(begins, ends, strict=True)
    )
    return tuple(spell for spell in spells if spell[1] >= from_at and spell[0] <= to_at)


class AirByHour(Protocol):
    """The air that a limit can name: one weather, shape (n_hours + 1,), or many at once, the hours last."""

    @property
    def temp_c(self) -> Floats: ...
    @property
    def relative_humidity(self) -> Floats: ...
    @property
    def dew_point_c(self) -> Floats: ...
    @property
    def wind_km_h(self) -> Floats: ...
    @property
    def rain_probability(self) -> Floats: ...


def hourly_quantities(weather: HourlyWeather, predicted: Predicted, need: PlacementNeed) -> dict[str, Floats]:
    """Return every curve that a limit can name, at the instants of the weather; without a plate none of the plate.

    Parameters
    ----------
    weather : Forecast of the air.
    predicted : Temperatures of concrete and plate at the same instants.
    need : Temperature and working life of the material.

    Returns
    -------
    Name → curve, shape (n_hours + 1,). working_life_min is that of grout as warm as the hottest of material, air and
    concrete. Below the coldest row of the data sheet it is that of this row, which is shorter than the true one; above
    the hottest row it is NaN.

    Raises
    ------
    Unusable : the curves differ in length.

    Source
    ------
    [UNO1998] evaporation; the rest are differences of what is given [GROUTJOBS].
    """
    _require_hours("concrete temperature", predicted.concrete_c, weather)
    if predicted.plate_c is not None:
        _require_hours("plate temperature", predicted.plate_c, weather)
    makers = curve_makers(weather, predicted, need)
    return {quantity: make() for quantity, make in makers.items()}


def curve_makers(air: AirByHour, predicted: Predicted, need: PlacementNeed) -> dict[str, Callable[[], Floats]]:
    """Return how to compute each curve of hourly_quantities, for one weather or for many.

    Parameters
    ----------
    air : The air of one weather or of many, the hours last.
    predicted : Temperatures of concrete and plate, of the same shape.
    need : Temperature and working life of the material.

    Returns
    -------
    Name → what computes the curve when it is called.

    Source
    ------
    As hourly_quantities.
    """
    concrete_c, plate_c = predicted.concrete_c, predicted.plate_c
    makers: dict[str, Callable[[], Floats]] = {
        "air_c": lambda: air.temp_c,
        "concrete_c": lambda: concrete_c,
        "concrete_spread_k": lambda: concrete_c - air.dew_point_c,
        "relative_humidity": lambda: air.relative_humidity,
        "rain_probability": lambda: air.rain_probability,
        "wind_km_h": lambda: air.wind_km_h,
        "evaporation_rate_kg_m2_h": lambda: evaporation_rates_kg_m2_h(
            np.full_like(concrete_c, need.material_c),
            air.temp_c,
            air.relative_humidity,
            air.wind_km_h * WIND_SHARE_AT_HALF_METRE,
        ),
        "working_life_min": lambda: _working_lives_min(air, concrete_c, need),
    }
    if plate_c is not None:
        makers["plate_c"] = lambda: plate_c
        makers["plate_spread_k"] = lambda: plate_c - air.dew_point_c
        makers["plate_concrete_difference_k"] = lambda: np.abs(plate_c - concrete_c)
    return makers


def _working_lives_min(air: AirByHour, concrete_c: Floats, need: PlacementNeed) -> Floats:
    grout_c = np.maximum(np.maximum(air.temp_c, concrete_c), need.material_c)
    coldest_c, _ = working_life_range_c(need.working_life_points)
    return working_lives_min(need.working_life_points, np.maximum(grout_c, coldest_c))


def _require_hours(quantity: str, values: Floats, weather: HourlyWeather) -> None:
    if values.shape != weather.temp_c.shape:
        reason = f"{values.shape} values for {weather.n_hours + 1} hours of weather"
        raise Unusable(quantity, reason, source="GROUTJOBS")
    require_all_between(quantity, values, -60.0, 120.0, unit="°C", source="GROUTJOBS")
