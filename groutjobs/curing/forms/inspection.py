"""The head of every inspection: when, with what, the verdict; the kinds add their rows."""

import datetime as dt
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groutjobs.curing.actions import InspectionHead
from groutjobs.curing.models import CureInspection, InspectionKind, Verdict
from groutjobs.curing.queries import effective_inspections, worked_out
from groutjobs.errors import NotConverged, OutOfRange, Unusable
from groutjobs.fields import DayField, PickField, Quantity, QuantityField, SheetForm, TextField, WhenField
from groutjobs.instruments.models import Instrument, InstrumentKind
from groutjobs.instruments.queries import instruments_in_use, standing_on
from groutjobs.pours.models import Pour

BY_EYE = "none needed, by eye"
INSTRUMENTS_FOR = {
    InspectionKind.LEVEL: (InstrumentKind.LEVEL,),
    InspectionKind.SOUNDING: (InstrumentKind.HAMMER,),
    InspectionKind.BOLTS: (InstrumentKind.WRENCH, InstrumentKind.STRETCH),
    InspectionKind.JOINTS: (InstrumentKind.CRACK, InstrumentKind.FEELER),
    InspectionKind.SOFT_FOOT: (InstrumentKind.INDICATOR, InstrumentKind.FEELER),
    InspectionKind.HANDOVER: (InstrumentKind.INDICATOR, InstrumentKind.LEVEL),
}


