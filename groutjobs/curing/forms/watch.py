"""Forms of a cure that is watched: a span set aside, the log of wetting, and heat from now."""

import datetime as dt
from typing import Any

from groutjobs.curing.calc import HeatQuestion
from groutjobs.curing.models import Probe
from groutjobs.curing.watch_models import Wetness
from groutjobs.fields import PickField, QuantityField, SheetForm, TextField, WhenField

LONGEST_HEAT = dt.timedelta(days=14)


class SpanAsideForm(SheetForm):
    """Readings of one probe from one moment to another."""

    probe = PickField(label="Probe", choices=Probe.choices)
    from_at = WhenField(label="From")
    until_at = WhenField(label="Until")
    why = TextField(label="Why these readings are set aside", max_length=300)

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if not self.errors and given["until_at"] < given["from_at"]:
            self.add_error("until_at", "Until lies before From; write the earlier time first [GROUTJOBS].")
        return given


class SpanBackForm(SheetForm):
    """The reason for which readings count again."""

    why = TextField(label="Why these readings count again", max_length=300)


class WetForm(SheetForm):
    """From when on the grout was wet, covered or dry."""

    wetness = PickField(label="The grout is", choices=Wetness.choices)
    at = WhenField(label="From this moment on")
    note = TextField(label="Note", max_length=200, required=False)


class StrikeForm(SheetForm):
    """The reason for which an entry is struck."""

    why = TextField(label="Why the entry is struck", max_length=300)


class HeatForm(SheetForm):
    """Heat the air round the pour to a temperature, from when until when."""

    target_c = QuantityField("air_c", label="Hold the air at")
    from_at = WhenField(label="From")
    until_at = WhenField(label="Until")
    remarks = TextField(label="Remarks, where it is kept", max_length=300, required=False)

    def __init__(self, *args: Any, now: dt.datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.now = now
        self.initial["target_c"] = self.fields["target_c"].initial_for(25.0, None, self.system)  # type: ignore[attr-defined]
        self.initial.setdefault("from_at", now)
        self.initial.setdefault("until_at", now + dt.timedelta(hours=48))

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if self.errors:
            return given
        if not given["from_at"] < given["until_at"] <= given["from_at"] + LONGEST_HEAT:
            self.add_error("until_at", "Until lies up to 14 days after From, and not before it [GROUTJOBS].")
        elif given["from_at"] < self.now - dt.timedelta(hours=1):
            self.add_error("from_at", "From lies in the past; what was heated then is in the readings [GROUTJOBS].")
        return given

    def question(self) -> HeatQuestion:
        """What heated_of asks."""
        given = self.cleaned_data
        return HeatQuestion(target_c=given["target_c"].si, from_at=given["from_at"], until_at=given["until_at"])
