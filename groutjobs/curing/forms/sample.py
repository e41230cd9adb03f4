"""The form of a laboratory result."""

import datetime as dt
from collections.abc import Iterable
from typing import Any

from groutjobs.curing.sample_models import KeptWhere, SampleResult, SampleShape
from groutjobs.fields import PickField, QuantityField, SheetForm, TextField, WhenField
from groutjobs.pours.log import Sample

NAMES = ("side_mm", "width_mm", "height_mm", "load_kn", "reported_mpa", "required_mpa")


class SampleForm(SheetForm):
    entry = PickField(label="Sample cast in the log", choices=[])
    specimen = TextField(label="Which of the set", max_length=20, help_text="Such as 1 of 3.")
    tested_at = WhenField(label="Broken at")
    kept = PickField(label="Cured", choices=[("", ""), *KeptWhere.choices])
    shape = PickField(label="Shape", choices=SampleShape.choices)
    side_mm = QuantityField("specimen_mm", label="Side, or diameter")
    width_mm = QuantityField("specimen_mm", label="Other side of the loaded face", required=False)
    height_mm = QuantityField("specimen_mm", label="Height", required=False)
    load_kn = QuantityField("specimen_kn", label="Greatest load", required=False)
    reported_mpa = QuantityField(
        "specimen_mpa", label="Strength as reported", required=False, help_text="The load, the strength, or both."
    )
    required_mpa = QuantityField("specimen_mpa", label="Strength required", required=False)
    required_source = TextField(label="Source of the strength required", max_length=120, required=False)
    lab = TextField(label="Laboratory", max_length=100)
    report_no = TextField(label="Number of its report", max_length=60)
    replaces = PickField(label="Replaces a wrong result", required=False, choices=[("", "no")])
    remarks = TextField(label="Remarks", max_length=500, long=True, required=False)

    def __init__(
        self, *args: Any, cast: Iterable[Sample], results: Iterable[SampleResult], now: dt.datetime, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.results = {str(row.pk): row for row in results}
        self._choose("entry", [(str(one.entry_id), f"{one.label}, batch {one.batch}") for one in cast])
        self._choose("replaces", [("", "no"), *((key, str(row)) for key, row in self.results.items())])
        self.initial.setdefault("tested_at", now)

    def _choose(self, name: str, choices: list[tuple[str, str]]) -> None:
        field = self.fields[name]
        assert isinstance(field, PickField)  # noqa: S101
        field.choices = choices

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if self.errors:
            return given
        if given["load_kn"] is None and given["reported_mpa"] is None:
            self.add_error(
                "load_kn", "Greatest load is empty, and so is the strength as reported; write one of them [GROUTJOBS]."
            )
        if given["required_mpa"] is not None and not given["required_source"].strip():
            self.add_error(
                "required_source", "Source of the strength required is empty; a limit has a source [GROUTJOBS]."
            )
        return given

    def columns(self) -> dict[str, Any]:
        given, values = self.cleaned_data, self.values()
        inputs = {name: values[name] for name in NAMES} | {"as_entered": self.entered()}
        inputs |= {name: given[name] for name in ("shape", "kept", "required_source")}
        return {
            "specimen": given["specimen"],
            "tested_at": given["tested_at"],
            "lab": given["lab"],
            "report_no": given["report_no"],
            "remarks": given["remarks"],
            "replaces": self.results.get(given["replaces"]),
            "inputs": inputs,
        }
