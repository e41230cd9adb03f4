"""What a run of the heat model is given: layers, surroundings, where the temperatures begin, what was measured."""

import enum
from dataclasses import dataclass, replace

from groutjobs.engineering.checks import Floats, require_between
from groutjobs.engineering.materials import ConcreteProperties, GroutProperties, SteelProperties
from groutjobs.engineering.protection import Covers, Enclosure, Shade, require_apart
from groutjobs.engineering.sky import Exposure
from groutjobs.errors import Unusable


class Underside(enum.StrEnum):
    """What the foundation block stands on."""

    GROUND = "ground"
    FREE = "free"


@dataclass(frozen=True, kw_only=True)
class Layers:
    """The column from the plate down. Before the pour gap_mm is the space under the plate; after it grout_mm.

    Without a plate the concrete, or the grout, is the surface.
    """

    concrete: ConcreteProperties
    concrete_mm: float
    plate: SteelProperties | None = None
    plate_mm: float | None = None
    gap_mm: float | None = None
    grout: GroutProperties | None = None
    grout_mm: float | None = None

    def __post_init__(self) -> None:
        require_between("foundation depth", self.concrete_mm, 100.0, 10_000.0, unit="mm", source="GROUTJOBS")
        for label, thing, size_mm, low, high in (
            ("plate thickness", self.plate, self.plate_mm, 5.0, 300.0),
            ("grout thickness", self.grout, self.grout_mm, 5.0, 600.0),
        ):
            if (thing is None) != (size_mm is None):
                raise Unusable(label, "material and thickness must be given together", source="GROUTJOBS")
            if size_mm is not None:
                require_between(label, size_mm, low, high, unit="mm", source="GROUTJOBS")
        if (self.gap_mm is not None) != (self.plate is not None and self.grout is None):
            reason = "a plate without grout lies over a gap, and nothing else does"
            raise Unusable("gap under the plate", reason, source="GROUTJOBS")
        if self.gap_mm is not None:
            require_between("gap under the plate", self.gap_mm, 5.0, 300.0, unit="mm", source="ISO6946")

    @property
    def top(self) -> ConcreteProperties | SteelProperties | GroutProperties:
        return self.plate or self.grout or self.concrete


@dataclass(frozen=True, kw_only=True)
class Surroundings:
    """Where the column stands. ground_c is the temperature 2 m below the block, near the annual mean of the air.

    covers are shades and enclosures on the axis of the weather; they stay the same after the pour.
    """

    exposure: Exposure
    underside: Underside
    ground_c: float
    sun_share_ratio: float = 1.0
    covers: Covers = ()

    def __post_init__(self) -> None:
        require_apart(self.covers)
        require_between("ground temperature", self.ground_c, -30.0, 40.0, unit="°C", source="GROUTJOBS")
        require_between("share in the sun", self.sun_share_ratio, 0.0, 1.0, source="GROUTJOBS")

    def under(self, cover: Shade | Enclosure) -> "Surroundings":
        """The same place with one more cover."""
        return replace(self, covers=(*self.covers, cover))


@dataclass(frozen=True, kw_only=True)
class AnnualStart:
    """A start from the yearly wave: annual_swing_k is warmest less coldest daily mean, days count from the warmest."""

    annual_mean_c: float
    annual_swing_k: float
    days_after_warmest: float

    def __post_init__(self) -> None:
        require_between("annual mean", self.annual_mean_c, -30.0, 40.0, unit="°C", source="GROUTJOBS")
        require_between("annual swing", self.annual_swing_k, 0.0, 60.0, unit="K", source="GROUTJOBS")
        require_between("days after the warmest", self.days_after_warmest, -366.0, 366.0, unit="d", source="GROUTJOBS")


@dataclass(frozen=True, kw_only=True)
class ProfileStart:
    """A start from known temperatures of all cells. [°C], shape (n_cells,) or (n_batch, n_cells), top first"""

    cell_c: Floats


@dataclass(frozen=True)
class MeasuredConcrete:
    """A temperature read on the concrete surface at one of the hours. From there on the column follows it."""

    hour: int
    concrete_c: float
