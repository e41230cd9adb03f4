"""The picture of a forecast: temperature and dew point over days, chance of rain under it."""

import datetime as dt
import itertools

from groutjobs import svg, units
from groutjobs.weather.axes import NIGHT, Span, TimeAxis, ValueAxis, curve
from groutjobs.weather.models import Forecast

WIDTH, LEFT, RIGHT = 1200.0, 62.0, 1180.0
TOP, BOTTOM = 58.0, 330.0
RAIN_TOP, RAIN_BOTTOM = 372.0, 440.0
HEIGHT = 478.0


def forecast_picture(forecast: Forecast, *, system: str = units.METRIC) -> str:
    """The hours to plan for, in site time, as one SVG text."""
    first = forecast.past_hours
    at = [forecast.at(index) for index in range(first, forecast.hour_count)]
    temps, dews = forecast.values("temp_c")[first:], forecast.values("dew_point_c")[first:]
    time = TimeAxis(at[0], at[-1], LEFT, RIGHT, forecast.zone)
    degrees = ValueAxis.around([*temps, *dews], top=TOP, bottom=BOTTOM, suffix="c", system=system)
    pieces = [
        *time.bands(_nights(forecast), TOP, RAIN_BOTTOM - TOP, fill=NIGHT, stroke="none"),
        *degrees.grid(LEFT, RIGHT),
        *time.day_lines(TOP, RAIN_BOTTOM),
        *time.noon_ticks(RAIN_BOTTOM),
        curve(time, degrees, at, temps, stroke_width=2.4),
        curve(time, degrees, at, dews, stroke_width=1.8, stroke_dasharray="2 4", stroke_linecap="round"),
        *_rain(forecast, time),
        svg.rect(LEFT, TOP, RIGHT - LEFT, BOTTOM - TOP),
        svg.rect(LEFT, RAIN_TOP, RIGHT - LEFT, RAIN_BOTTOM - RAIN_TOP),
        *_legend(),
    ]
    label = f"Temperature, dew point and chance of rain, {forecast.source_name}"
    return svg.picture(pieces, width=WIDTH, height=HEIGHT, label=label)


def _nights(forecast: Forecast) -> list[Span]:
    """Spells of hours without sunlight."""
    sun = forecast.values("solar_w_m2")
    hours = range(forecast.past_hours, forecast.hour_count)
    spells = [list(run) for dark, run in itertools.groupby(hours, key=lambda index: sun[index] <= 0) if dark]
    return [(forecast.at(run[0]), forecast.at(run[-1])) for run in spells]


def _rain(forecast: Forecast, time: TimeAxis) -> list[str]:
    words = "chance of rain, 0 to 100 %"
    head = svg.text(LEFT + 6, RAIN_TOP - 8, words, size=15)
    if "rain_probability" not in forecast.hours:
        middle = (RAIN_TOP + RAIN_BOTTOM) / 2 + 5
        return [head, svg.text((LEFT + RIGHT) / 2, middle, "the source does not tell it", size=15, anchor="middle")]
    pieces = [head]
    chances = forecast.values("rain_probability")
    for index in range(forecast.past_hours, forecast.hour_count - 1):
        if chances[index] > 0:
            left, right = time.x(forecast.at(index)), time.x(forecast.at(index) + dt.timedelta(hours=1))
            height = (RAIN_BOTTOM - RAIN_TOP) * chances[index]
            pieces.append(svg.rect(left, RAIN_BOTTOM - height, right - left, height, fill="#4a6d8c", stroke="none"))
    return pieces


def _legend() -> list[str]:
    y = 26.0
    return [
        svg.line((LEFT, y), (LEFT + 40, y), stroke_width=2.4),
        svg.text(LEFT + 48, y + 5, "air temperature", size=16),
        svg.line((LEFT + 210, y), (LEFT + 250, y), stroke_width=1.8, stroke_dasharray="2 4", stroke_linecap="round"),
        svg.text(LEFT + 258, y + 5, "dew point", size=16),
        svg.rect(LEFT + 380, y - 9, 40, 18, fill=NIGHT, stroke=svg.RULE),
        svg.text(LEFT + 428, y + 5, "no sunlight; a tick at the foot marks noon", size=16),
    ]
