"""Reading a service's answer strictly: what is missing, not a number or not in UTC is refused with its place."""

import datetime as dt
import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, NoReturn

from groutjobs.fields import quoted
from groutjobs.weather.series import HoursRefused


@dataclass(frozen=True)
class Place:
    """Where a forecast is asked for. No more than four decimals of a degree, as the services want it."""

    latitude_deg: float
    longitude_deg: float
    elevation_m: float

    @property
    def latitude(self) -> str:
        return _four_decimals(self.latitude_deg)

    @property
    def longitude(self) -> str:
        return _four_decimals(self.longitude_deg)

    @property
    def words(self) -> str:
        """The place in print, such as 36.1° N, 79.95° W."""
        south, west = self.latitude.startswith("-"), self.longitude.startswith("-")
        latitude, longitude = self.latitude.removeprefix("-"), self.longitude.removeprefix("-")
        return f"{latitude}° {'S' if south else 'N'}, {longitude}° {'W' if west else 'E'}"

    @property
    def key(self) -> str:
        """The place in one text, to see whether a kept answer was for another."""
        return f"{self.latitude},{self.longitude},{self.elevation_m:.0f}"


def _four_decimals(degrees: float) -> str:
    """Without closing zeros: one service sends an address with them elsewhere."""
    text = f"{degrees:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _no_constant(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number")


def answer_of(body: bytes) -> "Part":
    """The whole answer; HoursRefused where it is no JSON object."""
    try:
        value = json.loads(body.decode("utf-8"), parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        raise HoursRefused([f"The answer is no JSON that can be read: {str(error)[:120]} [RFC8259]."]) from error
    whole = Part(value, "the answer")
    if not isinstance(value, dict):
        whole.refuse("is no JSON object")
    return whole


@dataclass(frozen=True)
class Part:
    """A piece of the answer, and the words that find it."""

    value: Any
    where: str

    def refuse(self, what: str) -> NoReturn:
        raise HoursRefused([f"In the answer of the service, {self.where} {what}."])

    def part(self, *names: str) -> "Part":
        """The piece under these names; refused where one of them is missing."""
        piece = self
        for name in names:
            where = name if piece.where == "the answer" else f"{piece.where} › {name}"
            if not isinstance(piece.value, dict) or name not in piece.value:
                Part(None, where).refuse("is missing")
            piece = Part(piece.value[name], where)
        return piece

    def has(self, *names: str) -> bool:
        value = self.value
        for name in names:
            if not isinstance(value, dict) or value.get(name) is None:
                return False
            value = value[name]
        return True

    def parts(self) -> Iterator["Part"]:
        if not isinstance(self.value, list):
            self.refuse("is no list")
        for number, value in enumerate(self.value, 1):
            yield Part(value, f"{self.where}, entry {number}")

    def number(self) -> float:
        value = self.value
        if isinstance(value, bool) or not isinstance(value, int | float) or not _is_finite(value):
            self.refuse(f"{quoted(str(value)[:60])} is not a number that can be used")
        return float(value)

    def text(self) -> str:
        if not isinstance(self.value, str) or len(self.value) > 500:
            self.refuse("is no text that can be used")
        return str(self.value)

    def moment(self) -> dt.datetime:
        """A time in UTC. One without offset, or with another, is not what the service documents."""
        text = self.text()
        try:
            moment = dt.datetime.fromisoformat(text)
        except ValueError:
            self.refuse(f"{quoted(text)} is not a time [ISO8601]")
        if moment.utcoffset() != dt.timedelta(0):
            self.refuse(f"{quoted(text)} is not in UTC, in which the service documents its times [ISO8601]")
        return moment.astimezone(dt.UTC)

    def unit(self, expected: str) -> None:
        """Refuse the values that follow where they are not in the unit that the service documents."""
        if self.value != expected:
            self.refuse(f"is {quoted(str(self.value)[:60])} and not “{expected}”, the unit that the service documents")


def _is_finite(value: float) -> bool:
    try:
        return math.isfinite(value)
    except OverflowError:
        return False
