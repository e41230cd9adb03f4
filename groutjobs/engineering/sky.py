"""What the surface of a plate or foundation meets: film of moving air, sun, long-wave exchange with the sky."""

import enum
from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from groutjobs.engineering.checks import Floats, require_above, require_all_between, require_between
from groutjobs.engineering.psychrometrics import WIND_SHARE_AT_HALF_METRE
from groutjobs.errors import Unusable

Ints = npt.NDArray[np.intp]

STEFAN_BOLTZMANN_W_M2K4 = 5.670374419e-8
ZERO_C_IN_K = 273.15
STILL_FILM_W_M2K = 2.5
"""Convection in still air: ISO6946 for horizontal heat flow, between 0.7 (down) and 5.0 (up)."""


class Exposure(enum.StrEnum):
    """Where the foundation stands."""

    INDOORS = "indoors"
    SHELTERED = "sheltered"
    OPEN = "open"


@dataclass(frozen=True)
class _Share:
    sun: float
    sky: float
    wind: float


# GROUTJOBS: a roof with open sides keeps the sun and most of the sky away and about two thirds of the wind
_SHARES = {
    Exposure.INDOORS: _Share(sun=0.0, sky=0.0, wind=0.0),
    Exposure.SHELTERED: _Share(sun=0.0, sky=0.3, wind=0.35),
    Exposure.OPEN: _Share(sun=1.0, sky=1.0, wind=1.0),
}


@dataclass(frozen=True, kw_only=True)
class HourlyAir:
    """Weather at hourly instants, the time axis last; straight lines between. Shape (n_hours + 1,) or (n_batch, …).

    Wind is that of the weather report, 10 m above ground. Indoors it holds the air of the hall.
    """

    air_c: Floats
    dew_point_c: Floats
    wind_km_h: Floats
    solar_w_m2: Floats
    cloud_ratio: Floats

    def __post_init__(self) -> None:
        if len({getattr(self, field.name).shape for field in fields(self)}) != 1:
            raise Unusable("hourly weather", "its rows differ in length", source="GROUTJOBS")
        if self.air_c.ndim not in (1, 2) or self.air_c.shape[-1] < 2:
            raise Unusable("hourly weather", "two or more hours are needed", source="GROUTJOBS")
        require_all_between("air temperature", self.air_c, -60.0, 60.0, unit="°C", source="GROUTJOBS")
        require_all_between("dew point", self.dew_point_c, -100.0, 60.0, unit="°C", source="GROUTJOBS")
        require_all_between("wind", self.wind_km_h, 0.0, 250.0, unit="km/h", source="GROUTJOBS")
        require_all_between("sunlight", self.solar_w_m2, 0.0, 1400.0, unit="W/m²", source="GROUTJOBS")
        require_all_between("cloud cover", self.cloud_ratio, 0.0, 1.0, source="GROUTJOBS")
        if (self.dew_point_c > self.air_c + 0.5).any():
            raise Unusable("dew point", "it lies above the air temperature by more than 0.5 K", source="AE1996")

    @property
    def n_hours(self) -> int:
        return int(self.air_c.shape[-1]) - 1

    def at(self, where: Ints) -> "HourlyAir":
        """The same weather at some of its hours."""
        return HourlyAir(**{field.name: getattr(self, field.name)[..., where] for field in fields(self)})


@dataclass(frozen=True, kw_only=True)
class Surface:
    """How a surface meets sun and sky; sun_share_ratio is the part of the plate that the machine leaves in the sun."""

    exposure: Exposure
    absorptance: float
    emissivity: float
    sun_share_ratio: float = 1.0

    def __post_init__(self) -> None:
        require_between("absorptance", self.absorptance, 0.0, 1.0, source="GROUTJOBS")
        require_above("emissivity", self.emissivity, 0.0, source="GROUTJOBS")
        require_between("emissivity", self.emissivity, 0.0, 1.0, source="GROUTJOBS")
        require_between("share in the sun", self.sun_share_ratio, 0.0, 1.0, source="GROUTJOBS")


@dataclass(frozen=True, kw_only=True)
class Cover:
    """What shade or an enclosure leaves of the weather, hour by hour; every row has the shape of the weather.

    air_c is the air at the surface. around_c radiates on it from where the sky is hidden. film_w_m2k is NaN where the
    wind makes the film.
    """

    sun_left_ratio: Floats
    sky_left_ratio: Floats
    wind_left_ratio: Floats
    air_c: Floats
    around_c: Floats
    film_w_m2k: Floats

    @classmethod
    def none(cls, air: HourlyAir) -> "Cover":
        """Nothing is covered: what the exposure hides of the sky radiates like a body as warm as the air."""
        whole = np.ones_like(air.air_c)
        return cls(
            sun_left_ratio=whole,
            sky_left_ratio=whole,
            wind_left_ratio=whole,
            air_c=air.air_c,
            around_c=air.air_c,
            film_w_m2k=np.full_like(whole, np.nan),
        )


