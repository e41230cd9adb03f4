"""Holds what a person is told against the words kept in the wording files: findings in both systems, and refusals.

A wording file has a table `findings`, case → rows, and a table `refused`, case → line. A row is a whole finding as the
metric reader sees it; `us_message` and `us_hint` stand beside it where the other reader sees other words. The words are
our own: such a test finds a change that nobody wanted, it does not prove them right.
"""

import math
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from groutjobs import units
from groutjobs.errors import GroutJobsError, OutOfRange, Unusable
from groutjobs.findings import Finding

Told = Callable[[str], list[Finding]]
"""Findings of one case for a system of units."""
Attempt = Callable[[], object]
"""What must end in a refusal."""
ROUNDING = 1e-9
"""Relative: a margin is the difference of two numbers of a few digits in double precision."""


def kept(name: str) -> dict[str, Any]:
    return tomllib.loads(Path(__file__).with_name(f"wording_{name}.toml").read_text("utf-8"))


def rows_of(told: Told) -> list[dict[str, Any]]:
    """The findings of a case as a wording file holds them; what is empty is left out."""
    rows = []
    for metric, us in zip(told(units.METRIC), told(units.US), strict=True):
        row = metric.as_json() | {"level": metric.level.value}
        for name, other in us.as_json().items():
            if name in {"message", "hint"} and other != row[name]:
                row[f"us_{name}"] = other
            elif name not in {"message", "hint"}:
                assert other == row[name], name
        rows.append({name: value for name, value in row.items() if value not in ("", None)})
    return rows


def line_of(attempt: Attempt) -> str:
    """The line of the refusal that an attempt must end in."""
    with pytest.raises((OutOfRange, Unusable)) as refused:
        attempt()
    return facts_of(refused.value)


def expected_rows(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [
        {
            name: pytest.approx(value, rel=ROUNDING, abs=ROUNDING) if name == "margin" else value
            for name, value in row.items()
        }
        for row in rows
    ]


def facts_of(error: GroutJobsError) -> str:
    """What an error says in one line: "gap: above 0 mm [GROUTJOBS]", or the reason of an Unusable."""
    if not isinstance(error, OutOfRange):
        return str(error)
    return f"{error.quantity}: {limits_in_words(error.low, error.high)} {error.unit}".rstrip() + f" [{error.source}]"


def limits_in_words(low: float | None, high: float | None) -> str:
    """As the docstrings write them; an excluded limit comes as the next number beyond it."""
    if low is None and high is None:
        return "any number"
    lowest = None if low is None else _end(low, "above ", -math.inf)
    highest = None if high is None else _end(high, "below ", math.inf)
    if lowest is None or highest is None:
        return f"{lowest} or more" if highest is None and "above" not in str(lowest) else str(lowest or f"to {highest}")
    return f"{lowest} to {highest}"


def _end(number: float, excluded: str, towards: float) -> str:
    beyond = math.nextafter(number, towards)
    return f"{excluded}{beyond:.12g}" if len(repr(beyond)) < len(repr(float(number))) else f"{number:.12g}"
