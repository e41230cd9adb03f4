"""Shade and enclosures over a foundation: what they leave of the weather, hour by hour.

Hours count on the axis of the weather of the run. A cover acts from the first instant to the last; there the film of
the surface jumps. Only the top of the column is covered: the underside of a table-top block stays in the air outside.

    around = Surroundings(…, covers=(Shade(from_hour=0, to_hour=24, sun_left_ratio=0.2), Enclosure(…)))
    before = simulate(layers, air, around, start)
    judged = air_under(around.covers, air)
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from groutjobs.engineering.checks import Floats, require_between
from groutjobs.engineering.sky import STILL_FILM_W_M2K, Cover, HourlyAir, Ints
from groutjobs.errors import Unusable

INSIDE_RESISTANCE_M2K_W = 0.13
OUTSIDE_RESISTANCE_M2K_W = 0.04
"""Surface resistances of a wall, radiation included: ISO6946."""
SINGLE_SKIN_W_M2K = 1 / (INSIDE_RESISTANCE_M2K_W + OUTSIDE_RESISTANCE_M2K_W)
"""A sheet without resistance of its own, 5.9 W/m²·K. ISO6946."""
DOUBLE_SKIN_W_M2K = 1 / (INSIDE_RESISTANCE_M2K_W + 0.18 + OUTSIDE_RESISTANCE_M2K_W)
"""Two sheets with 25 mm or more of still air between them, 2.9 W/m²·K. ISO6946."""


@dataclass(frozen=True, kw_only=True)
class Shade:
    """A roof or cloth that keeps sun from the surface. It is taken to be as warm as the air, which a dark one is not.

    The part of the sky that it hides counts as air; 1 for the sky is the cold side at night, 0 the warm one.
    """

    from_hour: int
    to_hour: int
    sun_left_ratio: float
    sky_left_ratio: float = 1.0
    wind_left_ratio: float = 1.0

    def __post_init__(self) -> None:
        _require_hours(self.from_hour, self.to_hour, "shade")
        require_between("sun left by the shade", self.sun_left_ratio, 0.0, 1.0, source="GROUTJOBS")
        require_between("sky left by the shade", self.sky_left_ratio, 0.0, 1.0, source="GROUTJOBS")
        require_between("wind left by the shade", self.wind_left_ratio, 0.0, 1.0, source="GROUTJOBS")

    def laid_on(self, cover: Cover, where: npt.NDArray[np.bool_], outside_c: Floats) -> Cover:
        return replace(
            cover,
            sun_left_ratio=np.where(where, self.sun_left_ratio, cover.sun_left_ratio),
            sky_left_ratio=np.where(where, self.sky_left_ratio, cover.sky_left_ratio),
            wind_left_ratio=np.where(where, self.wind_left_ratio, cover.wind_left_ratio),
        )


@dataclass(frozen=True, kw_only=True)
class Enclosure:
    """A tent over plate and block: no sun, no sky, no wind. air_c is the air that it is held at; None: not heated.

    A heater holds it where the air outside is colder; otherwise inside is as outside, unless a cooler holds it too.
    The film is convection alone: 2.5 in still air, 0.7 where warm air lies still on a cold surface, 5 and more where
    a fan stirs it. The walls radiate as warm as their inner face: the colder outside, the colder they.
    Moisture: the heater is vented, so the air inside has the dew point of the air outside. A cooler takes out what
    would condense.
    """

    from_hour: int
    to_hour: int
    air_c: float | None
    is_cooled: bool = False
    film_w_m2k: float = STILL_FILM_W_M2K
    walls_w_m2k: float = SINGLE_SKIN_W_M2K

    def __post_init__(self) -> None:
        _require_hours(self.from_hour, self.to_hour, "enclosure")
        if self.air_c is not None:
            require_between("air in the enclosure", self.air_c, -10.0, 50.0, unit="°C", source="GROUTJOBS")
        elif self.is_cooled:
            raise Unusable("enclosure", "a cooler needs a temperature to hold", source="GROUTJOBS")
        require_between("film in the enclosure", self.film_w_m2k, 0.7, 30.0, unit="W/m²·K", source="ISO6946")
        require_between(
            "heat through the walls", self.walls_w_m2k, 0.1, SINGLE_SKIN_W_M2K, unit="W/m²·K", source="ISO6946"
        )

    def inside_c(self, outside_c: Floats) -> Floats:
        """Air inside at each temperature outside; any shape."""
        if self.air_c is None:
            return outside_c
        held_c = np.full_like(outside_c, self.air_c)
        return held_c if self.is_cooled else np.maximum(held_c, outside_c)

    def laid_on(self, cover: Cover, where: npt.NDArray[np.bool_], outside_c: Floats) -> Cover:
        inside_c = self.inside_c(outside_c)
        walls_c = inside_c - self.walls_w_m2k * INSIDE_RESISTANCE_M2K_W * (inside_c - outside_c)
        return replace(
            cover,
            sun_left_ratio=np.where(where, 0.0, cover.sun_left_ratio),
            sky_left_ratio=np.where(where, 0.0, cover.sky_left_ratio),
            wind_left_ratio=np.where(where, 0.0, cover.wind_left_ratio),
            air_c=np.where(where, inside_c, cover.air_c),
            around_c=np.where(where, walls_c, cover.around_c),
            film_w_m2k=np.where(where, self.film_w_m2k, cover.film_w_m2k),
        )


Covers = tuple[Shade | Enclosure, ...]


def _require_hours(from_hour: int, to_hour: int, what: str) -> None:
    require_between(f"first hour of the {what}", from_hour, 0, None, unit="h", source="GROUTJOBS")
    require_between(f"last hour of the {what}", to_hour, from_hour + 1, None, unit="h", source="GROUTJOBS")


def require_apart(covers: Sequence[Shade | Enclosure]) -> None:
    """Raise Unusable where two covers act in the same hour; one may begin where another ends.

    Parameters
    ----------
    covers : Shades and enclosures in any order.

    Raises
    ------
    Unusable : two of them overlap.

    Source
    ------
    [GROUTJOBS] one cover at a time says what is left of the weather.
    """
    ordered = sorted(covers, key=lambda cover: cover.from_hour)
    for first, second in itertools.pairwise(ordered):
        if second.from_hour < first.to_hour:
            reason = f"one lasts to hour {first.to_hour}, the next begins at hour {second.from_hour}"
            raise Unusable("shade and enclosures", f"two overlap: {reason}", source="GROUTJOBS")


def covers_before_and_after(covers: Covers, hours: Ints, air: HourlyAir) -> tuple[Cover, Cover]:
    """Return what covers leave of the weather up to each instant, and from it on.

    Parameters
    ----------
    covers : Shades and enclosures that do not overlap.
    hours : Hour of each instant of the weather on the axis of the covers. [h], shape as the weather, 0 or more
    air : The weather.

    Returns
    -------
    Two covers of the shape of the weather; they differ where one is put up or taken away after hour 0.

    Source
    ------
    [GROUTJOBS] walls between the films of [ISO6946].
    """
    before = after = Cover.none(air)
    for cover in covers:
        up_to = ((hours > cover.from_hour) | (cover.from_hour == 0)) & (hours <= cover.to_hour)
        from_on = (hours >= cover.from_hour) & (hours < cover.to_hour)
        before, after = cover.laid_on(before, up_to, air.air_c), cover.laid_on(after, from_on, air.air_c)
    return before, after


def following_outside(covers: Covers) -> Covers:
    """Return the covers with enclosures in which nothing holds the air: it does what the air outside does.

    Parameters
    ----------
    covers : Shades and enclosures.

    Returns
    -------
    The covers in their order.

    Source
    ------
    [GROUTJOBS] one of the two answers of which that of a heated enclosure is made up.
    """
    return tuple(
        replace(cover, air_c=None, is_cooled=False) if isinstance(cover, Enclosure) else cover for cover in covers
    )


def held_inside(covers: Covers) -> Covers:
    """Return the covers with heated enclosures in which the air stays as it is, whatever the air outside does.

    Parameters
    ----------
    covers : Shades and enclosures.

    Returns
    -------
    The covers in their order.

    Source
    ------
    [GROUTJOBS] the other answer: what still comes through the walls.
    """
    return tuple(
        replace(cover, is_cooled=True) if isinstance(cover, Enclosure) and cover.air_c is not None else cover
        for cover in covers
    )


def air_under(covers: Covers, air: HourlyAir, first: int = 0) -> HourlyAir:
    """Return the weather as it is under the covers, to judge placing by it.

    Parameters
    ----------
    covers : Shades and enclosures.
    air : The weather outside.
    first : Its first hour on the axis of the covers. [h], 0 or more

    Returns
    -------
    HourlyAir: the air inside an enclosure with the dew point of the air outside, no wind and no sun there.

    Raises
    ------
    OutOfRange : the first hour lies below zero.

    Source
    ------
    [GROUTJOBS] a vented heater adds no water; a cooler takes out what would condense. Cloud stays as outside.
    """
    require_between("first hour of the weather", first, 0, None, unit="h", source="GROUTJOBS")
    hours = np.broadcast_to(first + np.arange(air.n_hours + 1), air.air_c.shape)
    cover, _ = covers_before_and_after(covers, hours, air)
    return HourlyAir(
        air_c=cover.air_c,
        dew_point_c=np.where(np.isnan(cover.film_w_m2k), air.dew_point_c, np.minimum(air.dew_point_c, cover.air_c)),
        wind_km_h=air.wind_km_h * cover.wind_left_ratio,
        solar_w_m2=air.solar_w_m2 * cover.sun_left_ratio,
        cloud_ratio=air.cloud_ratio,
    )
