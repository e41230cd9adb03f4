"""What the heat model runs through before the first hour that counts, so that a wrong start is forgotten.

Known past hours are best. Where they are few, the first day is repeated: weather lasts, so it tells more of the days
before it than a usual year does. Earlier than ten days before, a usual year tells more than nothing.
"""

from dataclasses import dataclass, fields

import numpy as np

from groutjobs.engineering.checks import Floats, require_between
from groutjobs.engineering.sky import Exposure, HourlyAir
from groutjobs.errors import Unusable

WANTED_H = 720
REPEATED_TO_H = 240
"""The first day is repeated until so many hours lie before the first that counts; further back comes a usual year."""
_PAST_D = (0.0, 1.0, 3.0, 5.0, 10.0, 20.0, 30.0)
_LEFT_K = {
    "open": (1.6, 1.1, 0.9, 0.85, 0.8, 0.5, 0.35),
    "open, usual year": (1.5, 1.0, 0.75, 0.6, 0.5, 0.4, 0.35),
    "covered": (1.3, 1.0, 0.6, 0.5, 0.35, 0.2, 0.15),
}
"""Error of the concrete surface under a plate, rms over three days, against a run over 300 days: by days of known past.
GROUTJOBS, the worse of two stations' typical years, 24 dates each, shifted by 20 days to stand for another year. Under
a roof a usual year gains nothing, and of a hall it says nothing. A reading of the concrete takes most of this away."""


@dataclass(frozen=True, kw_only=True)
class SpinUp:
    """The weather with what was put before it: first hours of a usual year, then the first day over and over.

    left_error_k is the error to expect of the concrete surface in the three days after the known past. [K], rms
    """

    air: HourlyAir
    past_h: int
    repeated_h: int
    usual_year_h: int
    left_error_k: float

    @property
    def added_h(self) -> int:
        return self.repeated_h + self.usual_year_h


def spun_up(air: HourlyAir, past_h: int, exposure: Exposure, usual_year: HourlyAir | None) -> SpinUp:
    """Return the weather with enough hours before it to forget the start.

    Parameters
    ----------
    air : The weather, shape (n_hours + 1,), its known past first.
    past_h : How many of its first hours are past. [h], 0 to air.n_hours
    exposure : Where the foundation stands.
    usual_year : Hours of a typical year on the same dates that end one hour before the weather begins, or None; it is
        used in the open only.

    Returns
    -------
    SpinUp; nothing is repeated where less than a day is known.

    Raises
    ------
    OutOfRange, Unusable : more past than weather, or several cases.

    Source
    ------
    [GROUTJOBS] order and errors measured on typical years [TMY3], see the module.
    """
    if air.air_c.ndim != 1 or (usual_year is not None and usual_year.air_c.ndim != 1):
        raise Unusable("hours before the forecast", "one run of weather is needed", source="GROUTJOBS")
    require_between("past hours", past_h, 0, air.n_hours, unit="h", source="GROUTJOBS")
    days = -(-max(0, REPEATED_TO_H - past_h) // 24) if air.n_hours >= 23 else 0
    wanted = max(0, WANTED_H - past_h - 24 * days)
    usual = [] if usual_year is None or exposure is not Exposure.OPEN else [_before(usual_year, 24 * days, wanted)]
    usual_h = sum(len(one["air_c"]) for one in usual)
    first_day = {name: row[:24] for name, row in _rows(air).items()}
    parts = [*usual, *[first_day] * days, _rows(air)]
    longer = HourlyAir(**{name: np.concatenate([part[name] for part in parts]) for name in _rows(air)})
    share = usual_h / wanted if wanted else 0.0
    left_k = left_error_k(past_h, exposure, share)
    return SpinUp(air=longer, past_h=past_h, repeated_h=24 * days, usual_year_h=usual_h, left_error_k=left_k)


def left_error_k(past_h: float, exposure: Exposure, usual_year_ratio: float) -> float:
    """Return the error to expect of the concrete surface in the three days after the known past.

    Parameters
    ----------
    past_h : Known past hours. [h], 0 or more
    exposure : Where the foundation stands.
    usual_year_ratio : Share of the hours still wanted that a typical year gives. [-], 0 to 1

    Returns
    -------
    Root mean square. [K]; 0.35 K in the open and 0.15 K under a roof after 30 days

    Raises
    ------
    OutOfRange : a value lies outside the limits above.

    Source
    ------
    [GROUTJOBS] measured on typical years [TMY3]; straight lines between.

    Examples
    --------
    >>> left_error_k(240, Exposure.OPEN, 0.0), left_error_k(240, Exposure.OPEN, 1.0)
    (0.8, 0.5)
    """
    require_between("past hours", past_h, 0, None, unit="h", source="GROUTJOBS")
    require_between("share of a usual year", usual_year_ratio, 0.0, 1.0, source="GROUTJOBS")
    if exposure is not Exposure.OPEN:
        return float(np.interp(past_h / 24, _PAST_D, _LEFT_K["covered"]))
    without, with_it = (np.interp(past_h / 24, _PAST_D, _LEFT_K[key]) for key in ("open", "open, usual year"))
    return float(without + usual_year_ratio * (with_it - without))


def _rows(air: HourlyAir) -> dict[str, Floats]:
    return {field.name: getattr(air, field.name) for field in fields(air)}


def _before(usual_year: HourlyAir, skipped: int, wanted: int) -> dict[str, Floats]:
    """The last wanted hours of the usual year, those before the repeated days."""
    last = max(0, usual_year.n_hours + 1 - skipped)
    return {name: row[max(0, last - wanted) : last] for name, row in _rows(usual_year).items()}
