"""Forms of sites, machines and foundations. Those of plates stand in plate_forms.py."""

import datetime as dt
import zoneinfo
from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groutjobs.equipment import calc, tables
from groutjobs.equipment.models import Exposure, Foundation, LevelClass, Machine, MachineKind, Site
from groutjobs.equipment.seen import SeenForm
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.fields import DayField, PickField, QuantityField, SheetForm, TableField, TextField, quoted

DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
DECIMALS_OF_A_MM = 2
WHY = "Goes into the record of changes. Say what made it necessary when a plan already rests on these data."


class ZoneField(TextField):
    """A name of the time zone database."""

    def __init__(self, *, label: str) -> None:
        widget = forms.TextInput(attrs={"list": "zones", "autocomplete": "off"})
        super().__init__(label=label, max_length=40, widget=widget)

    def clean(self, value: Any) -> str:
        text = super().clean(value)
        if text not in zoneinfo.available_timezones():
            raise ValidationError(
                f"{self.label} {quoted(text)} is not in the time zone database; write for example America/New_York or "
                "Europe/Oslo [IANATZ]."
            )
        return text


class ClockField(TextField):
    """A time of day."""

    def __init__(self, *, label: str) -> None:
        super().__init__(label=label, max_length=8, widget=forms.TextInput(attrs={"type": "time"}))

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        try:
            clock = dt.time.fromisoformat(text)
        except ValueError as error:
            raise ValidationError(
                f"{self.label} {quoted(text)} is not a time of day; write 00:00 to 23:59 [ISO8601]."
            ) from error
        if clock.tzinfo is not None:
            raise ValidationError(f"{self.label} {quoted(text)} has an offset; write site time alone [ISO8601].")
        return clock


class DaysField(forms.MultipleChoiceField):
    """Days of the week, 0 is Monday."""

    def __init__(self, *, label: str) -> None:
        super().__init__(
            label=label,
            choices=[(str(number), name) for number, name in enumerate(DAYS)],
            widget=forms.CheckboxSelectMultiple,
        )

    def clean(self, value: Any) -> list[int]:
        texts = [str(item) for item in value or []]
        if not texts:
            raise ValidationError(f"{self.label}: no day is ticked; tick one or more, Monday to Sunday [GROUTJOBS].")
        for text in texts:
            if not self.valid_value(text):
                raise ValidationError(f"{self.label}: {quoted(text)} is none of Monday to Sunday [GROUTJOBS].")
        return sorted({int(text) for text in texts})


