"""Axes of the pictures that run over days: instants in site time across, quantities up."""

import datetime as dt
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from groutjobs import svg, units

HOUR = dt.timedelta(hours=1)
NIGHT = "#e6e8ee"
Span = tuple[dt.datetime, dt.datetime]


@dataclass(frozen=True)
class TimeAxis:
    """Instants from left to right, in the time of the site."""

    starts_at: dt.datetime
    ends_at: dt.datetime
    left: float
    right: float
    zone: str

    def x(self, moment: dt.datetime) -> float:
        """By elapsed time: a day of a clock change is an hour shorter or longer than the others."""
        first, last = self.starts_at.timestamp(), self.ends_at.timestamp()
        return self.left + (self.right - self.left) * (moment.timestamp() - first) / (last - first)

    def contains(self, moment: dt.datetime) -> bool:
        return self.starts_at <= moment <= self.ends_at

    def midnights(self) -> Iterator[dt.datetime]:
        """Every start of a day inside, as the clocks of the site show it."""
        zone = ZoneInfo(self.zone)
        day = self.starts_at.astimezone(zone).date()
        while (moment := dt.datetime.combine(day, dt.time(), zone)) <= self.ends_at:
            if moment >= self.starts_at:
                yield moment
            day += dt.timedelta(days=1)

    def bands(self, spans: Iterable[Span], top: float, height: float, **attributes: object) -> list[str]:
        """A rectangle for the part of each span that lies inside."""
        pieces = []
        for begins, ends in spans:
            begins, ends = max(begins, self.starts_at), min(ends, self.ends_at)
            if begins < ends:
                left, right = self.x(begins), self.x(ends)
                pieces.append(svg.rect(left, top, right - left, height, **attributes))
        return pieces

    def day_lines(self, top: float, bottom: float, *, size: float = 15.0) -> list[str]:
        """A line at each midnight, and under it the day, every second or third where room is short."""
        midnights = list(self.midnights())
        pieces = [svg.line((self.x(m), top), (self.x(m), bottom), stroke=svg.RULE) for m in midnights]
        step = self._step(midnights, size)
        for number, moment in enumerate(midnights):
            if number % step == 0 and self.x(moment) + 4.5 * size < self.right + 40:
                words = f"{moment:%a} {moment.day} {moment:%b}"
                pieces.append(svg.text(self.x(moment) + 4, bottom + size + 2, words, size=size, fill=svg.SOFT_INK))
        return pieces

    def noon_ticks(self, bottom: float) -> list[str]:
        zone = ZoneInfo(self.zone)
        noons = (dt.datetime.combine(moment.astimezone(zone).date(), dt.time(12), zone) for moment in self.midnights())
        return [
            svg.line((self.x(noon), bottom - 6), (self.x(noon), bottom), stroke=svg.SOFT_INK)
            for noon in noons
            if self.contains(noon)
        ]

    def _step(self, midnights: Sequence[dt.datetime], size: float) -> int:
        if len(midnights) < 2:
            return 1
        room = self.x(midnights[1]) - self.x(midnights[0])
        return max(1, math.ceil(svg.text_width("Wed 30 Sep", size) / room))


@dataclass(frozen=True)
class ValueAxis:
    """One quantity from the foot to the head of a panel, in the reader's unit."""

    low: float
    high: float
    top: float
    bottom: float
    suffix: str
    system: str

    @classmethod
    def around(cls, values: Sequence[float], *, top: float, bottom: float, suffix: str, system: str) -> "ValueAxis":
        """An axis that shows all the values with a little air above and below."""
        low, high = min(values), max(values)
        air = max(1.0, (high - low) * 0.06)
        return cls(low - air, high + air, top, bottom, suffix, system)

    def y(self, value: float) -> float:
        return self.bottom - (self.bottom - self.top) * (value - self.low) / (self.high - self.low)

    def grid(self, left: float, right: float, *, size: float = 15.0, values_right: bool = False) -> list[str]:
        """Lines at round values of the reader's unit, with their values at one side."""
        unit = units.preferred_unit(self.suffix, self.system)
        x, anchor = (right + 6, "start") if values_right else (left - 6, "end")
        pieces = []
        for value in self._round_values(unit.key):
            y = self.y(units.to_si(value, self.suffix, unit.key))
            pieces.append(svg.line((left, y), (right, y), stroke=svg.RULE, stroke_width=0.7))
            words = f"{value:g}".replace("-", "\u2212")
            pieces.append(svg.text(x, y + size / 3, words, size=size, anchor=anchor, fill=svg.SOFT_INK))
        pieces.append(svg.text(x, self.top - 8, unit.label, size=size, anchor=anchor, fill=svg.SOFT_INK))
        return pieces

    def _round_values(self, key: str) -> Iterator[float]:
        low, high = units.from_si(self.low, self.suffix, key), units.from_si(self.high, self.suffix, key)
        step = next(size for size in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1e9) if (high - low) / size <= 8)
        value = math.ceil(low / step) * step
        while value <= high:
            yield float(value)
            value += step


def curve(
    time: TimeAxis, value: ValueAxis, at: Sequence[dt.datetime], values: Sequence[float], **attributes: object
) -> str:
    """One quantity as a line through its hours."""
    points = [(time.x(moment), value.y(number)) for moment, number in zip(at, values, strict=True)]
    return svg.polyline(points, stroke_linejoin="round", **attributes)
