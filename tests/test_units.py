"""Reading and printing numbers with units."""

import math

import pytest
from hypothesis import given
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