class SiteForm(SeenForm):
    name = TextField(label="Name of the site", max_length=80)
    owner = TextField(label="Owner of the plant", max_length=80)
    zone = ZoneField(label="Time zone")
    latitude_deg = QuantityField("latitude_deg", label="Latitude", help_text="North is positive.")
    longitude_deg = QuantityField("longitude_deg", label="Longitude", help_text="East is positive, west negative.")
    elevation_m = QuantityField("site_elevation_m", label="Elevation above sea level")
    annual_mean_c = QuantityField(
        "annual_mean_c",
        label="Mean air temperature of the year",
        required=False,
        help_text="With the next number it gives the temperature deep in a foundation.",
    )
    annual_swing_c = QuantityField(
        "annual_swing_c",
        label="Half the difference between the warmest and the coldest month",
        required=False,
    )
    emergency_contact = TextField(
        label="Emergency contact", max_length=200, help_text="Shown on every pour page of this site."
    )
    environmental_contact = TextField(
        label="Environmental contact",
        max_length=200,
        help_text="Whom to ask before wash water or leftovers go anywhere.",
    )
    shift_starts = ClockField(label="Shift starts")
    shift_ends = ClockField(label="Shift ends")
    working_days = DaysField(label="Working days")

    def __init__(self, *args: Any, row: Site | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.row = row
        self.zones = sorted(zoneinfo.available_timezones())
        if row is not None:
            self.show_row(row)
            for name in ("shift_starts", "shift_ends"):
                self.initial[name] = f"{getattr(row, name):%H:%M}"
            self.watch(row)

    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"])
        same = Site.objects.filter(name__iexact=name)
        if (same.exclude(pk=self.row.pk) if self.row else same).exists():
            raise ValidationError(f"Name of the site {quoted(name)} is taken; names are used once [GROUTJOBS].")
        return name

    def clean(self) -> dict[str, Any]:
        super().clean()
        starts, ends = self.cleaned_data.get("shift_starts"), self.cleaned_data.get("shift_ends")
        if starts is not None and starts == ends:
            self.add_error(
                "shift_ends", f"Shift ends {ends:%H:%M} is the time it starts; a shift has a length [GROUTJOBS]."
            )
        return self.cleaned_data


class MachineForm(SeenForm):
    tag = TextField(label="Tag", max_length=30, help_text="As on the machine, such as P-101A.")
    service = TextField(label="Service", max_length=120, help_text="What it does in the plant.")
    kind = PickField(label="Kind", choices=[("", "–"), *MachineKind.choices])
    driver_kw = QuantityField("driver_kw", label="Driver power")
    speed_rpm = QuantityField("speed_rpm", label="Speed")
    mass_kg = QuantityField("machine_kg", label="Mass of machine, driver and plate")
    level_class = PickField(
        label="Level class",
        choices=[("", "–"), *LevelClass.choices],
        help_text="Sets the limits for levelling; they can be changed for each survey.",
    )
    reason = TextField(label="Reason for the change", max_length=200, required=False, help_text=WHY)

    def __init__(self, *args: Any, site: Site, row: Machine | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site, self.row = site, row
        if row is None:
            del self.fields["reason"]
        else:
            self.show_row(row)
            self.watch(row)

    def clean_tag(self) -> str:
        tag = str(self.cleaned_data["tag"])
        same = Machine.objects.filter(site=self.site, tag__iexact=tag)
        if (same.exclude(pk=self.row.pk) if self.row else same).exists():
            raise ValidationError(
                f"Tag {quoted(tag)} is already used at {self.site.name}; a tag is used once [GROUTJOBS]."
            )
        return tag


class FoundationForm(SeenForm):
    length_mm = QuantityField("block_mm", label="Length of the block", help_text="Along x.")
    width_mm = QuantityField("block_mm", label="Width of the block", help_text="Along y.")
    height_mm = QuantityField(
        "block_mm", label="Height of the block", help_text="For its mass, so with its part in the ground."
    )
    concrete_mpa = QuantityField("concrete_mpa", label="Specified strength of the concrete")
    tested_mpa = QuantityField("concrete_mpa", label="Tested strength of the concrete", required=False)
    placed_on = DayField(label="Concrete placed on")
    exposure = PickField(
        label="Exposure", choices=[("", "–"), *Exposure.choices], help_text="Sun, wind and rain on the pour."
    )
    removed_mm = QuantityField("removed_mm", label="Depth of concrete removed", required=False)
    roughness_mm = QuantityField(
        "roughness_mm", label="Profile of the chipped surface", help_text="From peak to valley; 0 before chipping."
    )
    survey_points = TableField(
        tables.SURVEY_POINTS,
        label="Surveyed points of the prepared concrete",
        help_text="On a grid over the whole block, closer than 0.4 m (16 in) if you can: the volume is as good as the "
        "survey. Elevations above the site's datum.",
    )
    bolts = tables.ShortTableField(tables.BOLTS, label="Anchor bolts")
    reason = TextField(label="Reason for the change", max_length=200, required=False, help_text=WHY)

    def __init__(self, *args: Any, row: Foundation | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["bolts"].help_text = (
            "Threads of the table: M24, 1-8 UNC, 1 1/8-8 UN and so on. Free length is what can stretch, from nut to "
            f"where the concrete holds the bolt. Grades known by name: {', '.join(calc.grade_names())}; others may be "
            "written."
        )
        if row is None:
            del self.fields["reason"]
            self.watch(None)
            return
        self.show_row(row, *(name for name in self.fields if name not in {"survey_points", "bolts", "reason"}))
        show_table(self, "survey_points", tables.SURVEY_POINTS, row.survey_points.all())
        show_table(self, "bolts", tables.BOLTS, row.bolts.all())
        self.watch(row, row.survey_points.all(), row.bolts.all())

    def clean(self) -> dict[str, Any]:
        super().clean()
        given = self.cleaned_data
        points, bolts = (rounded(given.get(name) or []) for name in ("survey_points", "bolts"))
        given["survey_points"], given["bolts"] = points, bolts
        if "length_mm" in given and "width_mm" in given:
            sides = {"x_mm": given["length_mm"].si, "y_mm": given["width_mm"].si}
            self._check_places("survey_points", "surveyed point", points, sides)
            self._check_places("bolts", "bolt", bolts, sides)
        refuse_repeated(self, "bolts", bolts, "label")
        self._read_bolts(bolts)
        return given

    def _check_places(self, name: str, word: str, rows: list[dict[str, Any]], sides: Mapping[str, float]) -> None:
        places = [
            (f"{word} {row.get('label', number)}", row["x_mm"], row["y_mm"]) for number, row in enumerate(rows, 1)
        ]
        try:
            calc.require_on_block(sides["x_mm"], sides["y_mm"], places)
        except OutOfRange as error:
            self.add_error(name, f"{error}; the block ends there.")
        else:
            refuse_cramped(self, name, rows, sides)

    def _read_bolts(self, rows: list[dict[str, Any]]) -> None:
        for row in rows:
            try:
                row["thread"], row["grade"] = calc.read_thread(row["thread"]), calc.read_grade(row["grade"])
            except Unusable as error:
                self.add_error("bolts", f"Bolt {row['label']}, {error}.")


def show_table(form: SheetForm, name: str, columns: Sequence[Any], rows: Sequence[Any] | Any) -> None:
    """Fill a table of the form with stored rows."""
    field: Any = form.fields[name]
    shown = [{column.name: getattr(row, column.name) for column in columns} for row in rows]
    form.initial[name] = field.initial_for(shown, form.system)


def rounded(rows: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Rows with lengths to a hundredth of a millimetre, so that a table shown in inches comes back as it was."""
    return [
        {name: round(value, DECIMALS_OF_A_MM) if isinstance(value, float) else value for name, value in row.items()}
        for row in rows
    ]


def refuse_repeated(form: SheetForm, name: str, rows: Sequence[Mapping[str, Any]], column: str) -> None:
    """Put an error on the table for each label that comes twice."""
    for label in tables.repeated(rows, column):
        form.add_error(name, f"{form.fields[name].label}: {quoted(label)} stands in two rows; use it once [GROUTJOBS].")


def refuse_cramped(form: SheetForm, name: str, rows: Sequence[Mapping[str, Any]], sides: Mapping[str, float]) -> None:
    """Ask about places that all lie in a small part of the block: inches taken for millimetres look like that."""
    if len(rows) < 3 or form.data.get(f"{form.add_prefix(name)}_sure"):
        return
    shares = [tables.extent_mm(rows, axis) / size for axis, size in sides.items()]
    if max(shares) < 0.25:
        form.add_error(
            name,
            f"{form.fields[name].label}: all places lie within {max(shares):.0%} of the block; a quarter or more is "
            "usual [GROUTJOBS]. Check the units of the table, or tick “It is right” and save again.",
        )