def sky_temps_c(air_c: Floats, dew_point_c: Floats, cloud_ratio: Floats) -> Floats:
    """Return the temperature of a black sky that sends down the long-wave radiation of the true one, for arrays.

    Parameters
    ----------
    air_c : Air temperature near the ground. [°C], shape (..., n_hours), -60 to 80
    dew_point_c : Dew point near the ground. [°C], shape as air_c, -100 to 80
    cloud_ratio : Share of the sky under cloud. [-], shape as air_c, 0 to 1

    Returns
    -------
    Sky temperature. [°C], shape as air_c

    Raises
    ------
    OutOfRange : a value lies outside the limits above.

    Source
    ------
    [LI2017] emissivity of the clear sky, calibrated on 30 000 readings; [WALTON1983] factor for cloud in tenths.

    Examples
    --------
    >>> sky_temps_c(np.array([20.0]), np.array([10.0]), np.array([0.0])).round(1).tolist()
    [5.5]
    """
    require_all_between("air temperature", air_c, -60.0, 80.0, unit="°C", source="LI2017")
    require_all_between("dew point", dew_point_c, -100.0, 80.0, unit="°C", source="LI2017")
    require_all_between("cloud cover", cloud_ratio, 0.0, 1.0, source="WALTON1983")
    tenths = 10 * cloud_ratio
    clear = 0.758 + 0.521 * dew_point_c / 100 + 0.625 * (dew_point_c / 100) ** 2
    emissivity = np.minimum(clear * (1 + 0.0224 * tenths - 0.0035 * tenths**2 + 0.00028 * tenths**3), 1.0)
    return np.asarray((air_c + ZERO_C_IN_K) * emissivity**0.25 - ZERO_C_IN_K)


def convection_films_w_m2k(wind_km_h: Floats, exposure: Exposure) -> Floats:
    """Return the coefficient of convection from a horizontal surface near the ground, for arrays.

    Parameters
    ----------
    wind_km_h : Wind 10 m above ground. [km/h], any shape, 0 to 250
    exposure : Where the surface is.

    Returns
    -------
    Coefficient without radiation. [W/m²·K], shape as wind_km_h

    Raises
    ------
    OutOfRange : a wind lies outside the limits above.

    Source
    ------
    [ISO6946] 4 + 4 v with v in m/s at the surface; wind brought down from 10 m by 0.66, PRACTICE. Within ± 30 %.

    Examples
    --------
    >>> convection_films_w_m2k(np.array([18.0]), Exposure.OPEN).round(1).tolist()
    [17.2]
    """
    require_all_between("wind", wind_km_h, 0.0, 250.0, unit="km/h", source="ISO6946")
    if exposure is Exposure.INDOORS:
        return np.full_like(wind_km_h, STILL_FILM_W_M2K)
    return np.asarray(4 + 4 * WIND_SHARE_AT_HALF_METRE * _SHARES[exposure].wind * wind_km_h / 3.6)


class SurfaceLoad:
    """Everything of the film that does not depend on the temperature of the surface, at each hour of a batch.

    Where a cover is put up or taken away the film jumps: covers tells it as it is up to each instant, and from it on.
    jumps says where, shape (n_hours + 1, n_batch).
    """

    def __init__(self, air: HourlyAir, surface: Surface, covers: tuple[Cover, Cover] | None = None) -> None:
        self.n_batch, self.n_hours = air.air_c.shape[0], air.n_hours
        before, after = covers or (Cover.none(air), None)
        self._before = _Around(air, surface, before)
        self._after = self._before if after is None else _Around(air, surface, after)
        self.jumps = self._before.differs_from(self._after)

    @classmethod
    def joined(cls, loads: Sequence["SurfaceLoad"]) -> "SurfaceLoad":
        """Loads of one length side by side, as the load of one batch."""
        whole = cls.__new__(cls)
        whole.n_batch, whole.n_hours = sum(load.n_batch for load in loads), loads[0].n_hours
        whole._before = _Around.joined([load._before for load in loads])
        whole._after = _Around.joined([load._after for load in loads])
        whole.jumps = np.concatenate([load.jumps for load in loads], axis=1)
        return whole

    def film(self, hour: int, surface_c: Floats) -> tuple[Floats, Floats]:
        """Film coefficient [W/m²·K] and its product with the air temperature that alone would act as air, sun and
        sky do together [W/m²], as they are up to this instant; both shape (n_batch,)."""
        return self._before.film(hour, surface_c)

    def film_after(self, hour: int, surface_c: Floats) -> tuple[Floats, Floats]:
        """The same from this instant on."""
        return self._after.film(hour, surface_c)


