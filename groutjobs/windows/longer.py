"""A forecast made longer by the typical year, so that cure and protection after its last starts can be followed.

For calc.py. Starts stay those of the forecast. The step at the joint fades: the mean difference of the forecast's last
day from the typical one is laid on the typical hours and decays by e in the time after which a warm spell is over.
"""

import copy
import math
from dataclasses import dataclass

from groutjobs import units
from groutjobs.engineering.psychrometrics import relative_humidity_from_dew_point
from groutjobs.engineering.sky import Exposure
from groutjobs.equipment.models import Site
from groutjobs.findings import Finding, Level
from groutjobs.scheduling.forecast_error import CLIMATE_ERRORS
from groutjobs.weather.models import Forecast
from groutjobs.weather.queries import typical_hours_from

LONGEST_H = 240
"""Ten days past the end: after a cold start most epoxies are cured within them [GROUTJOBS]."""
LAST_DAY_H = 24
FADES_H = CLIMATE_ERRORS.time_constant_h
"""As long as the weather of another year keeps its difference from a typical one [GROUTJOBS]."""
_KEPT = ("wind_km_h", "solar_w_m2", "cloud_ratio")


@dataclass(frozen=True)
class Longer:
    """The forecast with typical hours behind it. `n_hours` are those from the first to plan for to its own end."""

    forecast: Forecast
    n_hours: int
    typical_h: int


def longer(forecast: Forecast, site: Site, exposure: Exposure) -> Longer:
    """The forecast with up to ten days of the site's typical year behind it.

    It stays as it is where it is a typical year itself, where the foundation stands in a hall, of which a typical year
    says nothing, and where no typical year of the site holds the hours before and after its end.
    """
    n_hours = forecast.hour_count - 1 - forecast.past_hours
    if forecast.is_typical or exposure is Exposure.INDOORS:
        return Longer(forecast, n_hours, 0)
    before_h = min(LAST_DAY_H, forecast.hour_count)
    typical = typical_hours_from(site, forecast.at(forecast.hour_count - before_h), before_h + LONGEST_H)
    typical_h = len(typical["temp_c"]) - before_h if typical else 0
    if typical_h <= 0:
        return Longer(forecast, n_hours, 0)
    made = copy.copy(forecast)
    made.hours = {name: _joined(forecast, name, rows) for name, rows in _faded(forecast, typical, before_h).items()}
    made.hours |= {name: forecast.hours[name] for name in ("past_hours",) if name in forecast.hours}
    if "rain_probability" in forecast.hours:
        made.hours["rain_probability"] = [*forecast.values("rain_probability"), *([0.0] * typical_h)]
    made.hour_count = forecast.hour_count + typical_h
    return Longer(made, n_hours, typical_h)


def end_notes(made: Longer) -> list[Finding]:
    """What the dates past the end of the forecast rest on."""
    if not made.typical_h:
        return []
    days = units.shown(made.typical_h, "h", units.METRIC)
    return [
        Finding(
            level=Level.NOTE,
            code="typical_year_after",
            message=f"Past the end of the forecast, cure and protection are followed through {days} of the typical "
            "year of this site. Its difference from the last day of the forecast fades within days. Rain is not judged "
            "there.",
            hint="Dates past the end say what is usual. Search again when a forecast reaches them.",
            source="GROUTJOBS",
        )
    ]


def _joined(forecast: Forecast, quantity: str, after: list[float]) -> list[float]:
    return [*forecast.values(quantity), *after]


def _faded(forecast: Forecast, typical: dict[str, list[float]], before_h: int) -> dict[str, list[float]]:
    """The typical hours after the end, warmer or colder by what is left of the difference at the joint."""
    temp_c, dew_point_c = (
        _moved(typical[name], forecast.values(name)[-before_h:]) for name in ("temp_c", "dew_point_c")
    )
    dew_point_c = [min(dew, air) for dew, air in zip(dew_point_c, temp_c, strict=True)]
    humidity = [relative_humidity_from_dew_point(air, dew) for air, dew in zip(temp_c, dew_point_c, strict=True)]
    kept = {name: typical[name][before_h:] for name in _KEPT}
    return kept | {"temp_c": temp_c, "dew_point_c": dew_point_c, "relative_humidity": humidity}


def _moved(typical: list[float], last: list[float]) -> list[float]:
    """The hours of `typical` after as many as `last` holds, each moved by what is left of their mean difference."""
    difference = sum(ours - usual for ours, usual in zip(last, typical, strict=False)) / len(last)
    after = typical[len(last) :]
    return [usual + difference * math.exp(-(hour + 1) / FADES_H) for hour, usual in enumerate(after)]
