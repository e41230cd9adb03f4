"""Forms of the instruments."""

from collections.abc import Iterable
from typing import Any

from groutjobs.fields import DayField, PickField, SheetForm, TextField
from groutjobs.instruments.models import Calibration, InstrumentKind


class InstrumentForm(SheetForm):
    kind = PickField(label="Kind", choices=InstrumentKind.choices)
    name = TextField(label="What it is", max_length=60, help_text="In your words, such as “master level, 300 mm”.")
    serial = TextField(label="Serial or inventory number", max_length=40)
    span = TextField(label="Range and smallest step", max_length=60, required=False)


class CalibrationForm(SheetForm):
    calibrated_on = DayField(label="Calibrated on")
    due_on = DayField(label="Due again on")
    certificate_no = TextField(label="Number of the certificate", max_length=60)
    by_whom = TextField(label="Laboratory or person", max_length=100)
    replaces = PickField(
        label="Replaces a wrong row",
        required=False,
        choices=[("", "no, it is a new calibration")],
    )
    remark = TextField(label="Remark", max_length=300, long=True, required=False)

    def __init__(self, *args: Any, rows: Iterable[Calibration], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rows = {str(row.pk): row for row in rows if not hasattr(row, "replaced_by")}
        field = self.fields["replaces"]
        assert isinstance(field, PickField)  # noqa: S101
        named = [(key, f"{row.calibrated_on}, certificate {row.certificate_no}") for key, row in self.rows.items()]
        field.choices = [("", "no, it is a new calibration"), *named]

    def columns(self) -> dict[str, Any]:
        return self.values() | {"replaces": self.rows.get(self.cleaned_data["replaces"])}


class RetireForm(SheetForm):
    reason = TextField(label="Why it is used no more", max_length=300, long=True)