class _Around:
    """Convection, sun and what radiates on the surface, at each hour of a batch, the hours first."""

    def __init__(self, air: HourlyAir, surface: Surface, cover: Cover) -> None:
        share = _SHARES[surface.exposure]
        by_wind = convection_films_w_m2k(air.wind_km_h * cover.wind_left_ratio, surface.exposure)
        convection = np.where(np.isnan(cover.film_w_m2k), by_wind, cover.film_w_m2k)
        sun_ratio = surface.absorptance * surface.sun_share_ratio * share.sun * cover.sun_left_ratio
        sky_ratio = share.sky * cover.sky_left_ratio
        sky_c = sky_temps_c(air.air_c, air.dew_point_c, air.cloud_ratio)
        self._convection = convection.T
        self._from_air = (convection * cover.air_c + sun_ratio * air.solar_w_m2).T
        self._to_sky = STEFAN_BOLTZMANN_W_M2K4 * surface.emissivity * sky_ratio.T
        self._to_around = STEFAN_BOLTZMANN_W_M2K4 * surface.emissivity * (1 - sky_ratio.T)
        self._sky_c, self._around_c = sky_c.T, cover.around_c.T
        self._sky_k, self._around_k = self._sky_c + ZERO_C_IN_K, self._around_c + ZERO_C_IN_K
        self._sky_k2, self._around_k2 = self._sky_k**2, self._around_k**2

    @classmethod
    def joined(cls, around: Sequence["_Around"]) -> "_Around":
        whole = cls.__new__(cls)
        for name in vars(around[0]):
            setattr(whole, name, np.concatenate([getattr(one, name) for one in around], axis=1))
        return whole

    def differs_from(self, other: "_Around") -> npt.NDArray[np.bool_]:
        """Where anything is not the same, shape (n_hours + 1, n_batch)."""
        pairs = [(mine, getattr(other, name)) for name, mine in vars(self).items()]
        return np.asarray(np.logical_or.reduce([mine != theirs for mine, theirs in pairs]), dtype=np.bool_)

    def film(self, hour: int, surface_c: Floats) -> tuple[Floats, Floats]:
        surface_k = surface_c + ZERO_C_IN_K
        surface_k2 = surface_k * surface_k
        around = self._to_around[hour] * (self._around_k2[hour] + surface_k2) * (self._around_k[hour] + surface_k)
        sky = self._to_sky[hour] * (self._sky_k2[hour] + surface_k2) * (self._sky_k[hour] + surface_k)
        flow = self._from_air[hour] + around * self._around_c[hour] + sky * self._sky_c[hour]
        return self._convection[hour] + around + sky, flow


def gap_conductance_w_m2k(gap_mm: float, mean_c: float, emissivity_above: float, emissivity_below: float) -> float:
    """Return the conductance of the closed air space between plate and concrete before the pour.

    Parameters
    ----------
    gap_mm : Height of the space. [mm], 5 to 300
    mean_c : Mean temperature of its two faces. [°C], -40 to 60
    emissivity_above : Emissivity of the steel. [-], above 0, to 1
    emissivity_below : Emissivity of the concrete. [-], above 0, to 1

    Returns
    -------
    Conductance. [W/m²·K]; for heat flowing up it is about 12 % higher, for heat flowing down 12 % lower

    Raises
    ------
    OutOfRange : a value lies outside the limits above.

    Source
    ------
    [ISO6946] annex on air layers: the larger of 1.25 and 0.025/d, plus radiation between the faces; from memory.

    Examples
    --------
    >>> round(gap_conductance_w_m2k(40.0, 10.0, 0.9, 0.9), 2)
    5.46
    """
    require_between("gap under the plate", gap_mm, 5.0, 300.0, unit="mm", source="ISO6946")
    require_between("mean temperature of the gap", mean_c, -40.0, 60.0, unit="°C", source="ISO6946")
    for emissivity in (emissivity_above, emissivity_below):
        require_above("emissivity", emissivity, 0.0, source="ISO6946")
        require_between("emissivity", emissivity, 0.0, 1.0, source="ISO6946")
    exchange = 1 / (1 / emissivity_above + 1 / emissivity_below - 1)
    radiation = exchange * 4 * STEFAN_BOLTZMANN_W_M2K4 * (mean_c + ZERO_C_IN_K) ** 3
    return max(1.25, 0.025 / (gap_mm / 1000)) + radiation
