"""Forms of plates: the whole plate as tables, and a first plate from a rectangle."""

from typing import Any

from django.core.exceptions import ValidationError

from groutjobs import units
from groutjobs.equipment import calc, tables
from groutjobs.equipment.forms import WHY, refuse_repeated, rounded, show_table
from groutjobs.equipment.layout import Rectangle
from groutjobs.equipment.models import Baseplate, Machine, PartKind, parts_of
from groutjobs.equipment.seen import SeenForm
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.fields import PickField, QuantityField, TextField, check_limit
from groutjobs.limits import LIMITS

SOLEPLATE = "soleplate"
PART_TABLES = {
    "fill_holes": (PartKind.FILL_HOLE, tables.HOLES),
    "vents": (PartKind.VENT, tables.HOLES),
    "jackscrews": (PartKind.JACKSCREW, tables.JACKSCREWS),
    "mounting_pads": (PartKind.MOUNTING_PAD, tables.PADS),
}


class _PlateFields(SeenForm):
    """What both plate forms ask, and the check of the underside against the surveyed concrete."""

    plate_kind = PickField(
        label="Kind of plate",
        choices=[("", "–"), ("baseplate", "Baseplate"), (SOLEPLATE, "Soleplate")],
        help_text="A soleplate is a plain plate without a frame of its own.",
    )
    underside_elevation_mm = QuantityField(
        "elevation_mm",
        label="Elevation of the underside",
        help_text="Above the same datum as the survey of the concrete.",
    )
    thickness_mm = QuantityField("plate_thickness_mm", label="Thickness of the plate")
    mass_kg = QuantityField("machine_kg", label="Mass of the plate")

    def __init__(self, *args: Any, machine: Machine, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.machine = machine

    def clean_underside_elevation_mm(self) -> Any:
        given = self.cleaned_data["underside_elevation_mm"]
        space_mm = calc.grout_space_mm(self.machine, given.si)
        limit = LIMITS["grout_thickness_mm"]
        if space_mm is not None and not limit.low <= space_mm <= limit.high:
            unit = units.unit_for("mm", given.unit).label
            raise ValidationError(
                f"Elevation of the underside {given.text} {unit} leaves {units.shown(space_mm, 'mm', self.system)} "
                "above the surveyed concrete; a grout bed of "
                f"{tables.limit_words('grout_thickness_mm', self.system)} is taken."
            )
        return given

    def check_size(self, name: str, label: str, length_mm: float, sure: bool) -> None:
        """Refuse a plate too small or too large for a machine: a wrong unit looks like that."""
        typed = units.shown(length_mm, "mm", self.system)
        try:
            check_limit(label, typed, length_mm, LIMITS["block_mm"], confirmed=sure, system=self.system)
        except ValidationError as error:
            self.add_error(name, error)

    def plate_columns(self) -> dict[str, Any]:
        """The plate's own columns, without its outline."""
        names = ("underside_elevation_mm", "thickness_mm", "mass_kg")
        given, entered = self.values(), self.entered()
        return {name: given[name] for name in names} | {
            "is_soleplate": given["plate_kind"] == SOLEPLATE,
            "as_entered": {name: entered[name] for name in names},
        }


class PlateForm(_PlateFields):
    outline = tables.ShortTableField(
        tables.OUTLINE, label="Outline of the plate", min_rows=3, help_text="Its corners in order, either way round."
    )
    compartments = tables.CompartmentsField(
        label="Compartments",
        min_rows=1,
        help_text="One for each part of the underside between stiffeners, such as: "
        "A; 300,300 1800,300 1800,1800 300,1800",
    )
    fill_holes = tables.ShortTableField(tables.HOLES, label="Fill holes")
    vents = tables.ShortTableField(tables.HOLES, label="Vents")
    jackscrews = tables.ShortTableField(tables.JACKSCREWS, label="Jackscrews")
    mounting_pads = tables.ShortTableField(tables.PADS, label="Mounting pads")
    reason = TextField(label="Reason for the change", max_length=200, required=False, help_text=WHY)

    def __init__(self, *args: Any, row: Baseplate | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if row is None:
            del self.fields["reason"]
            self.watch(None)
            return
        self.show_row(row, "underside_elevation_mm", "thickness_mm", "mass_kg")
        self.initial["plate_kind"] = SOLEPLATE if row.is_soleplate else "baseplate"
        outline: Any = self.fields["outline"]
        self.initial["outline"] = outline.initial_for([{"x_mm": x, "y_mm": y} for x, y in row.outline], self.system)
        show_table(self, "compartments", tables.COMPARTMENTS, row.compartments.all())
        parts = list(row.parts.all())
        for name, (kind, columns) in PART_TABLES.items():
            show_table(self, name, columns, parts_of(parts, kind))
        self.watch(row, row.compartments.all(), parts)

    def clean(self) -> dict[str, Any]:
        super().clean()
        given = self.cleaned_data
        for name in ("outline", *PART_TABLES):
            if name in given:
                given[name] = rounded(given[name] or [])
        for name in PART_TABLES:
            refuse_repeated(self, name, given.get(name, []), "label")
        refuse_repeated(self, "compartments", given.get("compartments", []), "name")
        corners = given.get("outline")
        if corners:
            sure = bool(self.data.get(f"{self.add_prefix('outline')}_sure"))
            self.check_size("outline", "Length of the plate", tables.extent_mm(corners, "x_mm"), sure)
            self.check_size("outline", "Width of the plate", tables.extent_mm(corners, "y_mm"), sure)
        if not self.errors:
            self._check_geometry()
        return given

    def _check_geometry(self) -> None:
        try:
            calc.require_geometry(self.outline_rows(), self.compartment_rows(), self.part_rows())
        except (OutOfRange, Unusable) as error:
            self.refuse(error, field=self._field_of(error.quantity))

    @staticmethod
    def _field_of(quantity: str) -> str:
        """The table that an error of the geometry speaks of."""
        starts = {kind.label.lower(): name for name, (kind, _columns) in PART_TABLES.items()}
        starts["compartment"] = "compartments"
        return next((name for start, name in starts.items() if quantity.startswith(start)), "outline")

    def outline_rows(self) -> list[list[float]]:
        return [[row["x_mm"], row["y_mm"]] for row in self.cleaned_data["outline"]]

    def compartment_rows(self) -> list[dict[str, Any]]:
        return [
            {**row, "outline": [[round(part, 2) for part in corner] for corner in row["outline"]]}
            for row in self.cleaned_data["compartments"]
        ]

    def part_rows(self) -> list[dict[str, Any]]:
        return [{"kind": kind, **row} for name, (kind, _) in PART_TABLES.items() for row in self.cleaned_data[name]]


class RectangleForm(_PlateFields):
    length_mm = QuantityField("block_mm", label="Length of the plate", help_text="Along x.")
    width_mm = QuantityField("block_mm", label="Width of the plate", help_text="Along y.")
    x_mm = QuantityField("plan_mm", label="From the corner of the block along x")
    y_mm = QuantityField("plan_mm", label="From the corner of the block along y")
    compartments_along = QuantityField("compartments_along", label="Compartments side by side along x")
    fill_hole_mm = QuantityField(
        "hole_mm", label="Diameter of the fill holes", help_text="One at the centre of each compartment."
    )
    vent_mm = QuantityField(
        "hole_mm", label="Diameter of the vents", help_text="One in each corner of each compartment."
    )
    field_order = ["length_mm", "width_mm", "x_mm", "y_mm", "compartments_along", "fill_hole_mm", "vent_mm"]

    def clean(self) -> dict[str, Any]:
        super().clean()
        given = self.cleaned_data
        if "length_mm" in given and "compartments_along" in given:
            each_mm = given["length_mm"].si / given["compartments_along"].si
            largest = max((given[name].si for name in ("fill_hole_mm", "vent_mm") if name in given), default=0.0)
            if each_mm <= 2 * largest:
                self.add_error(
                    "compartments_along",
                    f"Compartments side by side along x {given['compartments_along'].text} leave "
                    f"{units.shown(each_mm, 'mm', self.system)} for each, too narrow for its holes; twice the "
                    f"diameter of {units.shown(largest, 'mm', self.system)} is the least [GROUTJOBS].",
                )
        return given

    def rectangle(self) -> Rectangle:
        given = self.values()
        names = ("x_mm", "y_mm", "length_mm", "width_mm", "compartments_along", "fill_hole_mm", "vent_mm")
        return Rectangle(**{name: given[name] for name in names})
