"""The rows of the inspections after the pour: jackscrews, joints and edges, soft foot, hand-over."""

from typing import Any

from groutjobs.curing.calc import after
from groutjobs.curing.forms.inspection import InspectionForm
from groutjobs.curing.models import InspectionKind
from groutjobs.errors import Unusable
from groutjobs.fields import Column, DayField, PickField, QuantityField, TableField, TextField

CRACKS = (
    Column("place", "where", max_length=60),
    Column("width_mm", "width", "crack_mm"),
    Column("length_mm", "length", "crack_length_mm"),
)


class JackscrewsForm(InspectionForm):
    """Each jackscrew backed out and its hole plugged."""

    kind = InspectionKind.JACKSCREWS
    heading = "Jackscrews out and plugged"
    needs_instrument = False

    plug = TextField(label="What the holes are plugged with", max_length=120, required=False)

    def add_rows(self) -> None:
        self.screws = after.screws_to_back_out(self.pour)
        if not self.screws:
            raise Unusable("Jackscrews", "this plate has none on record", source="GROUTJOBS")
        before = {row["name"]: row["state"] for row in self.counts.inputs["screws"]} if self.counts else {}
        for number, screw in enumerate(self.screws):
            choices = [("", "not looked at yet"), *after.SCREW_STATES.items()]
            name = f"screw_{number}"
            self.fields[name] = PickField(label=f"Jackscrew {screw['name']}", choices=choices)
            self.initial.setdefault(name, before.get(screw["name"], ""))
        self.propose("plug", "")

    def rows(self) -> dict[str, Any]:
        given = self.cleaned_data
        states = [screw | {"state": given[f"screw_{number}"]} for number, screw in enumerate(self.screws)]
        return {"screws": states, "plug": given["plug"]}


class JointsForm(InspectionForm):
    """Shoulder, chamfer, bond line, cracks, expansion joint."""

    kind = InspectionKind.JOINTS
    heading = "Joints and edges"

    def add_rows(self) -> None:
        before = self.counts.inputs["edges"] if self.counts else {}
        for name, label in after.EDGES.items():
            choices = [("", "not looked at yet"), *after.EDGE_STATES.items()]
            self.fields[f"edge_{name}"] = PickField(label=label, choices=choices)
            self.initial.setdefault(f"edge_{name}", before.get(name, ""))
        cracks = TableField(CRACKS, label="Cracks, one line each", help_text="Leave it empty where there is none.")
        cracks.system = self.system
        self.fields["cracks"] = cracks
        known = self.counts.inputs["cracks"] if self.counts else []
        self.initial["cracks"] = cracks.initial_for(known, self.system) if known else ["", self.system, False]
        limit = QuantityField("crack_mm", label="Widest crack that stays as it is", required=False)
        self.add_quantity("crack_limit_mm", limit)
        self.fields["crack_source"] = TextField(label="Source of this width", max_length=120, required=False)
        self.propose("crack_limit_mm", None)
        self.propose("crack_source", "")

    def clean(self) -> dict[str, Any]:
        if self.cleaned_data.get("crack_limit_mm") and not self.cleaned_data.get("crack_source", "").strip():
            self.add_error("crack_source", "Source of this width is empty; a limit has a source [GROUTJOBS].")
        return super().clean()

    def rows(self) -> dict[str, Any]:
        given = self.cleaned_data
        return {
            "edges": {name: given[f"edge_{name}"] for name in after.EDGES},
            "cracks": given["cracks"],
            "crack_limit_mm": self.si("crack_limit_mm"),
            "crack_source": given["crack_source"].strip(),
            "as_entered": {"crack_limit_mm": self.entered_of("crack_limit_mm")},
        }


class SoftFootForm(InspectionForm):
    """Each foot read before and after its bolt alone is loosened."""

    kind = InspectionKind.SOFT_FOOT
    heading = "Soft foot"

    limit_mm = QuantityField("foot_limit_mm", label="Limit of movement of a foot")
    limit_source = TextField(label="Source of this limit", max_length=120)

    def add_rows(self) -> None:
        self.feet = after.feet_to_read(self.pour)
        if not self.feet:
            raise Unusable("Soft foot", "this plate has no mounting pads on record", source="GROUTJOBS")
        self.propose("limit_mm", after.FOOT_LIMIT_MM)
        self.propose("limit_source", after.FOOT_SOURCE)
        for number, foot in enumerate(self.feet):
            for when, words in (("before", "tight"), ("after", "bolt loosened")):
                label = f"Foot {foot['label']}, {words}"
                self.add_quantity(f"{when}_{number}", QuantityField("foot_mm", label=label, required=False))

    def clean(self) -> dict[str, Any]:
        for number, foot in enumerate(self.feet):
            typed = [self.cleaned_data.get(f"{when}_{number}") is not None for when in ("before", "after")]
            if any(typed) and not all(typed) and not self.errors:
                missing = "after" if typed[0] else "before"
                words = f"Foot {foot['label']} needs both readings, tight and loosened; write the other [GROUTJOBS]."
                self.add_error(f"{missing}_{number}", words)
        return super().clean()

    def rows(self) -> dict[str, Any]:
        feet = [
            foot
            | {f"{when}_mm": self.si(f"{when}_{number}") for when in ("before", "after")}
            | {"entered": {when: self.entered_of(f"{when}_{number}") for when in ("before", "after")}}
            for number, foot in enumerate(self.feet)
            if self.si(f"before_{number}") is not None and self.si(f"after_{number}") is not None
        ]
        return {
            "feet": feet,
            "limit_mm": self.si("limit_mm"),
            "limit_source": self.cleaned_data["limit_source"],
            "as_entered": {"limit_mm": self.entered_of("limit_mm")},
        }


class HandoverForm(InspectionForm):
    """One sheet for the alignment crew: the rest of it is taken from the inspections that count."""

    kind = InspectionKind.HANDOVER
    heading = "Hand-over to alignment"
    needs_instrument = False

    accepted_on = DayField(label="Grout accepted on")
    thermal = TextField(
        label="Thermal remarks", max_length=1000, long=True, required=False,
        help_text="Growth to allow for, machine or piping still warm, sun on one side.",
    )  # fmt: skip
    received_by = TextField(label="Received for the alignment crew by", max_length=100, required=False)

    def add_rows(self) -> None:
        self.initial.setdefault("accepted_on", self.now.astimezone(self.pour.plan.machine.site.tz).date())
        self.propose("thermal", "")
        self.propose("received_by", "")

    def rows(self) -> dict[str, Any]:
        given = self.cleaned_data
        return {
            "accepted_on": given["accepted_on"].isoformat(),
            "thermal": given["thermal"],
            "received_by": given["received_by"],
        }
