"""Reads the published values of fixtures/golden; each file says where they come from."""

import tomllib
from pathlib import Path
from typing import Any

_FOLDER = Path(__file__).resolve().parents[1] / "fixtures" / "golden"


def golden_cases(name: str, table: str) -> list[dict[str, Any]]:
    """All cases of one table of one file."""
    with (_FOLDER / f"{name}.toml").open("rb") as file:
        cases: list[dict[str, Any]] = tomllib.load(file)[table]
    return cases
