"""Every number that the docstrings limit is refused beyond its limits, and NaN and infinity are refused everywhere.

Nothing here is typed by hand but the valid calls of calls.py, the valid records of records.py, and the few exceptions
below with their reasons. The limits are read from the docstrings themselves.
"""

import copy
import dataclasses
import inspect
import math
from collections.abc import Callable, Iterator, Mapping
from typing import Any

import numpy as np
import pytest

from groutjobs.engineering.checks import require_above, require_all_between, require_between
from groutjobs.engineering.materials import working_lives_min
from groutjobs.errors import NotConverged, OutOfRange, Unusable
from tests.engineering.calls import CALLS
from tests.engineering.calls_heat_and_cure import LIFE
from tests.engineering.limits import Call, Limits, Missing, NotUnderstood, limits_of, range_in
from tests.engineering.records import RECORDS, WORDS, Record
from tests.house.test_docstrings import functions, is_number, modules, text_of

FUNCTIONS: dict[str, Callable[..., Any]] = {
    name.removeprefix("groutjobs.engineering."): one for name, one in functions()
}
NEVER = (math.nan, math.inf, -math.inf)

NOT_CHECKED = {
    "kinetics.unchecked_rates_per_h": "the inner step of a simulation; rates_per_h is the checked one",
    "exotherm.heated_cells_c": "the inner step of a simulation; curing_temperatures checks its inputs",
}
NO_LIMITS = {
    ("checks.require_between", "low"): "a limit is any number; one that is NaN refuses everything, tested below",
    ("checks.require_between", "high"): "as low",
    ("checks.require_above", "low"): "as low",
    ("checks.require_all_between", "low"): "as low",
    ("checks.require_all_between", "high"): "as low",
    ("protection.covers_before_and_after", "hours"): "the hours of a run, counted by the run itself",
    ("materials.working_lives_min", "temp_c"): "it answers NaN outside the rows, tested below",
}
MADE_BY_US = {
    "Takeoff": "take_off",
    "Sounding": "sounding",
    "LevelSurvey": "level_survey",
    "Plane": "best_fit_plane",
    "SurveySurface": "survey_surface",
    "Temperatures": "simulate",
    "CureFit": "fit_cure",
    "CureBelief": "belief_before",
    "CureSamples": "draw_cures",
    "CureAhead": "cures_ahead",
    "Series": "wall_series",
    "PeakBand": "peak_band",
    "GroutPace": "grout_pace",
    "HeaterNeed": "heater_need",
    "PreheatLeads": "preheat_leads",
    "WetCure": "wet_cure",
    "Uplift": "uplift",
}
NOT_USED = {
    ("compartments.flow_distance_mm", "fill_holes.diameter_mm"): "the centre counts",
}
AT_ITS_LIMIT = {
    ("survey.survey_surface", "points"): "a point at the limit lies off the block",
    ("survey.bed_over", "top_elevation_mm"): "the concrete stands above the lowest top",
    ("compartments.compartment_findings", "plate_outline"): "a plate of that size no longer holds its compartments",
    ("sounding.sounding", "compartments"): "a compartment of that size is another survey",
    ("sounding.sounding", "feet"): "a foot of that size is another survey",
    ("injection.injection_holes", "outline"): "a hollow place of that size needs more holes than an injection has",
    ("levelling.require_spread", "places"): "places that far apart lie on one line with the others",
    ("cure_belief.corrected_belief", "temp_c"): "so cold a pour contradicts its strength",
    ("grout_correction.grout_pace", "temp_c"): "one reading so far from the others fits no pace",
    ("grout_correction.grout_pace", "air_c"): "one hour so far from the others fits no pace",
    ("response.temperature_errors", "first"): "the errors must be as long as what is left",
    ("HourlyAir", "air_c"): "the dew point would lie above it",
    ("HourlyAir", "dew_point_c"): "it would lie above the air",
}


def calls(wanted: Callable[[str, inspect.Parameter], bool]) -> list[tuple[str, str, int]]:
    """(function, argument, which call) for all arguments that are wanted and stand in the call."""
    return [
        (name, argument.name, index)
        for name, one in FUNCTIONS.items()
        for argument in inspect.signature(one).parameters.values()
        for index, call in enumerate(CALLS.get(name, ()))
        if argument.name in call.arguments and wanted(name, argument)
    ]


def has_limits(name: str, argument: inspect.Parameter) -> bool:
    return is_number(argument.annotation) and name not in NOT_CHECKED and (name, argument.name) not in NO_LIMITS


def can_be_read(name: str, argument: inspect.Parameter) -> bool:
    try:
        return has_limits(name, argument) and bool(limits_for(name, argument.name))
    except NotUnderstood:
        return False


def limits_for(name: str, argument: str) -> Limits:
    return limits_of(text_of(FUNCTIONS[name], argument))


