"""The tables that the foundation and plate forms take: their columns, and the notation of compartments."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.core.exceptions import ValidationError

from groutjobs import units
from groutjobs.fields import Column, QuantityField, TableField, quoted
from groutjobs.limits import LIMITS

LABEL = Column("label", "label", max_length=12)
X, Y = Column("x_mm", "x", "plan_mm"), Column("y_mm", "y", "plan_mm")
OUTLINE = (X, Y)
SURVEY_POINTS = (X, Y, Column("elevation_mm", "elevation", "elevation_mm"))
BOLTS = (
    LABEL,
    X,
    Y,
    Column("thread", "thread", max_length=20),
    Column("grade", "grade", max_length=24),
    Column("free_length_mm", "free length", "free_length_mm"),
    Column("sleeve_diameter_mm", "sleeve diameter", "hole_mm", required=False),
    Column("sleeve_depth_mm", "sleeve depth", "sleeve_mm", required=False),
)
HOLES = (LABEL, X, Y, Column("diameter_mm", "diameter", "hole_mm"))
JACKSCREWS = (
    LABEL,
    X,
    Y,
    Column("diameter_mm", "diameter of its pad", "jack_pad_mm"),
    Column("pitch_mm", "thread pitch", "pitch_mm", required=False),
)
PADS = (LABEL, X, Y, Column("length_mm", "length along x", "pad_mm"), Column("width_mm", "width along y", "pad_mm"))
COMPARTMENTS = (
    Column("name", "name", max_length=12),
    Column("outline", "corners as x,y pairs with a space between pairs", max_length=2000),
    Column("fill_above_mm", "grout above the underside in it", "fill_above_mm", required=False),
    Column("open_edge", "the word open if grout comes in from the side", required=False, max_length=10),
)
MOST_CORNERS = 60


class ShortTableField(TableField):
    """A table of at most 300 rows: parts of one machine, not a survey."""

    MAX_ROWS = 300


class CompartmentsField(ShortTableField):
    """One compartment a line: name; corners such as 300,450 1800,450 1800,1500 300,1500; fill height; open."""

    MAX_ROWS = 60

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(COMPARTMENTS, **kwargs)

    def _cell(self, column: Column, cell: str, system: str, sure: bool) -> Any:
        if column.name == "open_edge":
            return _open(cell)
        given = super()._cell(column, cell, system, sure)
        if column.name == "outline":
            return self._corners(given, system, sure)
        return 0.0 if column.name == "fill_above_mm" and given is None else given

    def _corners(self, cell: str, system: str, sure: bool) -> list[list[float]]:
        pairs = cell.split()
        if not 3 <= len(pairs) <= MOST_CORNERS:
            raise ValidationError(f"{len(pairs)} corners; 3 to {MOST_CORNERS} are taken, each as x,y [GROUTJOBS].")
        return [self._corner(number, pair, system, sure) for number, pair in enumerate(pairs, 1)]

    def _corner(self, number: int, pair: str, system: str, sure: bool) -> list[float]:
        numbers = pair.split(",")
        if len(numbers) != 2:
            raise ValidationError(
                f"Corner {number} {quoted(pair)} is not a pair; write x, a comma and y without spaces, with a point "
                "for decimals, such as 300,452.5 [GROUTJOBS]."
            )
        unit = units.preferred_unit("mm", system).key
        corner = []
        for axis, text in zip("xy", numbers, strict=True):
            field = QuantityField("plan_mm", label=f"{axis} of corner {number}")
            field.system = self.system
            quantity = field.clean([text, unit, sure])
            corner.append(quantity.si if quantity else 0.0)
        return corner

    def _shown(self, column: Column, value: Any, system: str) -> str:  # type: ignore[override]
        if column.name == "open_edge":
            return "open" if value else ""
        if column.name == "outline":
            return corners_text(value, system)
        return super()._shown(column, value, system)


def corners_text(outline: Sequence[Sequence[float]], system: str) -> str:
    """Corners as the form takes them, in the reader's units."""
    unit = units.preferred_unit("mm", system).key
    return " ".join(",".join(f"{units.from_si(part, 'mm', unit):.7g}" for part in corner) for corner in outline)


def _open(cell: str) -> bool:
    if cell.casefold() not in {"", "open"}:
        raise ValidationError(f"Last cell {quoted(cell)} is neither empty nor the word open [GROUTJOBS].")
    return bool(cell)


def repeated(rows: Sequence[Mapping[str, Any]], name: str) -> list[str]:
    """Labels that stand in more than one row."""
    seen: dict[str, int] = {}
    for row in rows:
        seen[row[name]] = seen.get(row[name], 0) + 1
    return [label for label, times in seen.items() if times > 1]


def extent_mm(outline: Sequence[Mapping[str, float]], axis: str) -> float:
    """How far the rows reach along an axis."""
    places = [row[axis] for row in outline]
    return max(places) - min(places)


def limit_words(key: str, system: str) -> str:
    """The range of a limit with its source, for a sentence."""
    limit = LIMITS[key]
    return f"{limit.shown(limit.low, system)} to {limit.shown(limit.high, system)} [{limit.source}]"
