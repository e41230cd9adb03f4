"""The bibliography: engineering/SOURCES.md read once, for pages, errors and tests."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

PATH = Path(__file__).parent / "engineering" / "SOURCES.md"


@dataclass(frozen=True)
class Source:
    """One entry: the key that the program prints, the full reference, and how we know what it says."""

    key: str
    reference: str
    known_by: str


@cache
def sources() -> dict[str, Source]:
    """Key → source, in the order of the file."""
    found: dict[str, Source] = {}
    for line in PATH.read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip().strip("|").split("|")]
        if line.startswith("|") and len(cells) == 3 and cells[0] != "key" and not cells[0].startswith("-"):
            found[cells[0]] = Source(*cells)
    return found