def places(value: Any) -> Iterator[tuple[str, tuple[Any, ...]]]:
    """Field names and full path of every float inside, at the first, middle and last place of what is a sequence."""
    if isinstance(value, float):
        yield "", ()
    elif isinstance(value, np.ndarray):
        yield from (("", (("at", flat),)) for flat in ends_and_middle(value.size if value.dtype.kind == "f" else 0))
    else:
        for name, step, inner in parts(value):
            yield from ((f"{name}{names}", (step, *rest)) for names, rest in places(inner))


def ends_and_middle(size: int) -> list[int]:
    return sorted({0, size // 2, size - 1}) if size else []


def parts(value: Any) -> Iterator[tuple[str, Any, Any]]:
    """Name of the field, step to it, and what stands there; nothing inside what another checked function has made."""
    if isinstance(value, tuple | list):
        yield from (("", index, value[index]) for index in ends_and_middle(len(value)))
    elif isinstance(value, Mapping):
        yield from (("", ("key", key), inner) for key, inner in value.items())
    elif dataclasses.is_dataclass(value) and type(value).__name__ not in MADE_BY_US:
        yield from ((f".{one.name}", one.name, getattr(value, one.name)) for one in dataclasses.fields(value))


def single_numbers(value: Any) -> Iterator[float]:
    """Every float of an answer that does not stand in an array, where NaN may mark what is missing."""
    if isinstance(value, float):
        yield value
    elif not isinstance(value, np.ndarray):
        for _, _, inner in parts(value):
            yield from single_numbers(inner)


def with_number(value: Any, path: tuple[Any, ...], number: float) -> Any:
    """A copy of the value with another number at the path; a record that checks itself may refuse it here."""
    if not path:
        return int(number) if isinstance(value, int) and math.isfinite(number) else number
    step, rest = path[0], path[1:]
    if isinstance(value, np.ndarray):
        changed = value.astype(np.float64)
        changed.flat[step[1]] = number
        return changed
    if isinstance(value, tuple | list):
        return type(value)([*value[:step], with_number(value[step], rest, number), *value[step + 1 :]])
    if isinstance(value, Mapping):
        return {**value, step[1]: with_number(value[step[1]], rest, number)}
    return dataclasses.replace(value, **{step: with_number(getattr(value, step), rest, number)})


def run(name: str, call: Call, **changes: Any) -> Any:
    return FUNCTIONS[name](**copy.deepcopy({**call.arguments, **changes}))


def refused(name: str, call: Call, argument: str, path: tuple[Any, ...], number: float) -> str:
    """The quantity named by the refusal, or a sentence that tells what happened instead."""
    try:
        run(name, call, **{argument: with_number(call.arguments[argument], path, number)})
    except (OutOfRange, Unusable) as error:
        return "" if error.quantity and error.quantity in str(error) else f"{number:g} at {path}: no quantity is named"
    except Exception as error:
        return f"{number:g} at {path}: {type(error).__name__}: {error}"
    return f"{number:g} at {path}: accepted"


def all_places(value: Any) -> list[tuple[Any, ...]]:
    """Paths to every number to change; a count, which is no float, stands alone."""
    found = [path for _, path in places(value)]
    return [()] if isinstance(value, int) else found


def beyond(limit: float, included: bool, is_count: bool, upwards: bool) -> float:
    """The nearest number that the limit excludes."""
    if not included:
        return limit
    if is_count:
        return limit + 1 if upwards else limit - 1
    return math.nextafter(limit, math.inf if upwards else -math.inf)


def test_every_public_function_has_a_valid_call() -> None:
    assert sorted(set(FUNCTIONS) - set(CALLS)) == []
    assert sorted(set(CALLS) - set(FUNCTIONS)) == []


@pytest.mark.parametrize(("name", "index"), [(name, i) for name, found in CALLS.items() for i in range(len(found))])
def test_the_valid_calls_are_valid(name: str, index: int) -> None:
    assert [number for number in single_numbers(run(name, CALLS[name][index])) if not math.isfinite(number)] == []


def test_every_number_is_given_in_a_call() -> None:
    missing = [
        f"{name}({argument.name})"
        for name, one in FUNCTIONS.items()
        for argument in inspect.signature(one).parameters.values()
        if is_number(argument.annotation) and not any(argument.name in call.arguments for call in CALLS[name])
    ]
    assert missing == []


def test_every_number_has_limits_that_can_be_read() -> None:
    silent = []
    for name, one in FUNCTIONS.items():
        for argument in inspect.signature(one).parameters.values():
            if has_limits(name, argument):
                try:
                    limits_for(name, argument.name)
                except NotUnderstood as error:
                    silent.append(f"{name}({argument.name}): {error}")
    assert silent == []


def test_the_exceptions_are_still_needed() -> None:
    known = {(name, argument) for name, one in FUNCTIONS.items() for argument in inspect.signature(one).parameters}
    records = {(type(record.valid).__name__, field) for record in RECORDS for field in record.limits}
    assert set(NOT_CHECKED) <= set(FUNCTIONS)
    assert set(NO_LIMITS) <= known
    assert set(AT_ITS_LIMIT) <= known | records
    assert {name for name, _ in NOT_USED} <= set(FUNCTIONS)


@pytest.mark.parametrize(("name", "argument", "index"), calls(can_be_read))
def test_just_beyond_its_limits_a_number_is_refused(name: str, argument: str, index: int) -> None:
    call, limits = CALLS[name][index], limits_for(name, argument)
    span = range_in(limits, call.arguments, call.words)
    paths = all_places(call.arguments[argument])
    is_count = isinstance(call.arguments[argument], int)
    numbers = []
    if span.low is not None:
        numbers.append(beyond(span.low, span.low_included, is_count, upwards=False))
    if span.high is not None:
        numbers.append(beyond(span.high, span.high_included, is_count, upwards=True))
    assert paths
    assert [said for path in paths for number in numbers if (said := refused(name, call, argument, path, number))] == []


@pytest.mark.parametrize(("name", "argument"), sorted({one[:2] for one in calls(can_be_read)}))
def test_at_its_limits_a_number_is_taken(name: str, argument: str) -> None:
    """By one of the calls at least: what is wanted of warmed material cannot be wanted of cooled material."""
    limits = limits_for(name, argument)
    if limits.is_rising or (name, argument) in AT_ITS_LIMIT:
        return
    ways = [ends_taken(limits, call, argument) for call in CALLS[name]]
    for same_end in zip(*ways, strict=True):
        assert any(is_taken(name, *way) for way in same_end), same_end


def ends_taken(limits: Limits, call: Call, argument: str) -> list[tuple[Call, str, float]]:
    """The ends that belong to the range, low before high."""
    span = range_in(limits, call.arguments, call.words)
    ends = [(span.low, span.low_included), (span.high, span.high_included)]
    return [(call, argument, end) for end, included in ends if end is not None and included]


def is_taken(name: str, call: Call, argument: str, number: float) -> bool:
    try:
        for path in all_places(call.arguments[argument]):
            run(name, call, **{argument: with_number(call.arguments[argument], path, number)})
    except (OutOfRange, Unusable, NotConverged):
        return False
    return True


@pytest.mark.parametrize(("name", "argument", "index"), calls(can_be_read))
def test_what_is_no_number_is_refused(name: str, argument: str, index: int) -> None:
    call, limits = CALLS[name][index], limits_for(name, argument)
    paths = all_places(call.arguments[argument])
    wrong = []
    for path in paths:
        is_last = bool(path) and path == paths[-1]
        may_miss = limits.missing is Missing.ANYWHERE or (limits.missing is Missing.AT_THE_END and is_last)
        for number in NEVER[1:] if may_miss else NEVER:
            wrong.append(refused(name, call, argument, path, number))
        if may_miss:
            run(name, call, **{argument: with_number(call.arguments[argument], path, math.nan)})
    assert [said for said in wrong if said] == []


@pytest.mark.parametrize("side", ["low", "high"])
def test_a_limit_that_is_no_number_refuses_everything(side: str) -> None:
    limits = {"low": 0.0, "high": 10.0, side: math.nan}
    with pytest.raises(OutOfRange, match="width"):
        require_between("width", 5.0, limits["low"], limits["high"], source="GROUTJOBS")
    with pytest.raises(OutOfRange, match="width"):
        require_all_between("width", np.array([5.0]), limits["low"], limits["high"], source="GROUTJOBS")
    with pytest.raises(OutOfRange, match="width"):
        require_above("width", 5.0, math.nan, source="GROUTJOBS")


@pytest.mark.parametrize("number", [*NEVER, 9.99, 23.01])
def test_where_the_data_sheet_is_silent_working_lives_are_none(number: float) -> None:
    found = working_lives_min(LIFE, np.array([number, 18.0]))
    assert np.isnan(found).tolist() == [True, False]


@pytest.mark.parametrize(
    ("line", "low", "high"),
    [
        ("Share. [-], 0 to 1", ("0", True), ("1", True)),
        ("Share. [-], above 0, to 1; 1 is all", ("0", False), ("1", True)),
        ("Degree. [-], 0 to below 1", ("0", True), ("1", False)),
        ("Length. [mm], above 0", ("0", False), None),
        ("Count. [-], 3 or more", ("3", True), None),
        ("Film. [W/m²·K], shape (n, 2), 1e-9 to 2e2", ("1e-9", True), ("2e2", True)),
        ("Resin. [°C], from glass.coldest_c to 250", ("glass.coldest_c", True), ("250", True)),
        ("Strength. [MPa], above 0, below curve.ultimate_mpa", ("0", False), ("curve.ultimate_mpa", False)),
    ],
)
def test_the_reader_understands_a_line(line: str, low: tuple[str, bool] | None, high: tuple[str, bool] | None) -> None:
    read = limits_of(line)
    assert (read.low and (read.low.text, read.low.included)) == low
    assert (read.high and (read.high.text, read.high.included)) == high


@pytest.mark.parametrize("line", ["Share.", "Share. [-]", "Share. [-], shape (n,)", "Share. [-], not too large"])
def test_the_reader_refuses_a_line_without_a_limit(line: str) -> None:
    with pytest.raises(NotUnderstood):
        limits_of(line)


@pytest.mark.parametrize(
    ("name", "argument", "index"),
    [one for one in calls(can_be_read) if limits_for(one[0], one[1]).is_rising],
)
def test_times_that_do_not_rise_are_refused(name: str, argument: str, index: int) -> None:
    call = CALLS[name][index]
    for at in range(1, len(call.arguments[argument])):
        times = np.array(call.arguments[argument])
        times[at] = times[at - 1]
        with pytest.raises((OutOfRange, Unusable)):
            run(name, call, **{argument: times})


def is_record(name: str, argument: inspect.Parameter) -> bool:
    return name not in NOT_CHECKED and not is_number(argument.annotation)


@pytest.mark.parametrize(("name", "argument", "index"), calls(is_record))
def test_a_record_with_what_is_no_number_is_refused(name: str, argument: str, index: int) -> None:
    call = CALLS[name][index]
    wrong = []
    for names, path in places(call.arguments[argument]):
        if (name, f"{argument}{names}") not in NOT_USED:
            wrong += [f"{names}: {said}" for n in NEVER if (said := refused(name, call, argument, path, n))]
    assert wrong == []


def checking_records() -> set[str]:
    """Names of the public dataclasses that have a __post_init__ of their own or of their base."""
    return {
        one.__name__
        for module in modules()
        for one in vars(module).values()
        if isinstance(one, type)
        and dataclasses.is_dataclass(one)
        and one.__module__ == module.__name__
        and hasattr(one, "__post_init__")
        and not one.__name__.startswith("_")
    }


def fields_of(record: Record) -> dict[str, Any]:
    """Its numbers that are no counts; some are written without a point in the tables."""
    found = {}
    for each in dataclasses.fields(record.valid):
        value = getattr(record.valid, each.name)
        if "float" in inspect.formatannotation(each.type) and isinstance(value, int | float | np.ndarray):
            found[each.name] = float(value) if isinstance(value, int) else value
    return found


def build(record: Record, field: str, path: tuple[Any, ...], number: float) -> Any:
    return with_number(record.valid, (field, *path), number)


def test_every_record_that_checks_itself_stands_in_the_registry_with_all_its_numbers() -> None:
    assert checking_records() == {type(record.valid).__name__ for record in RECORDS}
    missing = [
        f"{type(record.valid).__name__}.{name}"
        for record in RECORDS
        for name in fields_of(record)
        if name not in record.limits
    ]
    assert missing == []


FIELDS = [
    pytest.param(record, field, id=f"{type(record.valid).__name__}-{field}")
    for record in RECORDS
    for field in record.limits
]


@pytest.mark.parametrize(("record", "field"), FIELDS)
def test_a_record_refuses_what_lies_beyond_its_limits_or_is_no_number(record: Record, field: str) -> None:
    given = fields_of(record)
    span = range_in(limits_of(record.limits[field]), given, WORDS)
    numbers = list(NEVER)
    if span.low is not None:
        numbers.append(beyond(span.low, span.low_included, is_count=False, upwards=False))
    if span.high is not None:
        numbers.append(beyond(span.high, span.high_included, is_count=False, upwards=True))
    for _, path in places(given[field]):
        for number in numbers:
            with pytest.raises((OutOfRange, Unusable)) as error:
                build(record, field, path, number)
            assert isinstance(error.value, OutOfRange | Unusable)
            assert error.value.quantity in str(error.value)


@pytest.mark.parametrize(("record", "field"), FIELDS)
def test_a_record_takes_its_limits(record: Record, field: str) -> None:
    given, name = fields_of(record), type(record.valid).__name__
    span = range_in(limits_of(record.limits[field]), given, WORDS)
    taken = [span.low] if span.low_included and span.low is not None else []
    taken += [span.high] if span.high_included and span.high is not None else []
    if (name, field) in AT_ITS_LIMIT:
        return
    for number in taken:
        for _, path in places(given[field]):
            changed = getattr(build(record, field, path, number), field)
            assert number in np.atleast_1d(changed)
