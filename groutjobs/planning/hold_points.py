"""The inspection and test plan that a new pour plan starts with, read once from data/hold_points.toml."""

import tomllib
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import Any

from groutjobs.planning.models import GroutKind

_TABLE = Path(__file__).parent / "data" / "hold_points.toml"


@dataclass(frozen=True, kw_only=True)
class StandardPoint:
    """One line of the standard list; the columns are those of PlanPoint."""

    step: str
    checked: str
    recorded: str
    acceptance: str
    code: str
    witness_role: str
    before_pour: bool
    source: str

    def columns(self) -> dict[str, Any]:
        return asdict(self)


@cache
def standard_points(kind: GroutKind) -> tuple[StandardPoint, ...]:
    """The lines for this kind of grout, in the order of the work."""
    with _TABLE.open("rb") as table:
        rows = tomllib.load(table)["point"]
    return tuple(
        StandardPoint(**{name: value for name, value in row.items() if name != "grout"})
        for row in rows
        if row.get("grout", kind) == kind
    )
