"""Reads the published values of fixtures/golden; each file says where they come from.

Every case states its source, its basis ("printed" where the source gives the answer, "worked" where we worked it out
from the source's rule), its tolerance and the reason of that. A table is one case or a list of cases.
"""

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).resolve().parents[1] / "fixtures" / "golden"


@dataclass(frozen=True)
class GoldenCase:
    """One case and where it stands."""

    file: str
    table: str
    values: dict[str, Any]


def golden_cases(name: str, table: str) -> list[dict[str, Any]]:
    """All cases of one table of one file."""
    found = _read(name)[table]
    return found if isinstance(found, list) else [found]


def every_golden_case() -> list[GoldenCase]:
    """All cases of all files, in the order of the files."""
    return [
        GoldenCase(path.stem, table, case)
        for path in sorted(FOLDER.glob("*.toml"))
        for table in _read(path.stem)
        for case in golden_cases(path.stem, table)
    ]


def _read(name: str) -> dict[str, Any]:
    with (FOLDER / f"{name}.toml").open("rb") as file:
        return tomllib.load(file)
