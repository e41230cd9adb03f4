"""Whole findings and refusals of every module against the words kept in the wording files, see wording.py."""

from pathlib import Path
from typing import Any

import pytest

from tests.engineering import (
    test_wording_bolts,
    test_wording_cure,
    test_wording_plate,
    test_wording_takeoff,
    test_wording_warmth,
    test_wording_weather,
    wording_pour,
)
from tests.engineering.wording import expected_rows, kept, line_of, rows_of

CASES: dict[str, Any] = {
    "bolts": test_wording_bolts,
    "cure": test_wording_cure,
    "plate": test_wording_plate,
    "pour": wording_pour,
    "takeoff": test_wording_takeoff,
    "warmth": test_wording_warmth,
    "weather": test_wording_weather,
}
WORDS = {name: kept(name) for name in CASES}


def cases(table: str) -> list[tuple[str, str]]:
    """File and case of a table of cases; a file of findings that are always told has no silent ones."""
    return [(name, case) for name in CASES for case in getattr(CASES[name], table, {})]


@pytest.mark.parametrize(("name", "case"), cases("SILENT"))
def test_what_is_well_is_not_told(name: str, case: str) -> None:
    assert rows_of(CASES[name].SILENT[case]) == []


@pytest.mark.parametrize(("name", "case"), cases("FINDINGS"))
def test_a_finding_reads_as_kept(name: str, case: str) -> None:
    assert rows_of(CASES[name].FINDINGS[case]) == expected_rows(WORDS[name]["findings"][case])


@pytest.mark.parametrize(("name", "case"), cases("REFUSED"))
def test_a_refusal_reads_as_kept(name: str, case: str) -> None:
    assert line_of(CASES[name].REFUSED[case]) == WORDS[name]["refused"][case]


@pytest.mark.parametrize("name", CASES)
def test_nothing_else_is_kept(name: str) -> None:
    assert set(WORDS[name]["findings"]) == set(CASES[name].FINDINGS)
    assert set(WORDS[name]["refused"]) == set(CASES[name].REFUSED)


def test_every_file_is_read_and_holds_what_it_is_for() -> None:
    files = {file.stem.removeprefix("wording_") for file in Path(__file__).parent.glob("wording_*.toml")}
    assert files == set(CASES)
    assert len(cases("FINDINGS")) > 60
    assert len(cases("REFUSED")) > 200
