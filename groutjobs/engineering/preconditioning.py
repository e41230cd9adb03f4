"""How long bags and pails take to reach the temperature of the store they stand in.

A pallet or a pail is no lumped body: its core lags far behind its surface. A brick is the product of three plane
walls, an upright pail that of a cylinder and a wall, each an exact series for a body that is brought into air of
another temperature. Convection inside liquid resin is left out, so a pail is ready somewhat sooner than it says.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.optimize import brentq

from groutjobs import units
from groutjobs.engineering.checks import Floats, require_above, require_all_between, require_between
from groutjobs.engineering.materials import Solid
from groutjobs.engineering.series import Series, cylinder_series, wall_series
from groutjobs.findings import Finding, Level

LUMPED_BIOT = 0.1
"""Up to this a body may be taken as one temperature, within about 5 %. INCROPERA 5.2."""
LONGEST_H = 5000.0

AGGREGATE = Solid(
    conductivity_w_mk=0.38,
    density_kg_m3=1600.0,
    specific_heat_j_kgk=840.0,
    source="GROUTJOBS",
    note="dry graded sand and stone in bags; conductivity 0.3 to 0.5, higher when damp, from memory",
)
RESIN = Solid(
    conductivity_w_mk=0.2,
    density_kg_m3=1150.0,
    specific_heat_j_kgk=1900.0,
    source="PRACTICE",
    note="liquid epoxy resin, general handbooks, from memory",
)


@dataclass(frozen=True, kw_only=True)
class Brick:
    """Bags or a stack of them, open to the air on all six sides."""

    length_mm: float
    width_mm: float
    height_mm: float

    def __post_init__(self) -> None:
        for label, size_mm in (("length", self.length_mm), ("width", self.width_mm), ("height", self.height_mm)):
            require_between(f"{label} of the stack", size_mm, 20.0, 3000.0, unit="mm", source="GROUTJOBS")


@dataclass(frozen=True, kw_only=True)
class Pail:
    """An upright pail, open to the air all round."""

    diameter_mm: float
    height_mm: float

    def __post_init__(self) -> None:
        require_between("diameter of the pail", self.diameter_mm, 20.0, 1000.0, unit="mm", source="GROUTJOBS")
        require_between("height of the pail", self.height_mm, 20.0, 2000.0, unit="mm", source="GROUTJOBS")


@dataclass(frozen=True, kw_only=True)
class Stored:
    """What stands in the store, in words and numbers. The film includes any wrapping."""

    name: str
    shape: Brick | Pail
    solid: Solid
    film_w_m2k: float
    source: str

    def __post_init__(self) -> None:
        require_between("film around the material", self.film_w_m2k, 0.1, 1000.0, unit="W/m²·K", source=self.source)


_BAG = Brick(length_mm=600.0, width_mm=400.0, height_mm=120.0)
STORED = {
    "pallet_wrapped": Stored(
        name="wrapped pallet",
        shape=Brick(length_mm=1200.0, width_mm=1000.0, height_mm=900.0),
        solid=AGGREGATE,
        film_w_m2k=6.0,
        source="GROUTJOBS",
    ),
    "pallet_opened": Stored(
        name="opened pallet with air between the bags", shape=_BAG, solid=AGGREGATE, film_w_m2k=4.5, source="GROUTJOBS"
    ),
    "bag": Stored(name="single bag", shape=_BAG, solid=AGGREGATE, film_w_m2k=7.7, source="ISO6946"),
    "pail_20_l": Stored(
        name="20 L pail",
        shape=Pail(diameter_mm=285.0, height_mm=340.0),
        solid=RESIN,
        film_w_m2k=7.7,
        source="ISO6946",
    ),
    "pail_5_l": Stored(
        name="5 L pail", shape=Pail(diameter_mm=180.0, height_mm=200.0), solid=RESIN, film_w_m2k=7.7, source="ISO6946"
    ),
}
"""Usual packages, to be edited for the job. Film: 2.5 by still air and 5.2 by radiation [ISO6946]; between opened
bags 4.5, because they face each other; under wrap 6.0, for the air that it holds. The last two are ours."""


def lumped_time_constant_s(solid: Solid, volume_to_surface_m: float, film_w_m2k: float) -> float:
    """Return the time constant of a body that has one temperature throughout.

    Parameters
    ----------
    solid : Material of the body.
    volume_to_surface_m : Volume over surface. [m], above 0, to a Biot number of 0.1
    film_w_m2k : Film around it. [W/m²·K], above 0

    Returns
    -------
    Time after which 1/e of the difference is left. [s]

    Raises
    ------
    OutOfRange : a value lies outside its limits; a body with a larger Biot number has a core that lags.

    Source
    ------
    [INCROPERA] equations 5.7 and 5.10.
    """
    require_above("volume over surface", volume_to_surface_m, 0.0, unit="m", source="INCROPERA")
    require_above("film around the body", film_w_m2k, 0.0, unit="W/m²·K", source="INCROPERA")
    biot = film_w_m2k * volume_to_surface_m / solid.conductivity_w_mk
    require_between("Biot number of a lumped body", biot, None, LUMPED_BIOT, source="INCROPERA")
    return solid.heat_capacity_j_m3k * volume_to_surface_m / film_w_m2k


class _Body:
    """The product of the series of a stored body."""

    def __init__(self, stored: Stored) -> None:
        shape, film_ratio = stored.shape, stored.film_w_m2k / stored.solid.conductivity_w_mk
        self.parts: list[tuple[Series, float]] = []
        if isinstance(shape, Pail):
            radius_m, heights_mm = shape.diameter_mm / 2000, [shape.height_mm]
            self.parts.append((cylinder_series(film_ratio * radius_m), radius_m))
        else:
            heights_mm = [shape.length_mm, shape.width_mm, shape.height_mm]
        for height_mm in heights_mm:
            half_m = height_mm / 2000
            self.parts.append((wall_series(film_ratio * half_m), half_m))
        self.diffusivity_m2_h = stored.solid.diffusivity_m2_s * 3600

    def core_ratio(self, hours: float) -> float:
        return math.prod(part.middle_ratio(self.diffusivity_m2_h * hours / size_m**2) for part, size_m in self.parts)

    def mean_ratio(self, hours: float) -> float:
        return math.prod(part.mean_ratio(self.diffusivity_m2_h * hours / size_m**2) for part, size_m in self.parts)


@lru_cache(maxsize=64)
def _body(stored: Stored) -> _Body:
    """The roots of a package are found once: they take most of the time."""
    return _Body(stored)


@dataclass(frozen=True, kw_only=True)
class StoredTemperatures:
    """Temperatures of a stored body, shape (n_hours,)."""

    core_c: Floats
    mean_c: Floats


def stored_temperatures(stored: Stored, start_c: float, store_c: float, at_h: Floats) -> StoredTemperatures:
    """Return core and mean temperature of material brought into a store.

    Parameters
    ----------
    stored : The package, its material and its film.
    start_c : Temperature of the material throughout when it comes in. [°C], -40 to 80
    store_c : Temperature of the store. [°C], -40 to 80
    at_h : Times after that. [h], 0 or more, shape (n_times,)

    Returns
    -------
    Temperatures. [°C], shape (n_times,)

    Raises
    ------
    OutOfRange : a value lies outside the limits above.

    Source
    ------
    [INCROPERA] 5.5, 5.6 and 5.8, product of one-dimensional solutions.
    """
    _require_temperatures(start_c, store_c)
    require_all_between("time in the store", at_h, 0.0, None, unit="h", source="GROUTJOBS")
    body, difference_k = _body(stored), start_c - store_c
    core = np.array([body.core_ratio(float(hours)) for hours in at_h])
    mean = np.array([body.mean_ratio(float(hours)) for hours in at_h])
    return StoredTemperatures(core_c=store_c + difference_k * core, mean_c=store_c + difference_k * mean)


@dataclass(frozen=True)
class HoursInStore:
    """Hours until the mean and until the core of the material reach the wanted temperature."""

    mean_h: float
    core_h: float


def hours_in_store(stored: Stored, start_c: float, store_c: float, wanted_c: float) -> HoursInStore:
    """Return how long material must stand in a store.

    Parameters
    ----------
    stored : The package, its material and its film.
    start_c : Temperature of the material throughout when it comes in. [°C], -40 to 80
    store_c : Temperature of the store. [°C], -40 to 80
    wanted_c : Temperature to be reached. [°C], between start_c and 0.1 K short of store_c

    Returns
    -------
    Hours for mean and core.

    Raises
    ------
    OutOfRange : a value lies outside the limits above; material never quite reaches the store.

    Source
    ------
    [INCROPERA] 5.5, 5.6 and 5.8, product of one-dimensional solutions, solved for the time.

    Examples
    --------
    >>> found = hours_in_store(STORED["pallet_wrapped"], 2.0, 21.0, 16.0)
    >>> [round(found.mean_h), round(found.core_h)]
    [43, 87]
    """
    _require_temperatures(start_c, store_c)
    if start_c <= store_c:
        require_between("wanted temperature", wanted_c, start_c, store_c - 0.1, unit="°C", source="GROUTJOBS")
    else:
        require_between("wanted temperature", wanted_c, store_c + 0.1, start_c, unit="°C", source="GROUTJOBS")
    if wanted_c == start_c:
        return HoursInStore(0.0, 0.0)
    left = (wanted_c - store_c) / (start_c - store_c)
    body = _body(stored)
    require_between(f"share left in {LONGEST_H:g} h", body.core_ratio(LONGEST_H), 0.0, left, source="GROUTJOBS")
    mean_h = brentq(lambda hours: body.mean_ratio(hours) - left, 0.0, LONGEST_H, xtol=1e-6)
    core_h = brentq(lambda hours: body.core_ratio(hours) - left, 0.0, LONGEST_H, xtol=1e-6)
    return HoursInStore(float(mean_h), float(core_h))


def _require_temperatures(start_c: float, store_c: float) -> None:
    require_between("temperature of the material", start_c, -40.0, 80.0, unit="°C", source="GROUTJOBS")
    require_between("temperature of the store", store_c, -40.0, 80.0, unit="°C", source="GROUTJOBS")


def conditioning_findings(
    stored: Stored,
    start_c: float,
    store_c: float,
    wanted_c: float,
    hours_left: float,
    *,
    system: str = units.METRIC,
) -> list[Finding]:
    """Return what is to be said about material that must reach a temperature before it is mixed.

    Parameters
    ----------
    stored : The package, its material and its film.
    start_c : Temperature of the material throughout when it comes in. [°C], -40 to 80
    store_c : Temperature of the store. [°C], -40 to 80
    wanted_c : Temperature that the core must reach. [°C], between start_c and 0.1 K short of store_c
    hours_left : Hours until the first batch is mixed. [h], 0 or more
    system : Units that the reader sees.

    Returns
    -------
    A warning where the core is late, a note with the hours otherwise. The margin is in hours.

    Raises
    ------
    OutOfRange : a value lies outside the limits above.

    Source
    ------
    [GROUTJOBS] hours_in_store against the hours that are left.
    """
    require_between("hours left", hours_left, 0.0, None, unit="h", source="GROUTJOBS")
    need = hours_in_store(stored, start_c, store_c, wanted_c)
    late = need.core_h > hours_left
    hours = f"{need.core_h:.0f} h for the core and {need.mean_h:.0f} h for the mean"
    start, store, wanted = (units.shown(temp_c, "c", system) for temp_c in (start_c, store_c, wanted_c))
    article = "An" if stored.name[0] in "aeiou" else "A"
    message = (
        f"{article} {stored.name} goes from {start} to {wanted} in a store of {store} in about {hours}; "
        f"there it has {hours_left:.0f} h."
    )
    return [
        Finding(
            level=Level.WARNING if late else Level.NOTE,
            code="conditioning_late" if late else "conditioning_in_time",
            message=message,
            source=stored.source,
            hint=(LATE_HINT if late else "") + READ_HINT,
            about=stored.name,
            margin=hours_left - need.core_h,
        )
    ]


LATE_HINT = "Open the stack and leave air between the bags and pails, or bring it in earlier. "
READ_HINT = "Read the core of a bag or pail before mixing; the supplier's written temperatures decide."
