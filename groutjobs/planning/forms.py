"""Forms of grout systems, data sheets, lots and plans: what is typed becomes SI values, what contradicts comes back."""

from typing import Any

from django.db.models import QuerySet

from groutjobs.accounts.models import Role
from groutjobs.equipment.models import Site
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.fields import (
    Column,
    DayField,
    PickField,
    QuantityField,
    RowPickField,
    SheetForm,
    TableField,
    TextField,
    quoted,
)
from groutjobs.planning.actions import AUTHORITY_LENGTH
from groutjobs.planning.calc import check_data_sheet
from groutjobs.planning.models import DataSheet, GroutKind, GroutLot, GroutSystem, PlanPoint, PointCode, PourPlan

WORKING_LIFE = (
    Column("temp_c", "grout temperature", "material_c"),
    Column("working_life_min", "working life in minutes", "working_life_min"),
)
STRENGTH = (
    Column("temp_c", "cure temperature", "material_c"),
    Column("age_h", "age in hours", "cure_h"),
    Column("strength_mpa", "strength in MPa, or in psi where the table is in °F", "strength_mpa"),
)
USUAL_VALUES = {
    "clearance_mm": 75.0,
    "rise_mm": 15.0,
    "chamfer_mm": 25.0,
    "head_mm": 200.0,
    "waste_ratio": 0.15,
    "spare_kits": 1,
    "kits_per_batch": 1,
}
"""Common practice [PRACTICE]; chamfer [API686] 5-3.7.5."""
ON_PLATE = [("bare", "nothing: the plate alone"), ("machine", "machine and driver")]
FIELD_OF_QUANTITY = {
    "plate-to-form clearance": "clearance_mm",
    "rise of the shoulder": "rise_mm",
    "chamfer": "chamfer_mm",
    "forms": "clearance_mm",
    "waste": "waste_ratio",
    "grout temperature": "planned_grout_c",
    "temperature of the material": "material_c",
    "conditioning store": "conditioning_store_c",
    "core before mixing": "core_c",
    "grout head": "head_mm",
    "placing time": "place_min",
    "turnaround of a mixer": "turnaround_min",
}
"""What the engineering calls a quantity → the field it was typed in."""


