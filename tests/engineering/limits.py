"""Reads the limits of an argument from its one line in a docstring.

After the unit in brackets come clauses, divided by commas: "0 to 1", "from glass.coldest_c to 250", "0 or more",
"above 0, to 1", "0 to below 1", "between start_c and 0.1 K short of store_c", "strictly rising", "any number". An end
is a number, another argument, an attribute of one, or words. Shapes and places of axes are passed over. Behind a
semicolon stands a remark, of which only "may end in NaN" and "NaN where missing" are understood.
"""

import enum
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import reduce
from typing import Any

NUMBER = r"-?\d+(?:\.\d+)?(?:e-?\d+)?"
END = rf"{NUMBER}|[A-Za-z0-9][\w. ]*?"
PASSED_OVER = re.compile(
    r"(?:any |same )?shape.*|one value or shape.*|time last|index 0 .*|whole numbers|None for none"
)
TWO_ENDS = re.compile(rf"(?:from )?(?P<low>{END}) to (?P<short>below )?(?P<high>{END})")
BETWEEN = re.compile(rf"between (?P<low>{END}) and (?P<high>{END})")
LOW = re.compile(rf"(?P<above>above )(?P<low>{END})|(?P<least>{END}) or more")
HIGH = re.compile(rf"(?P<below>below )(?P<high>{END})|(?:up )?to (?P<most>{END})|(?P<last>{END}) or less")


class NotUnderstood(ValueError):
    """The line has no unit, no limit, or a clause of another form."""


class Missing(enum.Enum):
    """Where NaN may stand in place of a value."""

    NOWHERE = "nowhere"
    AT_THE_END = "at the end"
    ANYWHERE = "anywhere"


@dataclass(frozen=True)
class End:
    """One end of a range, as written, and whether it belongs to the range."""

    text: str
    included: bool = True


@dataclass(frozen=True)
class Limits:
    """What one line says. `is_crossed` tells that the ends may come in either order."""

    low: End | None = None
    high: End | None = None
    is_rising: bool = False
    is_crossed: bool = False
    missing: Missing = Missing.NOWHERE


@dataclass(frozen=True)
class Call:
    """Arguments of a function by name, and the numbers behind words in its docstring."""

    arguments: dict[str, Any]
    words: Mapping[str, float] = field(default_factory=dict)


def a_call(words: Mapping[str, float] | None = None, /, **arguments: Any) -> tuple[Call, ...]:
    return (Call(arguments, words or {}),)


def limits_of(line: str) -> Limits:
    """The limits in the text behind "argument :"; NotUnderstood where it holds none."""
    found = re.search(r"\[[^\]]+\](.*)", re.sub(r"\s+", " ", line))
    if not found:
        raise NotUnderstood(f"no unit in: {line}")
    clauses, _, remark = found.group(1).partition(";")
    read: dict[str, Any] = {"missing": _missing(remark)}
    is_limited = False
    for clause in re.sub(r"\([^)]*\)", "()", clauses).split(","):
        text = clause.strip().rstrip(".")
        if text and not PASSED_OVER.fullmatch(text):
            read |= _clause(text)
            is_limited = True
    if not is_limited:
        raise NotUnderstood(f"no limit in: {line}")
    return Limits(**read)


def _missing(remark: str) -> Missing:
    if "NaN where missing" in remark:
        return Missing.ANYWHERE
    return Missing.AT_THE_END if "may end in NaN" in remark else Missing.NOWHERE


def _clause(text: str) -> dict[str, Any]:
    if text == "any number":
        return {}
    if text == "strictly rising":
        return {"is_rising": True}
    if found := BETWEEN.fullmatch(text):
        return {"low": End(found["low"]), "high": End(found["high"]), "is_crossed": True}
    if found := LOW.fullmatch(text):
        return {"low": End(found["low"] or found["least"], included=not found["above"])}
    if found := HIGH.fullmatch(text):
        return {"high": End(found["high"] or found["most"] or found["last"], included=not found["below"])}
    if found := TWO_ENDS.fullmatch(text):
        return {"low": End(found["low"]), "high": End(found["high"], included=not found["short"])}
    raise NotUnderstood(f"no limit is written like this: {text}")


@dataclass(frozen=True)
class Range:
    """Limits of one call as numbers; None where there is no limit."""

    low: float | None
    high: float | None
    low_included: bool
    high_included: bool


def range_in(limits: Limits, arguments: Mapping[str, Any], words: Mapping[str, float]) -> Range:
    """The limits for one call: names of its arguments and words of its entry are put into numbers."""
    low = None if limits.low is None else _number(limits.low.text, arguments, words)
    high = None if limits.high is None else _number(limits.high.text, arguments, words)
    if limits.is_crossed and low is not None and high is not None:
        low, high = min(low, high), max(low, high)
    return Range(
        low=low,
        high=high,
        low_included=limits.low is None or limits.low.included,
        high_included=limits.high is None or limits.high.included,
    )


def _number(text: str, arguments: Mapping[str, Any], words: Mapping[str, float]) -> float:
    if re.fullmatch(NUMBER, text):
        return float(text)
    if text in words:
        return words[text]
    first, *attributes = text.split(".")
    if first not in arguments:
        raise NotUnderstood(f"the entry in calls.py does not say what “{text}” is")
    return float(reduce(getattr, attributes, arguments[first]))
