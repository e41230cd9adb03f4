"""Forms of loggers: what is remembered of one, and where it stands."""

from typing import Any, cast

from django import forms

from groutjobs.curing.files import TIME_FORMATS, UNIT_OF, clock_choices
from groutjobs.curing.logger_models import CHANNEL_PROBES, Logger
from groutjobs.curing.models import Probe
from groutjobs.equipment.models import Site
from groutjobs.fields import PickField, SheetForm, TextField, WhenField
from groutjobs.pours.models import STATES_OPEN_FOR_READINGS, Pour

UNITS = [("c", "°C"), ("f", "°F")]
NOWHERE = "0"


class LoggerForm(SheetForm):
    """Name, clock, and which column of its file (or channel) is which probe in which unit."""

    name = TextField(label="Name", max_length=60)
    serial = TextField(label="Serial number", max_length=60, required=False)
    time_column = TextField(label="Column with the time", max_length=60)
    date_column = TextField(label="Column with the day, where it stands apart", max_length=60, required=False)
    time_format = PickField(label="Its times are written as", choices=list(TIME_FORMATS.items()))
    clock = PickField(label="Its clock runs")

    def __init__(self, *args: Any, site: Site, year: int, logger: Logger | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        cast(PickField, self.fields["clock"]).choices = clock_choices(site.tz, year)
        for probe in CHANNEL_PROBES:
            label = Probe(probe).label
            self.fields[f"{probe}_column"] = TextField(
                label=f"{label}: column or channel", max_length=60, required=False
            )
            self.fields[f"{probe}_unit"] = PickField(label=f"{label}: unit", choices=UNITS)
        if logger is not None:
            self._show(logger)
        else:
            self.initial.update({"time_column": "time", "grout_column": "grout", "air_column": "air"})

    def _show(self, logger: Logger) -> None:
        for name in ("name", "serial", "time_column", "date_column", "time_format", "clock"):
            self.initial[name] = getattr(logger, name)
        for row in logger.columns:
            self.initial[f"{row['probe']}_column"] = row["name"]
            self.initial[f"{row['probe']}_unit"] = row["unit"]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        names = [given.get(f"{probe}_column", "").casefold() for probe in CHANNEL_PROBES]
        named = [name for name in names if name]
        if not named and not self.errors:
            self.add_error("grout_column", "Name the column of at least one probe [GROUTJOBS].")
        taken = [*named, given.get("time_column", "").casefold(), given.get("date_column", "").casefold()]
        twice = [name for name in taken if name and taken.count(name) > 1]
        if twice and not self.errors:
            self.add_error(None, f"Column “{twice[0][:60]}” is named twice; each has one meaning [GROUTJOBS].")
        return given

    def columns(self) -> dict[str, Any]:
        """What keep_logger takes."""
        given = self.cleaned_data
        plain = {name: given[name] for name in ("name", "serial", "time_column", "date_column", "time_format", "clock")}
        rows = [
            {"name": given[f"{probe}_column"], "probe": probe, "unit": given[f"{probe}_unit"]}
            for probe in CHANNEL_PROBES
            if given[f"{probe}_column"] and given[f"{probe}_unit"] in UNIT_OF
        ]
        return plain | {"columns": rows}


class StandForm(SheetForm):
    """At which pour a logger stands, and since when."""

    pour = PickField(label="Stands at")
    at = WhenField(label="Since")

    def __init__(self, *args: Any, pours: list[Pour], **kwargs: Any) -> None:
        self.pours = {str(pour.pk): pour for pour in pours if pour.state in STATES_OPEN_FOR_READINGS}
        super().__init__(*args, **kwargs)
        choices = [(key, f"{pour.plan.machine.tag}, pour {pour.number}") for key, pour in self.pours.items()]
        cast(forms.ChoiceField, self.fields["pour"]).choices = [(NOWHERE, "no pour: it was taken away"), *choices]

    def place(self) -> dict[str, Any]:
        """What place_logger takes."""
        return {"pour": self.pours.get(self.cleaned_data["pour"]), "at": self.cleaned_data["at"]}
