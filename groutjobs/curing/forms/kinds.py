"""The rows of the three inspections: level readings, taps, bolts."""

from typing import Any, cast

from groutjobs import units
from groutjobs.curing import calc
from groutjobs.curing.forms.inspection import InspectionForm
from groutjobs.curing.forms.taps import TapsField
from groutjobs.curing.models import Course, InspectionKind, Verdict
from groutjobs.equipment.geometry import MachineDrawing, drawing_of
from groutjobs.equipment.tolerances import tolerance_of
from groutjobs.fields import Column, PickField, QuantityField, SheetForm, TableField, TextField

MORE_POINTS = (
    Column("label", "name", max_length=12),
    Column("x_mm", "x", "plan_mm"),
    Column("y_mm", "y", "plan_mm"),
    Column("reading_mm", "reading", "level_reading_mm"),
)


class LevelForm(InspectionForm):
    """Elevations read on the plate; a point left empty was not read."""

    kind = InspectionKind.LEVEL

    occasion = PickField(label="Occasion", choices=list(calc.OCCASIONS.items()))
    resolution_mm = QuantityField("resolution_mm", label="Smallest step that the instrument shows")
    tilt_limit_mm_m = QuantityField("tilt_mm_m", label="Limit of tilt, any direction")
    coplanarity_limit_mm = QuantityField("coplanarity_mm", label="Limit of the span about one plane", required=False)
    limit_source = TextField(label="Source of these limits", max_length=120)

    def add_rows(self) -> None:
        machine = self.pour.plan.machine
        tolerance = tolerance_of(machine.level_class)
        self.fields["tilt_limit_mm_m"].help_text = tolerance.sentence
        self.propose("limit_source", tolerance.source)
        self.propose("tilt_limit_mm_m", tolerance.tilt_mm_m)
        self.propose("coplanarity_limit_mm", tolerance.coplanarity_mm)
        self.propose("resolution_mm", None)
        self.points = calc.level_points(drawing_of(machine))
        for number, (label, x_mm, y_mm) in enumerate(self.points):
            place = ", ".join(units.shown(value, "mm", self.system) for value in (x_mm, y_mm))
            words = f"Reading at {label} (x, y: {place})"
            self.add_quantity(f"reading_{number}", QuantityField("level_reading_mm", label=words, required=False))
        more = TableField(MORE_POINTS, label="More points")
        more.system = self.system
        self.fields["more_points"] = more
        self.initial["more_points"] = ["", self.system, False]

    def rows(self) -> dict[str, Any]:
        points = [
            {"label": label, "x_mm": x_mm, "y_mm": y_mm, "reading_mm": self.si(name), "entered": self.entered_of(name)}
            for number, (label, x_mm, y_mm) in enumerate(self.points)
            if self.si(name := f"reading_{number}") is not None
        ]
        names = ("resolution_mm", "tilt_limit_mm_m", "coplanarity_limit_mm")
        return {
            "occasion": self.cleaned_data["occasion"],
            "points": points + self.cleaned_data["more_points"],
            "limit_source": self.cleaned_data["limit_source"],
            **{name: self.si(name) for name in names},
            "as_entered": {name: self.entered_of(name) for name in names},
        }


class SoundingForm(InspectionForm):
    """Taps on a grid; the grid follows from the spacing that the page was asked for."""

    kind = InspectionKind.SOUNDING

    single_void_m2 = QuantityField(
        "void_m2", label="Repair a single hollow place above", help_text="0.01 m² is 100 cm², or 16 square inches."
    )
    total_ratio = QuantityField("share_ratio", label="Repair above this share of the plate")
    limit_source = TextField(label="Source of these limits", max_length=120)
    least_depth_mm = QuantityField("void_depth_mm", label="Least depth of a void", help_text="A guess until drilled.")
    greatest_depth_mm = QuantityField("void_depth_mm", label="Greatest depth of a void")

    def __init__(self, *args: Any, spacing_mm: float, **kwargs: Any) -> None:
        self.spacing_mm = spacing_mm
        super().__init__(*args, **kwargs)

    def add_rows(self) -> None:
        defaults = calc.SOUNDING_DEFAULTS
        self.propose("limit_source", defaults.source)
        self.propose("single_void_m2", defaults.single_void_m2)
        self.propose("total_ratio", defaults.total_share)
        self.propose("least_depth_mm", 1.0)
        self.propose("greatest_depth_mm", 10.0)
        self.drawing: MachineDrawing = drawing_of(self.pour.plan.machine)
        self.taps = calc.tap_points(self.drawing, self.spacing_mm)
        self.fields["taps"] = TapsField(self.taps, label="Taps")

    def rows(self) -> dict[str, Any]:
        names = ("single_void_m2", "total_ratio", "least_depth_mm", "greatest_depth_mm")
        return {
            "spacing_mm": self.spacing_mm,
            "taps": self.cleaned_data["taps"],
            "limit_source": self.cleaned_data["limit_source"],
            **{name: self.si(name) for name in names},
            "as_entered": {name: self.entered_of(name) for name in names},
        }


