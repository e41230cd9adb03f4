"""Limits that an hour must keep for a pour, with their sources. Each can be edited for a job."""

import enum
from dataclasses import dataclass

from groutjobs.engineering.sky import Exposure
from groutjobs.findings import Level
from groutjobs.scheduling.conditions import PlacementNeed

WARN_SHARE_OF_WORKING_LIFE = 0.5
BLOCK_SHARE_OF_WORKING_LIFE = 0.8


class Span(enum.StrEnum):
    """How long a limit must hold from the start of placing."""

    PLACEMENT = "placement"
    PROTECTION = "placement and protection"


@dataclass(frozen=True, kw_only=True)
class PourLimit:
    """One limit on one curve of conditions.hourly_quantities.

    suffix is the unit of the curve, see units.UNITS_OF. scale is the margin that counts as comfortable, in that unit;
    it makes margins of different kinds comparable. unknown_level weighs an hour at which the curve is not known.
    """

    code: str
    label: str
    quantity: str
    suffix: str
    value: float
    is_minimum: bool
    level: Level
    source: str
    span: Span = Span.PLACEMENT
    scale: float = 1.0
    hint: str = ""
    unknown_level: Level = Level.BLOCKER
    unknown_hint: str = ""


@dataclass(frozen=True)
class _Kind:
    """How the limits of one curve are told."""

    label: str
    quantity: str
    suffix: str
    is_minimum: bool
    scale: float
    hint: str = ""
    unknown_level: Level = Level.BLOCKER
    unknown_hint: str = ""

    def limit(self, code: str, level: Level, value: float, source: str, span: Span = Span.PLACEMENT) -> PourLimit:
        return PourLimit(code=code, level=level, value=value, source=source, span=span, **vars(self))


_WARM_UP = "wait for the afternoon, or heat the area slowly under cover without open flames"
_COOL_DOWN = "pour in the early morning, shade plate and concrete from the day before"
_AIR_MIN = _Kind("air", "air_c", "c", True, 1.0, _WARM_UP)
_AIR_MAX = _Kind("air", "air_c", "c", False, 1.0, _COOL_DOWN)
_CONCRETE_MIN = _Kind("concrete", "concrete_c", "c", True, 1.0, _WARM_UP)
_CONCRETE_MAX = _Kind("concrete", "concrete_c", "c", False, 1.0, _COOL_DOWN)
_PLATE_MIN = _Kind("plate", "plate_c", "c", True, 1.0, _WARM_UP)
_PLATE_MAX = _Kind("plate", "plate_c", "c", False, 1.0, _COOL_DOWN)
_DIFFERENCE = _Kind(
    "difference of plate and concrete",
    "plate_concrete_difference_k",
    "k",
    False,
    1.0,
    "shade the plate, or wait until both are alike",
)
_DRY = "warm the surface or wait; wipe nothing that is under the dew point, it wets again"
_CONCRETE_SPREAD = _Kind("concrete above the dew point", "concrete_spread_k", "k", True, 1.0, _DRY)
_PLATE_SPREAD = _Kind("plate above the dew point", "plate_spread_k", "k", True, 1.0, _DRY)
_HUMIDITY = _Kind("relative humidity", "relative_humidity", "ratio", False, 0.05, "ventilate with drier air")
_NOT_TOLD = "the forecast does not tell it; look at the sky and at another forecast"
_RAIN = _Kind(
    "rain probability",
    "rain_probability",
    "ratio",
    False,
    0.1,
    "put a roof over the area before it is cleaned",
    Level.WARNING,
    _NOT_TOLD,
)
_WIND = _Kind("wind", "wind_km_h", "km_h", False, 5.0, "put up wind screens", Level.WARNING, _NOT_TOLD)
_EVAPORATION = _Kind(
    "evaporation from the grout",
    "evaporation_rate_kg_m2_h",
    "kg_m2_h",
    False,
    0.1,
    "screens, shade, fog spray, wet covers at once after finishing",
    Level.WARNING,
    "the formula needs a known wind and air above -18 °C",
)
_WORKING_LIFE = _Kind(
    "working life",
    "working_life_min",
    "min",
    True,
    10.0,
    "cool the material, mix smaller batches, shorten the way to the form",
    Level.BLOCKER,
    "the grout would be hotter than the hottest row of the data sheet",
)
_B, _W = Level.BLOCKER, Level.WARNING


