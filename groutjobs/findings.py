"""What the program tells a person about a job: one shape for windows, readiness, plans and schedules."""

import enum
from dataclasses import asdict, dataclass
from typing import Any


class Level(enum.StrEnum):
    """How much a finding weighs. A blocker stands in the way; a warning asks for a decision; a note informs."""

    BLOCKER = "blocker"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One thing worth telling, with its way out and its source."""

    level: Level
    code: str
    message: str
    source: str
    hint: str = ""
    about: str = ""
    margin: float | None = None

    def as_json(self) -> dict[str, Any]:
        return asdict(self)

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> "Finding":
        return cls(**{**stored, "level": Level(stored["level"])})


def worst(findings: list[Finding]) -> Level | None:
    """The heaviest level present, or None where nothing was found."""
    for level in Level:
        if any(finding.level is level for finding in findings):
            return level
    return None