class BoltsForm(InspectionForm):
    """The final value of each bolt, by torque or by stretch."""

    kind = InspectionKind.BOLTS

    friction = PickField(label="Threads and nut faces")
    target_mpa = QuantityField("bolt_mpa", label="Stress to tension to, on the stress area")
    target_source = TextField(label="Source of this stress", max_length=120)
    passes = QuantityField("passes", label="Passes made, the final round not counted")
    in_order = PickField(label="Tightened in the order drawn", choices=[("", ""), ("yes", "yes"), ("no", "no")])

    def __init__(self, *args: Any, method: str, **kwargs: Any) -> None:
        self.method = method
        super().__init__(*args, **kwargs)

    def add_rows(self) -> None:
        cast(PickField, self.fields["friction"]).choices = [(name, name) for name in calc.friction_names()]
        self.bolts = calc.bolts_of(self.pour.plan.machine)
        target_mpa, source = calc.default_target(self.bolts)
        self.propose("target_mpa", target_mpa)
        self.propose("target_source", source)
        self.propose("friction", calc.friction_names()[0])
        order = calc.order_of(self.bolts)
        self.bolts.sort(key=lambda bolt: order.get(bolt["label"], 0))
        limit, words = calc.VALUE_OF[self.method], "final torque" if self.method == calc.TORQUE else "final stretch"
        for number, bolt in enumerate(self.bolts):
            turn = f"{order[bolt['label']]}. " if order else ""
            self.add_quantity(f"value_{number}", QuantityField(limit, label=f"{turn}Bolt {bolt['label']}, {words}"))

    def targets(self) -> list[dict[str, Any]]:
        """Targets for the stress and friction as typed, or as proposed until they are."""
        given = getattr(self, "cleaned_data", {})
        stress = given.get("target_mpa")
        target_mpa = stress.si if stress else calc.default_target(self.bolts)[0]
        return calc.bolt_targets(self.bolts, given.get("friction") or calc.friction_names()[0], target_mpa)

    def rows(self) -> dict[str, Any]:
        value = calc.VALUE_OF[self.method]
        return {
            "method": self.method,
            "friction": self.cleaned_data["friction"],
            "target_mpa": self.si("target_mpa"),
            "target_source": self.cleaned_data["target_source"],
            "passes": int(self.cleaned_data["passes"].si),
            "in_order": self.cleaned_data["in_order"] == "yes",
            "values": [
                {
                    "label": bolt["label"],
                    value: self.si(f"value_{number}"),
                    "entered": self.entered_of(f"value_{number}"),
                }
                for number, bolt in enumerate(self.bolts)
            ],
            "as_entered": {"target_mpa": self.entered_of("target_mpa")},
        }


class JudgeForm(SheetForm):
    """The verdict on an inspection that was made before, and for a sounding what becomes of its hollow places."""

    verdict = PickField(
        label="Verdict", choices=[("", ""), *[one for one in Verdict.choices if one[0] != Verdict.OPEN]]
    )
    course = PickField(label="What becomes of the hollow places", choices=[("", ""), *Course.choices], required=False)
    grounds = TextField(
        label="Grounds", max_length=2000, long=True, help_text="On what it rests; it stands in the report."
    )

    def __init__(self, *args: Any, is_hollow: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if is_hollow:
            self.fields["course"].help_text = "An engineer decides. Injecting and redoing end in a new sounding."
        else:
            del self.fields["course"]

    def columns(self) -> dict[str, Any]:
        """What judge_inspection takes."""
        given = self.cleaned_data
        return {"verdict": given["verdict"], "grounds": given["grounds"], "course": given.get("course", "")}
