"""What a refusal says: quantity in words, limits, unit and source, each as docstring and ledger have it.

The ledger, refusals.toml, holds per function and argument the lines that refusals say, such as
"bolt tension: above 0 kN [SHIGLEY]"; a place inside a record has its path, "target.min_gap_mm". The words are our own
and stand in the ledger alone. Limits, unit and source of an argument are read from its docstring too.
"""

import math
import re
import tomllib
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from groutjobs.errors import GroutJobsError, OutOfRange, Unusable
from groutjobs.sources import sources
from tests.engineering.calls import CALLS
from tests.engineering.limits import Call, limits_of, range_in
from tests.engineering.records import RECORDS, WORDS
from tests.engineering.test_refusals import (
    FUNCTIONS,
    NO_LIMITS,
    NOT_CHECKED,
    NOT_USED,
    all_places,
    beyond,
    build,
    calls,
    can_be_read,
    fields_of,
    limits_for,
    parts,
    places,
    run,
    with_number,
)
from tests.engineering.wording import Attempt, facts_of
from tests.house.test_docstrings import section, text_of

LEDGER = tomllib.loads(Path(__file__).with_name("refusals.toml").read_text("utf-8"))
CHECK_THEMSELVES = tuple({type(record.valid) for record in RECORDS})
Place = tuple[str, tuple[Any, ...]]

OTHERWISE = {
    ("preconditioning.lumped_time_constant_s", "volume_to_surface_m", "high"): "the Biot number is too large",
    ("survey.survey_surface", "points", "low"): "the line is of the elevation; x and y are held to 100 m",
    ("survey.survey_surface", "points", "high"): "as low",
}
"""Function, argument and side whose refusal says something else than its docstring, with the reason."""


def own_places(value: Any) -> Iterator[Place]:
    """Places of the numbers in a value, counts too; what checks itself is looked at once, in RECORDS."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        yield "", ()
    elif isinstance(value, np.ndarray):
        yield from places(value)
    elif not isinstance(value, CHECK_THEMSELVES):
        for name, step, inner in parts(value):
            yield from ((f"{name}{names}", (step, *rest)) for names, rest in own_places(inner))


def said(attempt: Attempt) -> str:
    """The line of the refusal; an attempt that is taken says so."""
    try:
        attempt()
    except (OutOfRange, Unusable) as error:
        return facts_of(error)
    return "taken"


def told_by(name: str) -> dict[str, list[str]]:
    """Argument and field → what is said of numbers far below and far above, each line once."""
    told: dict[str, list[str]] = {}
    for call in CALLS[name]:
        for argument, value in call.arguments.items():
            for names, path in own_places(value):
                place = f"{argument}{names}"
                if (name, place) in NOT_USED or (name, argument) in NO_LIMITS:
                    continue
                for number in (-math.inf, math.inf):
                    changed = {argument: with_number(value, path, number)}
                    line = said(partial(run, name, call, **changed))
                    told.setdefault(place, []).append(line)
    return {place: list(dict.fromkeys(lines)) for place, lines in told.items()}


@pytest.mark.parametrize("name", sorted(set(FUNCTIONS) - set(NOT_CHECKED)))
def test_a_refusal_says_what_the_ledger_holds(name: str) -> None:
    assert told_by(name) == LEDGER.get(name, {})


def told_by_record(index: int) -> dict[str, list[str]]:
    """As told_by, of a record that checks itself: what it says just beyond each of its limits."""
    record, told = RECORDS[index], {}
    given = fields_of(record)
    for field, line in record.limits.items():
        span = range_in(limits_of(line), given, WORDS)
        numbers = [-math.inf if span.low is None else beyond(span.low, span.low_included, False, upwards=False)]
        numbers.append(math.inf if span.high is None else beyond(span.high, span.high_included, False, upwards=True))
        lines = [
            said(partial(build, record, field, path, number)) for _, path in places(given[field]) for number in numbers
        ]
        told[field] = list(dict.fromkeys(lines))
    return told


@pytest.mark.parametrize("index", range(len(RECORDS)))
def test_a_refusal_of_a_record_says_what_the_ledger_holds(index: int) -> None:
    assert told_by_record(index) == LEDGER["records"][index]["told"]


def test_the_ledger_holds_nothing_else() -> None:
    assert set(LEDGER) - {"records"} <= set(FUNCTIONS) - set(NOT_CHECKED)
    assert [row["record"] for row in LEDGER["records"]] == [type(record.valid).__name__ for record in RECORDS]


def test_the_ledger_names_known_sources() -> None:
    functions = {name: told for name, told in LEDGER.items() if name != "records"}
    records = [row["told"] for row in LEDGER["records"]]
    lines = [line for told in [*functions.values(), *records] for said in told.values() for line in said]
    keys = {key for line in lines for key in re.findall(r"\[([^\]]+)\]$", line)}
    assert len(lines) > 400
    assert keys <= set(sources())


def unit_in(name: str, argument: str) -> str:
    """The unit in brackets; a ratio or a count has none, and "as unit" is the argument `unit` of checks.py."""
    found = re.search(r"\[([^\]]+)\]", text_of(FUNCTIONS[name], argument))
    unit = found.group(1) if found else ""
    return "" if unit == "-" else "mm" if unit == "as unit" else unit


def sources_of(name: str, call: Call) -> set[str]:
    """Keys in the section Source, and those that come with the arguments."""
    given = {key for key in sources() for value in call.arguments.values() if f"'{key}'" in repr(value)}
    return set(re.findall(r"\[([^\]]+)\]", section(FUNCTIONS[name], "Source"))) | given


@pytest.mark.parametrize(("name", "argument", "index"), calls(can_be_read))
def test_a_refusal_states_limit_unit_and_source_of_the_docstring(name: str, argument: str, index: int) -> None:
    call = CALLS[name][index]
    span = range_in(limits_for(name, argument), call.arguments, call.words)
    value = call.arguments[argument]
    is_count = isinstance(value, int)
    path = all_places(value)[0]
    if span.low is not None:
        error = refusal(name, call, argument, path, beyond(span.low, span.low_included, is_count, upwards=False))
        low = span.low if span.low_included else math.nextafter(span.low, math.inf)
        expect(error, "low", low, name, argument, call)
    if span.high is not None:
        error = refusal(name, call, argument, path, beyond(span.high, span.high_included, is_count, upwards=True))
        high = span.high if span.high_included else math.nextafter(span.high, -math.inf)
        expect(error, "high", high, name, argument, call)


def refusal(name: str, call: Call, argument: str, path: tuple[Any, ...], number: float) -> GroutJobsError:
    with pytest.raises((OutOfRange, Unusable)) as error:
        run(name, call, **{argument: with_number(call.arguments[argument], path, number)})
    return error.value


def expect(error: GroutJobsError, side: str, limit: float, name: str, argument: str, call: Call) -> None:
    assert isinstance(error, OutOfRange)
    if (name, argument, side) in OTHERWISE:
        assert getattr(error, side) != limit
        return
    assert getattr(error, side) == limit
    assert error.unit == unit_in(name, argument)
    assert error.source in sources_of(name, call)