class GroutSystemForm(SheetForm):
    site = RowPickField(queryset=Site.objects.none(), label="Site")
    name = TextField(label="Name of the grout system", max_length=60)
    kind = PickField(choices=GroutKind.choices, label="Kind")
    supplier = TextField(label="Supplier", max_length=80)

    def __init__(self, *args: Any, sites: QuerySet[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites  # type: ignore[attr-defined]
        if len(sites) == 1:
            self.initial.setdefault("site", sites[0].pk)

    def clean(self) -> dict[str, Any]:
        values = self.cleaned_data
        if GroutSystem.objects.filter(site=values.get("site"), name=values.get("name")).exists():
            self.add_error("name", f"{values['name']} is already a grout system of this site; one name is one system.")
        return values


class DataSheetForm(SheetForm):
    revision = TextField(label="Revision of the data sheet", max_length=20)
    dated_on = DayField(label="Date printed on it")
    composition = TextField(label="What one kit or bag holds", max_length=200)
    kit_yield_l = QuantityField("yield_l", label="Yield of one kit or bag, mixed")
    kit_kg = QuantityField("kit_kg", label="Mass of one kit or bag")
    density_kg_m3 = QuantityField("density_kg_m3", label="Density of the mixed grout")
    thickness_min_mm = QuantityField("grout_thickness_mm", label="Least depth of grout")
    thickness_max_mm = QuantityField("grout_thickness_mm", label="Greatest depth in one lift")
    placing_min_c = QuantityField("material_c", label="Coldest for placing")
    placing_max_c = QuantityField("material_c", label="Hottest for placing")
    cure_min_c = QuantityField("surface_c", label="Does not cure below")
    mix_min = QuantityField("mix_min", label="Mixing time of one kit")
    shelf_life_d = QuantityField("shelf_life_d", label="Shelf life")
    activation_kj_mol = QuantityField(
        "activation_kj_mol",
        label="Activation energy, kJ/mol",
        required=False,
        help_text="Only where the supplier states it; it sets how temperature speeds the cure.",
    )
    mixing_rules = TextField(label="Mixing rules", max_length=1000, long=True)
    working_life = TableField(WORKING_LIFE, label="Working life", min_rows=1)
    strength = TableField(STRENGTH, label="Compressive strength", min_rows=0)

    def __init__(self, *args: Any, grout_system: GroutSystem, sheet: DataSheet | None = None, **kwargs: Any) -> None:
        self.grout_system, self.sheet = grout_system, sheet
        super().__init__(*args, **kwargs)

    def show_sheet(self, shown: DataSheet, *, as_new: bool) -> None:
        """Fill in from a stored data sheet; a new revision starts with its values and an empty revision and date."""
        names = [name for name in self.fields if name not in {"working_life", "strength"}]
        self.show_row(shown, *(name for name in names if not (as_new and name in {"revision", "dated_on"})))
        for name, columns in (("working_life", WORKING_LIFE), ("strength", STRENGTH)):
            rows = [dict(zip((column.name for column in columns), row, strict=True)) for row in getattr(shown, name)]
            field: Any = self.fields[name]
            self.initial[name] = field.initial_for(rows, self.system)

    def columns(self) -> dict[str, Any]:
        """Columns of DataSheet."""
        values = self.values()
        for name in ("working_life", "strength"):
            values[name] = [list(row.values()) for row in values[name]]
        return values | {"as_entered": self.entered()}

    def clean(self) -> dict[str, Any]:
        revision = str(self.cleaned_data.get("revision"))
        twins = DataSheet.objects.filter(grout_system=self.grout_system, revision=revision)
        if any(twin != self.sheet for twin in twins):
            self.add_error("revision", f"Revision {quoted(revision)} of {self.grout_system} is already there.")
        if not self.errors:
            try:
                check_data_sheet(GroutKind(self.grout_system.kind), self.columns(), system=self.system)
            except Unusable as error:
                self._refuse(error)
            except OutOfRange as error:
                self.refuse(error, field="working_life")
        return self.cleaned_data

    def _refuse(self, error: Unusable) -> None:
        name = error.quantity.replace(" ", "_")
        label = self.fields[name].label if name in self.fields else error.quantity
        self.add_error(name if name in self.fields else None, f"{label}: {error.reason} [{error.source}].")


class LotForm(SheetForm):
    lot_no = TextField(label="Lot number", max_length=40)
    kits = QuantityField("kits", label="Kits or bags in store")
    expires_on = DayField(label="Expires on")
    store_c = QuantityField("material_c", label="Store temperature")
    place = TextField(label="Where it is kept", max_length=80)

    def __init__(self, *args: Any, grout_system: GroutSystem, lot: GroutLot | None = None, **kwargs: Any) -> None:
        self.grout_system, self.lot = grout_system, lot
        super().__init__(*args, **kwargs)
        if lot is not None:
            self.show_row(lot)

    def columns(self) -> dict[str, Any]:
        """Columns of GroutLot."""
        return self.values() | {"as_entered": self.entered()}

    def clean(self) -> dict[str, Any]:
        lot_no = str(self.cleaned_data.get("lot_no"))
        twins = GroutLot.objects.filter(grout_system=self.grout_system, lot_no=lot_no)
        if any(twin != self.lot for twin in twins):
            self.add_error("lot_no", f"Lot {quoted(lot_no)} of {self.grout_system} is already there.")
        return self.cleaned_data


class PlanForm(SheetForm):
    data_sheet = RowPickField(
        queryset=DataSheet.objects.none(),
        label="Grout, by data sheet",
        help_text="Not in the list? Add the grout system and its data sheet first.",
    )
    lot = RowPickField(queryset=GroutLot.objects.none(), label="Lot to be used", required=False)
    pour_on = DayField(
        label="Day of the pour, as planned", required=False, help_text="Checks the expiry of the lot against this day."
    )
    planned_grout_c = QuantityField(
        "grout_c", label="Temperature of the mixed grout", help_text="Sets the working life by the data sheet."
    )
    material_c = QuantityField(
        "material_c",
        label="Material before it is conditioned",
        required=False,
        help_text="Read in its core. Empty: the store temperature of the lot.",
    )
    conditioning_store_c = QuantityField(
        "material_c",
        label="Store that it is brought to",
        required=False,
        help_text="From it come the hours in the store. Empty where the material needs none.",
    )
    conditioning_h = QuantityField(
        "conditioning_h",
        label="Time in that store before mixing",
        required=False,
        help_text="As planned, with stacks opened. Empty: as long as it takes, epoxy 48 h at least.",
    )
    core_c = QuantityField(
        "material_c",
        label="Core before mixing, at least",
        required=False,
        help_text="What the supplier asks for. Empty: 18 °C (65 °F) for epoxy, else the coldest for placing.",
    )
    clearance_mm = QuantityField(
        "clearance_mm", label="Plate edge to formwork", help_text="The shoulder, on all sides."
    )
    rise_mm = QuantityField(
        "rise_mm", label="Grout up the plate edge", help_text="Above the underside, and below the top of the plate."
    )
    chamfer_mm = QuantityField("chamfer_mm", label="Chamfer along the top edge", help_text="0 where none is planned.")
    head_mm = QuantityField(
        "head_mm", label="Head of grout above the underside", help_text="Top of the grout in the head box or funnel."
    )
    snug_kn = QuantityField(
        "snug_kn",
        label="Tension of all snug bolts together",
        help_text="Holds the plate down against the head; 0 where bolts are only finger-tight.",
    )
    on_plate = PickField(
        choices=ON_PLATE, label="On the plate during the pour", help_text="Its weight holds the plate."
    )
    waste_ratio = QuantityField("waste_ratio", label="Waste", help_text="In mixers, on boards, in the head box, leaks.")
    spare_kits = QuantityField("spare_kits", label="Spare kits")
    mixers = QuantityField("mixers", label="Mixers")
    crew = QuantityField("crew", label="People on the crew")
    kits_per_batch = QuantityField("kits_per_batch", label="Kits in one batch")
    place_min = QuantityField("place_min", label="Carrying and placing of one batch")
    turnaround_min = QuantityField(
        "turnaround_min", label="Turnaround of a mixer", help_text="To empty, wipe and fill it again."
    )

    def __init__(self, *args: Any, site: Site, plan: PourPlan | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sheets = DataSheet.objects.filter(grout_system__site=site).select_related("grout_system")
        lots = GroutLot.objects.filter(grout_system__site=site).select_related("grout_system")
        pick_sheet: Any = self.fields["data_sheet"]
        pick_lot: Any = self.fields["lot"]
        pick_sheet.queryset = sheets
        pick_lot.queryset = lots
        pick_lot.label_from_instance = _lot_in_words
        if plan is not None:
            self.show_row(plan)
            self.initial["on_plate"] = "machine" if plan.machine_mounted else "bare"
        else:
            self._suggest()

    def _suggest(self) -> None:
        """Usual values of a first plan, to be seen and changed in the form."""
        for name, usual in USUAL_VALUES.items():
            field: Any = self.fields[name]
            self.initial[name] = field.initial_for(usual, None, self.system)

    def columns(self) -> dict[str, Any]:
        """Columns of PourPlan."""
        values = self.values()
        return values | {"machine_mounted": values.pop("on_plate") == "machine", "as_entered": self.entered()}

    def clean(self) -> dict[str, Any]:
        sheet, lot = self.cleaned_data.get("data_sheet"), self.cleaned_data.get("lot")
        if sheet and lot and sheet.grout_system_id != lot.grout_system_id:
            self.add_error("lot", f"Lot {lot.lot_no} is {lot.grout_system}, the data sheet is of {sheet.grout_system}.")
        return self.cleaned_data

    def refuse_by_quantity(self, error: OutOfRange | Unusable) -> None:
        """Put an error of the engineering on the field whose quantity it names, else on the whole form."""
        self.refuse(error, field=FIELD_OF_QUANTITY.get(error.quantity))


def _lot_in_words(lot: GroutLot) -> str:
    return f"{lot.grout_system.name}, lot {lot.lot_no}: {lot.kits} kits, expires {lot.expires_on}"


class PointForm(SheetForm):
    acceptance = TextField(label="Acceptance", max_length=300, long=True)
    source = TextField(
        label="On whose word", max_length=120, help_text="Standard and clause, owner's specification, or supplier."
    )
    code = PickField(choices=PointCode.choices, label="Hold, witness, monitor or review")
    witness_role = PickField(choices=[("", "nobody"), *Role.choices], label="Held or witnessed by", required=False)
    reason = TextField(label="Why it is changed", max_length=200)

    def __init__(self, *args: Any, point: PlanPoint, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.show_row(point)

    def clean(self) -> dict[str, Any]:
        if self.cleaned_data.get("code") == PointCode.HOLD and self.cleaned_data.get("witness_role") == "":
            self.add_error("witness_role", "Held or witnessed by is empty; a hold point needs somebody who holds it.")
        return self.cleaned_data


class ApproveForm(SheetForm):
    note = TextField(
        label="Authority on which what stands in the way is accepted",
        max_length=300,
        required=False,
        long=True,
        help_text=f"Who accepts it and on what ground, {AUTHORITY_LENGTH} characters or more; it goes into the report.",
    )


class ReviseForm(SheetForm):
    reason = TextField(label="Why a new revision is made", max_length=200)
