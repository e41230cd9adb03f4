"""The US National Weather Service: forecast grid data in JSON [USNWS].

Asked in two steps: the place leads to the address of its grid cell, the cell to its layers. Each layer (temperature,
dew point and so on) is a list of intervals such as 2026-05-04T06:00:00+00:00/PT3H with one value that holds in each.
"""

import datetime as dt
import re

from groutjobs.fields import quoted
from groutjobs.units import to_si
from groutjobs.weather.series import HOUR, LONGEST_H, HoursRefused, Series
from groutjobs.weather.services.hours import Told, chance_or_none, utc_words
from groutjobs.weather.services.offered import US_NWS
from groutjobs.weather.services.reading import Part, Place, answer_of

_LAYERS = {
    "temp_c": ("temperature", "wmoUnit:degC", "c", "degC"),
    "dew_point_c": ("dewpoint", "wmoUnit:degC", "c", "degC"),
    "relative_humidity": ("relativeHumidity", "wmoUnit:percent", "ratio", "percent"),
    "wind_km_h": ("windSpeed", "wmoUnit:km_h-1", "km_h", "km_h"),
    "cloud_ratio": ("skyCover", "wmoUnit:percent", "ratio", "percent"),
    "rain_probability": ("probabilityOfPrecipitation", "wmoUnit:percent", "ratio", "percent"),
}
_NEEDED = ("temp_c", "wind_km_h", "cloud_ratio")
_DURATION = re.compile(r"P(?:(\d{1,2})D)?(?:T(\d{1,3})H)?")
_GRID = re.compile(rf"https://{re.escape(US_NWS.host)}/gridpoints/[A-Z]{{3}}/\d{{1,3}},\d{{1,3}}")
_CELL_DEG = 0.1


def place_url(place: Place) -> str:
    """Where the grid cell of a place is asked for."""
    return f"https://{US_NWS.host}/points/{place.latitude},{place.longitude}"


def grid_url(body: bytes) -> str:
    """The address of the cell's forecast; refused where it leads anywhere but to a cell of the service."""
    part = answer_of(body).part("properties", "forecastGridData")
    if not _GRID.fullmatch(part.text()):
        part.refuse(f"{quoted(part.text())} is no address of a grid cell of the service")
    return part.text()


def read(body: bytes, place: Place) -> tuple[Series, dt.datetime]:
    """The hours of a grid answer and their time of issue; HoursRefused says what is wrong, and where."""
    answer = answer_of(body)
    _check_place(answer, place)
    properties = answer.part("properties")
    layers = {
        quantity: _layer(properties, quantity)
        for quantity, (name, *_) in _LAYERS.items()
        if quantity in _NEEDED or properties.has(name, "values")
    }
    layers = {quantity: layer for quantity, layer in layers.items() if layer or quantity in _NEEDED}
    if not {"dew_point_c", "relative_humidity"} & set(layers):
        properties.refuse("holds neither dewpoint nor relativeHumidity")
    remarks = (*_height_remark(properties, place),)
    return _told(layers, properties.part("updateTime").moment(), remarks)


def _told(
    layers: dict[str, dict[dt.datetime, float]], issued_at: dt.datetime, remarks: tuple[str, ...]
) -> tuple[Series, dt.datetime]:
    chance = layers.pop("rain_probability", {})
    starts_at = max(next(iter(layer)) for layer in layers.values())
    ends_at = min(next(reversed(layer)) for layer in layers.values())
    hours = [starts_at + index * HOUR for index in range(round((ends_at - starts_at) / HOUR) + 1)]
    if not hours:
        raise HoursRefused(["The layers of the answer have no hour in common."])
    told_chance: list[float] = []
    for hour in hours:
        if hour not in chance:
            break
        told_chance.append(chance[hour])
    kept, more = chance_or_none(told_chance, len(hours))
    count = len(kept) if kept else len(hours)
    columns: dict[str, list[float]] = {
        quantity: [layer[hour] for hour in hours[:count]] for quantity, layer in layers.items()
    }
    if kept:
        columns["rain_probability"] = list(kept)
    name = f"{US_NWS.title}, grid forecast"
    return Told(issued_at, starts_at, columns, name, (*remarks, *more)).series(), issued_at


def _layer(properties: Part, quantity: str) -> dict[dt.datetime, float]:
    """Hour → value, in order and without a gap. A value holds for every hour of its interval."""
    name, unit, suffix, unit_key = _LAYERS[quantity]
    layer = properties.part(name)
    layer.part("uom").unit(unit)
    values: dict[dt.datetime, float] = {}
    next_at: dt.datetime | None = None
    for entry in layer.part("values").parts():
        begins, count = _interval(entry.part("validTime"))
        if next_at is not None and begins != next_at:
            entry.refuse(_out_of_step(begins, next_at))
        value = to_si(entry.part("value").number(), suffix, unit_key)
        values |= {begins + index * HOUR: value for index in range(count)}
        next_at = begins + count * HOUR
        if len(values) > LONGEST_H:
            layer.refuse(f"holds more than {LONGEST_H} hours [GROUTJOBS]")
    if not values and quantity in _NEEDED:
        layer.refuse("holds no values")
    return values


def _out_of_step(begins: dt.datetime, next_at: dt.datetime) -> str:
    if begins > next_at:
        return f"leaves a gap: the hours before it end at {utc_words(next_at)}, it begins at {utc_words(begins)}"
    return f"tells an hour twice or out of order: {utc_words(begins)} comes where {utc_words(next_at)} is due"


def _interval(part: Part) -> tuple[dt.datetime, int]:
    """Begin and number of hours of an interval such as 2026-05-04T06:00:00+00:00/PT3H [ISO8601]."""
    begin, stroke, length = part.text().partition("/")
    found = _DURATION.fullmatch(length)
    count = int(found[1] or 0) * 24 + int(found[2] or 0) if stroke and found else 0
    if not 1 <= count <= 24 * 14:
        part.refuse(f"{quoted(part.text())} is no interval of whole hours [ISO8601]")
    begins = Part(begin, part.where).moment()
    if begins.minute or begins.second or begins.microsecond:
        part.refuse(f"{quoted(part.text())} does not begin on a full hour")
    return begins, count


def _check_place(answer: Part, place: Place) -> None:
    """The cell must lie at the place that was asked for."""
    ring = next(answer.part("geometry", "coordinates").parts(), Part(None, "geometry › coordinates"))
    corners = [[number.number() for number in corner.parts()] for corner in ring.parts()]
    if len(corners) < 3 or any(len(corner) < 2 for corner in corners):
        ring.refuse("is no outline of a grid cell")
    for asked, axis in ((place.longitude_deg, 0), (place.latitude_deg, 1)):
        along = [corner[axis] for corner in corners]
        if not min(along) - _CELL_DEG <= asked <= max(along) + _CELL_DEG:
            ring.refuse(f"lies elsewhere than the site ({place.latitude}, {place.longitude})")


def _height_remark(properties: Part, place: Place) -> list[str]:
    if not properties.has("elevation", "value"):
        return []
    higher_m = properties.part("elevation", "value").number() - place.elevation_m
    word = "higher" if higher_m > 0 else "lower"
    return (
        [f"The ground of the grid cell stands {abs(higher_m):.0f} m {word} than the site."] if round(higher_m) else []
    )
