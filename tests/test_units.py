"""Reading and printing numbers with units."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groutjobs import units

ALL_UNITS = [(suffix, unit.key) for suffix, row in units.UNITS_OF.items() for unit in row]

# NIST SP 811 (2008), appendix B.8, conversion factors; the inch, pound and pound-force are exact by definition.
# Temperature: ITS-90 defining relation t/°F = 1.8 t/°C + 32. Values typed from memory of the tables.
PUBLISHED = [
    (1.0, "mm", "in", 25.4),
    (1.0, "mm", "ft", 304.8),
    (1.0, "kg", "lb", 0.45359237),
    (1.0, "kn", "lbf", 4.4482216152605e-3),
    (1.0, "nm", "ftlb", 1.3558179483314004),
    (1.0, "kpa", "psi", 6.894757293168361),
    (1.0, "mpa", "ksi", 6.894757293168361),
    (1.0, "km_h", "mph", 1.609344),
    (65.0, "c", "degF", 18.333333333333332),
    (-40.0, "c", "degF", -40.0),
    (5.0, "k", "delta_degF", 2.7777777777777777),
    (1.0, "l", "gal", 3.785411784),
    (1.0, "l", "ft3", 28.316846592),
    (0.002, "mm_m", "in_ft", 0.16666666666666666),
    (1.0, "kw", "hp", 0.7456998715822702),
]


@pytest.mark.parametrize(("value", "suffix", "key", "si"), PUBLISHED)
def test_it_converts_as_the_published_tables_do(value: float, suffix: str, key: str, si: float) -> None:
    assert units.to_si(value, suffix, key) == pytest.approx(si, rel=1e-9)


@pytest.mark.parametrize(("suffix", "key"), ALL_UNITS)
@given(value=st.floats(-1e6, 1e6))
def test_there_and_back_is_the_same_number(suffix: str, key: str, value: float) -> None:
    there = units.to_si(value, suffix, key)
    assert units.from_si(there, suffix, key) == pytest.approx(value, rel=1e-9, abs=1e-6)


SCALES = [(suffix, key) for suffix, key in ALL_UNITS if key not in {"degC", "degF"}]


@pytest.mark.parametrize(("suffix", "key"), ALL_UNITS)
@settings(max_examples=15)
@given(value=st.floats(-1e6, 1e6))
def test_back_and_there_is_the_same_number(suffix: str, key: str, value: float) -> None:
    shown = units.from_si(value, suffix, key)
    assert units.to_si(shown, suffix, key) == pytest.approx(value, rel=1e-12, abs=1e-10)


@pytest.mark.parametrize(("suffix", "key"), SCALES)
@settings(max_examples=15)
@given(value=st.floats(1e-9, 1e9), factor=st.floats(0.01, 100.0))
def test_a_scale_that_begins_at_nothing_keeps_shares_also_of_small_numbers(
    suffix: str, key: str, value: float, factor: float
) -> None:
    """A °F reading is not twice as warm at twice the number; every other unit here is so many times another one."""
    assert units.to_si(0.0, suffix, key) == 0.0
    assert units.to_si(factor * value, suffix, key) == pytest.approx(
        factor * units.to_si(value, suffix, key), rel=1e-12
    )
    assert units.from_si(units.to_si(value, suffix, key), suffix, key) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(("suffix", "key"), ALL_UNITS)
@settings(max_examples=15)
@given(one=st.floats(-1e6, 1e6), other=st.floats(-1e6, 1e6))
def test_more_in_one_unit_is_never_less_in_another(suffix: str, key: str, one: float, other: float) -> None:
    less, more = sorted((one, other))
    assert units.to_si(less, suffix, key) <= units.to_si(more, suffix, key)


@given(cold_c=st.floats(-60.0, 200.0), warm_c=st.floats(-60.0, 200.0))
def test_a_difference_of_temperatures_is_the_same_read_in_either_scale(cold_c: float, warm_c: float) -> None:
    difference_f = units.from_si(warm_c, "c", "degF") - units.from_si(cold_c, "c", "degF")
    assert units.from_si(warm_c - cold_c, "k", "delta_degF") == pytest.approx(difference_f, abs=1e-9)


@pytest.mark.parametrize("suffix", units.UNITS_OF)
@pytest.mark.parametrize("system", [units.METRIC, units.US])
@settings(max_examples=15)
@given(value=st.floats(0.0, 1e5))
def test_what_is_printed_reads_back_to_within_half_of_its_last_digit(system: str, suffix: str, value: float) -> None:
    unit = units.preferred_unit(suffix, system)
    printed = units.shown(value, suffix, system).removesuffix(unit.label).strip()
    read = units.read_number(printed.replace("\u202f", "").replace("\u2212", "-"))
    half = 0.5 * 10.0**-unit.decimals
    assert read == pytest.approx(units.from_si(value, suffix, unit.key), abs=half * (1.0 + 1e-6), rel=1e-12)


def test_every_suffix_is_found_at_the_end_of_a_name_and_every_unit_by_its_key() -> None:
    assert [units.suffix_of(f"thing_{suffix}") for suffix in units.UNITS_OF] == list(units.UNITS_OF)
    found = [(suffix, units.unit_for(suffix, unit.key)) for suffix, row in units.UNITS_OF.items() for unit in row]
    assert found == [(suffix, unit) for suffix, row in units.UNITS_OF.items() for unit in row]


@pytest.mark.parametrize(
    ("text", "number"),
    [("12", 12), (" 12.5 ", 12.5), ("12,5", 12.5), ("-5,5", -5.5), ("−5.5", -5.5), (".5", 0.5), ("7.", 7), ("+3", 3)],
)
def test_it_reads_point_and_comma_and_signs(text: str, number: float) -> None:
    assert units.read_number(text) == number


@pytest.mark.parametrize(("text", "number"), [("3/4", 0.75), ("1 1/2", 1.5), ("-1-1/4", -1.25), ("2", 2)])
def test_it_reads_fractions_of_an_inch(text: str, number: float) -> None:
    assert units.read_number(text, fractions=True) == number


@pytest.mark.parametrize(
    "text",
    [
        "",
        "  ",
        "1,500",
        "12,000,000",
        "nan",
        "inf",
        "1e5",
        "9**9**9",
        "3 ft 2 in",
        "12 mm",
        "٣",
        "1/0",
        "--2",
        "x" * 41,
    ],
)
def test_it_refuses_what_can_be_read_in_two_ways_or_not_at_all(text: str) -> None:
    with pytest.raises(units.NotANumber):
        units.read_number(text, fractions=True)


@given(st.text(max_size=60))
def test_whatever_is_typed_gives_a_finite_number_or_a_refusal(text: str) -> None:
    try:
        number = units.read_number(text, fractions=True)
    except units.NotANumber:
        return
    assert math.isfinite(number)


def test_it_prints_in_the_unit_of_the_reader() -> None:
    assert units.shown(18.0, "c", units.METRIC) == "18.0 °C"
    assert units.shown(18.0, "c", units.US) == "64.4 °F"
    assert units.shown(0.85, "ratio", units.US) == "85%"
    assert units.shown(None, "c") == "–"


def test_the_suffix_of_a_name_is_the_longest_that_fits() -> None:
    assert units.suffix_of("wind_km_h") == "km_h"
    assert units.suffix_of("evaporation_kg_m2_h") == "kg_m2_h"
    assert units.suffix_of("cure_h") == "h"
    with pytest.raises(KeyError):
        units.suffix_of("service")