def _epoxy_limits() -> tuple[PourLimit, ...]:
    return (
        _AIR_MIN.limit("air_cold", _B, 10.0, "BLOCH-MCM"),
        _AIR_MIN.limit("air_cool", _W, 18.0, "BLOCH-MCM", Span.PROTECTION),
        _AIR_MAX.limit("air_warm", _W, 32.0, "BLOCH-MCM"),
        _AIR_MAX.limit("air_hot", _B, 38.0, "GROUTJOBS"),
        _CONCRETE_MIN.limit("concrete_cold", _B, 10.0, "BLOCH-MCM"),
        _CONCRETE_MIN.limit("concrete_cool", _W, 18.0, "API686"),
        _CONCRETE_MAX.limit("concrete_warm", _W, 32.0, "API686"),
        _CONCRETE_MAX.limit("concrete_hot", _B, 38.0, "GROUTJOBS"),
        _PLATE_MIN.limit("plate_cold", _B, 10.0, "BLOCH-MCM"),
        _PLATE_MIN.limit("plate_cool", _W, 18.0, "API686"),
        _PLATE_MAX.limit("plate_warm", _W, 32.0, "API686"),
        _PLATE_MAX.limit("plate_hot", _B, 38.0, "GROUTJOBS"),
        _DIFFERENCE.limit("plate_concrete_difference", _W, 6.0, "GROUTJOBS"),
        _CONCRETE_SPREAD.limit("concrete_dew_point", _B, 3.0, "ISO8502-4"),
        _PLATE_SPREAD.limit("plate_dew_point", _B, 3.0, "ISO8502-4"),
        _HUMIDITY.limit("humidity", _W, 0.85, "ISO8502-4"),
    )


def _cement_limits() -> tuple[PourLimit, ...]:
    return (
        _AIR_MIN.limit("air_cold", _B, 4.4, "ACI351.1"),
        _AIR_MIN.limit("air_cool", _W, 10.0, "BLOCH-MCM", Span.PROTECTION),
        _AIR_MAX.limit("air_warm", _W, 32.0, "ACI351.1"),
        _AIR_MAX.limit("air_hot", _B, 38.0, "GROUTJOBS"),
        _CONCRETE_MIN.limit("concrete_cold", _B, 4.4, "ACI351.1"),
        _CONCRETE_MIN.limit("concrete_cool", _W, 7.2, "ACI351.1"),
        _CONCRETE_MAX.limit("concrete_warm", _W, 32.0, "ACI351.1"),
        _CONCRETE_MAX.limit("concrete_hot", _B, 38.0, "GROUTJOBS"),
        _PLATE_MIN.limit("plate_cold", _B, 4.4, "ACI351.1"),
        _PLATE_MIN.limit("plate_cool", _W, 7.2, "ACI351.1"),
        _PLATE_MAX.limit("plate_warm", _W, 32.0, "ACI351.1"),
        _PLATE_MAX.limit("plate_hot", _B, 38.0, "GROUTJOBS"),
        _EVAPORATION.limit("evaporation", _W, 0.5, "ACI305"),
        _EVAPORATION.limit("evaporation_high", _B, 1.0, "ACI305"),
    )


def default_limits(kind: str, exposure: Exposure, *, has_plate: bool = True) -> tuple[PourLimit, ...]:
    """Return the limits to begin with for a kind of grout and a place; edit them for the job.

    Parameters
    ----------
    kind : "epoxy" or "cementitious"; KeyError for any other.
    exposure : Indoors there is neither rain nor wind to fear.
    has_plate : Without a plate its limits are left out.

    Returns
    -------
    Limits, each with its source. The supplier's instruction and the owner's specification outrank them.

    Source
    ------
    [BLOCH-MCM] and [API686] temperatures for epoxy; [ACI351.1] for cement; [ISO8502-4] dew point and humidity;
    [ACI305] evaporation; [GROUTJOBS] the rest, and what weighs as a blocker. Each limit names its own key.
    """
    limits = {"epoxy": _epoxy_limits, "cementitious": _cement_limits}[kind]()
    if exposure is not Exposure.INDOORS:
        limits += (
            _RAIN.limit("rain_possible", _W, 0.2, "GROUTJOBS"),
            _RAIN.limit("rain_likely", _B if exposure is Exposure.OPEN else _W, 0.5, "GROUTJOBS"),
            _WIND.limit("wind", _W, 30.0, "GROUTJOBS"),
        )
    return tuple(limit for limit in limits if has_plate or not limit.quantity.startswith("plate"))


def working_life_limits(need: PlacementNeed) -> tuple[PourLimit, ...]:
    """Return the working life that one batch needs: twice its time without a word, 1.25 times at the least.

    Parameters
    ----------
    need : The time from the end of mixing to the last of the batch in place is used.

    Returns
    -------
    Two limits on the working life: the time of a batch over 0.5 warns, over 0.8 stands in the way.

    Source
    ------
    [GROUTJOBS] the working life itself comes from the data sheet, at the temperature of the grout.
    """
    return (
        _WORKING_LIFE.limit("working_life_short", _W, need.batch_min / WARN_SHARE_OF_WORKING_LIFE, "GROUTJOBS"),
        _WORKING_LIFE.limit("working_life_too_short", _B, need.batch_min / BLOCK_SHARE_OF_WORKING_LIFE, "GROUTJOBS"),
    )
