"""MET Norway, Locationforecast 2.0, the complete form in JSON [METNO].

One list of instants, hourly at first and every few hours later on. Between two instants all but the chance of rain lie
on a straight line; the chance of rain of a spell of hours stands for each hour in it. Humidity is left to be computed
from temperature and dew point: of the two only the dew point lies near a straight line while the air warms up.
"""

import datetime as dt
import itertools

from groutjobs.units import to_si
from groutjobs.weather.series import HOUR, LONGEST_H, Series
from groutjobs.weather.services.hours import Told, chance_or_none, utc_words
from groutjobs.weather.services.offered import MET_NORWAY
from groutjobs.weather.services.reading import Part, Place, answer_of

LONGEST_STEP_H = 6
_DETAILS = {
    "temp_c": ("air_temperature", "celsius", "c", "degC"),
    "dew_point_c": ("dew_point_temperature", "celsius", "c", "degC"),
    "relative_humidity": ("relative_humidity", "%", "ratio", "percent"),
    "wind_km_h": ("wind_speed", "m/s", "km_h", "m_s"),
    "cloud_ratio": ("cloud_area_fraction", "%", "ratio", "percent"),
}
_CHANCE = "probability_of_precipitation"
_NEAR_DEG = 0.05


def url(place: Place) -> str:
    """Where the forecast of a place is asked for. The service brings temperatures to the height that it is given."""
    asked = f"lat={place.latitude}&lon={place.longitude}&altitude={place.elevation_m:.0f}"
    return f"https://{MET_NORWAY.host}/weatherapi/locationforecast/2.0/complete?{asked}"


def read(body: bytes, place: Place) -> tuple[Series, dt.datetime]:
    """The hours of an answer and their time of issue; HoursRefused says what is wrong, and where."""
    answer = answer_of(body)
    _check_place(answer, place)
    meta = answer.part("properties", "meta")
    instants = list(answer.part("properties", "timeseries").parts())
    if len(instants) < 2:
        answer.part("properties", "timeseries").refuse(f"holds {len(instants)} instants; at least 2 are needed")
    steps_h = _steps_h(instants)
    moisture = (
        "dew_point_c"
        if instants[0].has("data", "instant", "details", _DETAILS["dew_point_c"][0])
        else ("relative_humidity")
    )
    wanted = ("temp_c", moisture, "wind_km_h", "cloud_ratio")
    hours = {quantity: _filled(_values(instants, meta, quantity), steps_h) for quantity in wanted}
    chance, remarks = chance_or_none(_chances(instants, meta, steps_h), len(hours["temp_c"]))
    if chance:
        hours = {quantity: values[: len(chance)] for quantity, values in hours.items()}
        hours["rain_probability"] = list(chance)
    starts_at, issued_at = instants[0].part("time").moment(), meta.part("updated_at").moment()
    told = Told(issued_at, starts_at, hours, MET_NORWAY.title, (*_step_remark(starts_at, steps_h), *remarks))
    return told.series(), issued_at


def _steps_h(instants: list[Part]) -> list[int]:
    """Hours from each instant to the next: 1 to 6, whole, forwards."""
    moments = [instant.part("time").moment() for instant in instants]
    if moments[0].minute or moments[0].second or moments[0].microsecond:
        instants[0].part("time").refuse("is not on a full hour")
    steps = []
    for (before, after), instant in zip(itertools.pairwise(moments), instants[1:], strict=True):
        step_h = (after - before) / HOUR
        if step_h <= 0:
            instant.refuse(f"tells an hour twice or out of order: {utc_words(after)} comes after {utc_words(before)}")
        if step_h > LONGEST_STEP_H or step_h != int(step_h):
            instant.refuse(
                f"leaves a gap of {step_h:g} h after {utc_words(before)}; steps of 1 to {LONGEST_STEP_H} whole hours "
                "are taken [GROUTJOBS]"
            )
        steps.append(int(step_h))
    if sum(steps) > LONGEST_H:
        instants[-1].refuse(f"lies {sum(steps)} h after the first; up to {LONGEST_H} are taken [GROUTJOBS]")
    return steps


def _values(instants: list[Part], meta: Part, quantity: str) -> list[float]:
    name, unit, suffix, unit_key = _DETAILS[quantity]
    meta.part("units", name).unit(unit)
    return [to_si(instant.part("data", "instant", "details", name).number(), suffix, unit_key) for instant in instants]


def _filled(values: list[float], steps_h: list[int]) -> list[float]:
    """One value for each hour from the first instant to the last, on straight lines."""
    filled = []
    for (before, after), step_h in zip(itertools.pairwise(values), steps_h, strict=True):
        filled += [before + (after - before) * index / step_h for index in range(step_h)]
    return [*filled, values[-1]]


def _chances(instants: list[Part], meta: Part, steps_h: list[int]) -> list[float]:
    """The chance of rain for each hour from the first on, as far as it is told without a break."""
    told: list[float] = []
    for instant, step_h in zip(instants, steps_h, strict=False):
        spans = ("next_1_hours", "next_6_hours") if step_h == 1 else ("next_6_hours",)
        span = next((span for span in spans if instant.has("data", span, "details", _CHANCE)), "")
        if not span:
            break
        meta.part("units", _CHANCE).unit("%")
        percent = instant.part("data", span, "details", _CHANCE).number()
        told += [to_si(percent, "ratio", "percent")] * step_h
    return told


def _step_remark(starts_at: dt.datetime, steps_h: list[int]) -> list[str]:
    hourly = next((index for index, step_h in enumerate(steps_h) if step_h > 1), len(steps_h))
    if hourly == len(steps_h):
        return []
    from_at = starts_at + hourly * HOUR
    return [
        f"From {utc_words(from_at)} on the service gives a value every {max(steps_h)} h; the hours between lie on a "
        "straight line, so the coldest and the hottest hour of a day may be missed."
    ]


def _check_place(answer: Part, place: Place) -> None:
    point = answer.part("geometry", "coordinates")
    numbers = [number.number() for number in point.parts()]
    if len(numbers) < 2:
        point.refuse("is no place")
    away = (abs(numbers[0] - place.longitude_deg), abs(numbers[1] - place.latitude_deg))
    if max(away) > _NEAR_DEG:
        point.refuse(f"lies elsewhere than the site ({place.latitude}, {place.longitude})")