class InspectionForm(SheetForm):
    """The head of every inspection. The kinds add their rows, and `rows()` hands them to the action."""

    kind = InspectionKind.LEVEL
    heading = ""
    needs_instrument = True

    made_at = WhenField(label="Made at")
    made_with = PickField(label="Instrument", required=False, choices=[])
    instrument = TextField(
        label="If it is not in the list: instrument and serial number", max_length=80, required=False
    )
    calibration_due_on = DayField(label="Its calibration is due on", required=False)
    verdict = PickField(
        label="Verdict",
        choices=[("", "not yet: work it out first"), *[pair for pair in Verdict.choices if pair[0] != Verdict.OPEN]],
        help_text="Yours. The program only suggests; you sign what you saw.",
    )
    remarks = TextField(
        label="Remarks",
        max_length=2000,
        long=True,
        required=False,
        help_text="Needed to accept what stands in the way, and to replace an earlier inspection.",
    )
    replaces = forms.CharField(required=False, widget=forms.HiddenInput())

    def __init__(self, *args: Any, pour: Pour, now: dt.datetime, **kwargs: Any) -> None:
        self.pour, self.now = pour, now
        self.counts: CureInspection | None = effective_inspections(pour).get(self.kind)
        self.result: dict[str, Any] | None = None
        self.inputs: dict[str, Any] | None = None
        super().__init__(*args, **kwargs)
        if not self.needs_instrument:
            for name in ("made_with", "instrument", "calibration_due_on"):
                del self.fields[name]
        self.only_work_out = "work_out" in self.data
        self.fields["verdict"].required = not self.only_work_out
        self.initial.setdefault("made_at", now)
        self._offer_instruments()
        if self.counts is not None:
            self.initial.setdefault("replaces", str(self.counts.pk))
            self._start_with_instrument(self.counts)
        self.add_rows()
        self.order_fields([name for name in self.fields if name not in {"verdict", "remarks"}])

    def _offer_instruments(self) -> None:
        """The instruments of the site in use, those that fit this inspection first, with how each is calibrated."""
        self.instruments: dict[str, Instrument] = {}
        if not self.needs_instrument:
            return
        site, fitting = self.pour.plan.machine.site, INSTRUMENTS_FOR.get(self.kind, ())
        rows = sorted(instruments_in_use(site), key=lambda row: row.kind not in fitting)
        self.instruments = {str(row.pk): row for row in rows}
        day = self.now.astimezone(site.tz).date()
        named = [(key, f"{row}, {standing_on(row, day).word}") for key, row in self.instruments.items()]
        field = self.fields["made_with"]
        assert isinstance(field, PickField)  # noqa: S101
        field.choices = [("", "not in the list: written below"), *named]

    def _start_with_instrument(self, counts: CureInspection) -> None:
        if not self.needs_instrument:
            return
        if str(counts.made_with_id) in self.instruments:
            self.initial.setdefault("made_with", str(counts.made_with_id))
            return
        self.initial.setdefault("instrument", counts.instrument)
        self.initial.setdefault("calibration_due_on", counts.calibration_due_on)

    def _fill_instrument(self, given: dict[str, Any]) -> None:
        """Name and due date from the list, else as written; what is missing is said on its field."""
        if not self.needs_instrument:
            if given.get("made_at") is not None:
                day = given["made_at"].astimezone(self.pour.plan.machine.site.tz).date()
                given |= {"instrument": BY_EYE, "calibration_due_on": day, "made_with": ""}
            return
        chosen = self.instruments.get(given.get("made_with") or "")
        if chosen is not None and given.get("made_at") is not None:
            day = given["made_at"].astimezone(self.pour.plan.machine.site.tz).date()
            calibration = chosen.calibration_on(day)
            given["instrument"] = str(chosen)[:80]
            if calibration is not None:
                given["calibration_due_on"] = calibration.due_on
            elif not chosen.needs_calibration:
                given["calibration_due_on"] = day
        if not given.get("instrument") and "instrument" not in self.errors and "made_with" not in self.errors:
            self.add_error("made_with", "Instrument is not chosen; pick one, or write it below [GROUTJOBS].")
        elif not given.get("calibration_due_on") and "calibration_due_on" not in self.errors:
            words = "is empty, and no calibration of the instrument by that day is on its list"
            self.add_error("calibration_due_on", f"Its calibration is due on: {words}; write a day [ISO8601].")

    def add_rows(self) -> None:
        """Add the fields that follow from the machine, such as one for each bolt."""

    def add_quantity(self, name: str, field: QuantityField, si: float | None = None) -> None:
        """Add a quantity made for this machine, shown in the reader's units."""
        field.system = self.system
        self.fields[name] = field
        self.initial[name] = field.initial_for(si, None, self.system)

    def propose(self, name: str, value: Any) -> None:
        """Start a field with what the inspection before this one had, else with this value."""
        before = self.counts.inputs if self.counts is not None else {}
        value = before.get(name, value)
        field = self.fields[name]
        self.initial[name] = field.initial_for(value, None, self.system) if isinstance(field, QuantityField) else value

    def entered_of(self, name: str) -> dict[str, str] | None:
        """What was typed into a quantity, to be kept beside its value."""
        quantity: Quantity | None = self.cleaned_data[name]
        return quantity.entered() if quantity else None

    def si(self, name: str) -> float | None:
        """The value of a quantity in the unit of storage; None where it was left empty."""
        quantity: Quantity | None = self.cleaned_data[name]
        return quantity.si if quantity else None

    def rows(self) -> dict[str, Any]:
        """The rows of a clean form, as the action takes them."""
        raise NotImplementedError

    def clean_made_at(self) -> dt.datetime:
        made_at: dt.datetime = self.cleaned_data["made_at"]
        if made_at > self.now + dt.timedelta(minutes=5):
            zone = self.pour.plan.machine.site.tz
            raise ValidationError(
                f"Made at {made_at.astimezone(zone):%Y-%m-%d %H:%M} is later than now, "
                f"{self.now.astimezone(zone):%Y-%m-%d %H:%M} [GROUTJOBS].",
                code="future",
            )
        return made_at

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        self._fill_instrument(given)
        if not self.errors:
            try:
                self.inputs, self.result = worked_out(
                    self.pour,
                    self.kind,
                    self.rows(),
                    made_at=given["made_at"],
                    instrument=given["instrument"],
                    due_on=given["calibration_due_on"],
                    before=self.counts,
                )
            except (OutOfRange, Unusable, NotConverged) as error:
                self.refuse(error)
        return given

    def head(self) -> InspectionHead:
        """The head of a valid form. An inspection recorded since the form was read makes the action refuse."""
        given = self.cleaned_data
        is_it = self.counts is not None and given["replaces"] == str(self.counts.pk)
        return InspectionHead(
            made_at=given["made_at"],
            instrument=given["instrument"],
            calibration_due_on=given["calibration_due_on"],
            made_with=self.instruments.get(given["made_with"]),
            verdict=given["verdict"],
            remarks=given["remarks"],
            replaces=self.counts if is_it else None,
        )

    def columns(self) -> dict[str, Any]:
        """What record_level, record_sounding and record_bolts take."""
        return {"head": self.head(), "rows": self.rows()}
