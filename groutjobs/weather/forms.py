"""Forms of the weather: a CSV table, a typical year, hours by hand, corrections, and the choice of a service."""

import datetime as dt
import hashlib
import re
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile

from groutjobs.equipment.models import Site
from groutjobs.fields import (
    Column,
    DayField,
    PickField,
    QuantityField,
    SheetForm,
    TableField,
    TextField,
    WhenField,
    quoted,
    read_moment,
)
from groutjobs.weather.files import LARGEST_BYTES, series_of
from groutjobs.weather.models import Forecast, ForecastFeed, ForecastSource
from groutjobs.weather.series import HoursRefused, Series, first_moment, length_problem
from groutjobs.weather.services.offered import OFFERS
from groutjobs.weather.years import read_year, series_on_days

PAST_DAYS = 30
CONTACT = re.compile(r"[\w.+-]+@[\w-]+(\.[\w-]+)+|https://[\w-]+(\.[\w-]+)+(/[\w./~-]*)?", re.ASCII)
_QUANTITY_COLUMNS = {
    "temp_c": Column("temp_c", "air temperature", "air_c"),
    "dew_point_c": Column("dew_point_c", "dew point", "dew_point_c"),
    "relative_humidity": Column("relative_humidity", "relative humidity %", "air_humidity_ratio"),
    "wind_km_h": Column("wind_km_h", "wind (km/h; mph with in, °F, lb)", "wind_km_h"),
    "cloud_ratio": Column("cloud_ratio", "cloud %", "share_ratio"),
    "solar_w_m2": Column("solar_w_m2", "sunlight W/m²", "solar_w_m2", required=False),
    "rain_probability": Column("rain_probability", "chance of rain %", "share_ratio", required=False),
}
_TIME = Column("time", "time as 2026-04-30 07:00", max_length=40)
HAND_COLUMNS = (_TIME, *(column for name, column in _QUANTITY_COLUMNS.items() if name != "dew_point_c"))
CORRECTED_COLUMNS = (
    _TIME,
    *(Column(column.name, column.label, column.limit_key, required=False) for column in _QUANTITY_COLUMNS.values()),
)


class HoursFileField(forms.FileField):
    """A file of hours, taken as bytes."""

    def clean(self, data: Any, initial: Any = None) -> bytes:
        if not isinstance(data, UploadedFile):
            raise ValidationError(f"{self.label} is not chosen; choose a file from this device.", code="required")
        if data.size is None or data.size > LARGEST_BYTES:
            size, most = (data.size or 0) / 1024 / 1024, LARGEST_BYTES // 1024 // 1024
            raise ValidationError(
                f"{self.label} {quoted(data.name or '')} has {size:.1f} MB; up to {most} MB are taken [GROUTJOBS].",
                code="large",
            )
        return bytes(data.read())


class _HoursForm(SheetForm):
    """What forms of hours share: the series they end in, and errors put where they belong."""

    hours_from = ""

    def __init__(self, *args: Any, zone: str = "UTC", **kwargs: Any) -> None:
        self.site_zone = ZoneInfo(zone)
        self.series: Series | None = None
        super().__init__(*args, zone=zone, **kwargs)

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if not self.errors:
            try:
                self.series = self.read(given)
            except HoursRefused as error:
                self.add_error(self.hours_from, error.sentences)
                self.ask(error)
        return given

    def read(self, given: dict[str, Any]) -> Series:
        raise NotImplementedError

    def ask(self, error: HoursRefused) -> None:
        """Show the tick that confirms unusual values, where they are all that is wrong."""

    def hours(self) -> Series:
        """The hours of a valid form."""
        if self.series is None:
            raise HoursRefused(["The form was not valid."])
        return self.series


class CsvForm(_HoursForm):
    hours_from = "file"

    file = HoursFileField(label="CSV table of hours", help_text="Choose it again after each refusal.")
    source_name = TextField(
        label="Source", max_length=120, help_text="The weather service or station that the hours come from."
    )
    issued_at = WhenField(label="Issued", help_text="Hours before it count as past: they warm or cool the foundation.")
    note = TextField(label="Note", max_length=500, long=True, required=False)
    values_are_right = forms.BooleanField(required=False, label="The values are right", widget=forms.HiddenInput())

    def read(self, given: dict[str, Any]) -> Series:
        series = series_of(given["file"], self.site_zone, confirmed=given["values_are_right"])
        return series.with_past(given["issued_at"])

    def ask(self, error: HoursRefused) -> None:
        if error.only_unusual:
            self.fields["values_are_right"].widget = forms.CheckboxInput()

    def columns(self) -> dict[str, Any]:
        """What add_forecast takes."""
        given = self.cleaned_data
        return {
            "source": ForecastSource.CSV,
            "series": self.hours(),
            "source_name": given["source_name"],
            "issued_at": given["issued_at"],
            "note": given["note"],
            "file_sha256": hashlib.sha256(given["file"]).hexdigest(),
        }


class YearForm(_HoursForm):
    hours_from = "file"

    kind = PickField(
        label="Format",
        choices=[(ForecastSource.TMY3, "TMY3 (NREL)"), (ForecastSource.EPW, "EPW")],
        help_text="TMY3 and EPW are open formats for a typical year of hours.",
    )
    file = HoursFileField(label="File of the typical year", help_text="Choose it again after each refusal.")
    first_day = DayField(label="First day to plan for", help_text="The same days of the typical year are read for it.")
    days = QuantityField("plan_days", label="Days")
    note = TextField(label="Note", max_length=500, long=True, required=False)

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        self.site = site
        self.where = ""
        super().__init__(*args, zone=site.zone, **kwargs)
        self.initial["days"] = ["14", "", False]

    def read(self, given: dict[str, Any]) -> Series:
        year = read_year(given["kind"], given["file"])
        away_km = year.distance_km(self.site.latitude_deg, self.site.longitude_deg)
        higher_m = year.elevation_m - self.site.elevation_m
        self.where = f"The station is {away_km:.0f} km from the site and stands {abs(higher_m):.0f} m " + (
            "higher." if higher_m > 0 else "lower."
        )
        return series_on_days(year, given["first_day"], int(given["days"].si), PAST_DAYS, self.site_zone)

    def columns(self, at: dt.datetime) -> dict[str, Any]:
        """What add_forecast takes; a typical year is as old as its reading."""
        given = self.cleaned_data
        series = self.hours()
        return {
            "source": ForecastSource(given["kind"]),
            "series": series,
            "issued_at": min(at, series.at(series.past_hours)),
            "note": f"{self.where}\n{given['note']}".strip(),
            "file_sha256": hashlib.sha256(given["file"]).hexdigest(),
        }


class HandForm(_HoursForm):
    hours_from = "table"

    source_name = TextField(label="Source", max_length=120, help_text="Where you read the hours, or who measured them.")
    issued_at = WhenField(label="Issued", help_text="Hours before it count as past: they warm or cool the foundation.")
    table = TableField(HAND_COLUMNS, label="Hours", min_rows=2)
    note = TextField(label="Note", max_length=500, long=True, required=False)

    def read(self, given: dict[str, Any]) -> Series:
        rows = given["table"]
        if problem := length_problem(len(rows)):
            raise HoursRefused([problem])
        starts_at = first_moment(moments_of(rows, self.site_zone))
        hours: dict[str, list[float]] = {}
        for column in HAND_COLUMNS[1:]:
            values = [row[column.name] for row in rows]
            empty = values.count(None)
            if 0 < empty < len(values):
                raise HoursRefused(
                    [f"{column.label} is empty in {empty} of {len(values)} lines; give it for all hours or for none."]
                )
            if not empty:
                hours[column.name] = values
        return Series(starts_at, hours).with_past(given["issued_at"])

    def columns(self) -> dict[str, Any]:
        """What add_forecast takes."""
        given = self.cleaned_data
        kept = {name: given[name] for name in ("source_name", "issued_at", "note")}
        return {"source": ForecastSource.HAND, "series": self.hours(), **kept}


class CorrectionForm(SheetForm):
    table = TableField(
        CORRECTED_COLUMNS,
        label="Hours to correct",
        min_rows=1,
        help_text="Only the hours and cells that change; an empty cell keeps what the forecast says.",
    )
    reason = TextField(label="Reason", max_length=300, help_text="What is known better than the forecast.")

    def __init__(self, *args: Any, forecast: Forecast, **kwargs: Any) -> None:
        self.forecast = forecast
        super().__init__(*args, zone=forecast.zone, **kwargs)

    def changes(self) -> dict[dt.datetime, dict[str, float]]:
        """Moment → values, as correct_forecast takes them."""
        rows = self.cleaned_data["table"]
        times = [moment for _, moment in moments_of(rows, ZoneInfo(self.forecast.zone))]
        return {
            time.astimezone(dt.UTC): {name: row[name] for name in _QUANTITY_COLUMNS if row[name] is not None}
            for time, row in zip(times, rows, strict=True)
        }

    def clean_table(self) -> list[dict[str, Any]]:
        rows: list[dict[str, Any]] = self.cleaned_data["table"]
        try:
            moments = moments_of(rows, ZoneInfo(self.forecast.zone))
        except HoursRefused as error:
            raise ValidationError(error.sentences) from error
        known = {self.forecast.at(index) for index in range(self.forecast.hour_count)}
        problems = [f"{where} is no hour of this forecast." for where, moment in moments if moment not in known]
        for row in rows:
            if all(row[name] is None for name in _QUANTITY_COLUMNS):
                problems.append(
                    f"The line of {quoted(row['time'])} corrects nothing; give a value or leave the line out."
                )
            if row["rain_probability"] is not None and "rain_probability" not in self.forecast.hours:
                problems.append("This forecast tells no chance of rain, so none can be corrected.")
        if problems:
            raise ValidationError(problems[:20])
        return rows


class ServiceForm(SheetForm):
    """The service that brings the forecast of a site, and the contact that it is given."""

    service = PickField(label="Service", choices=[(offer.key, offer.title) for offer in OFFERS.values()])
    contact = TextField(
        label="Contact",
        max_length=120,
        help_text="E-mail or https address of the plant. The services want to know whom to write to, so it is sent "
        "with each request; do not give a person's own address.",
    )
    fetching = PickField(label="Fetching", choices=[("on", "On, every three hours"), ("off", "Off")])

    def __init__(self, *args: Any, feed: ForecastFeed | None, usual_contact: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.update({"service": "us_nws", "contact": usual_contact, "fetching": "on"})
        if feed:
            self.show_row(feed, "service", "contact")
            self.initial["fetching"] = "on" if feed.is_on else "off"

    def columns(self) -> dict[str, Any]:
        """What choose_service takes."""
        given = self.cleaned_data
        return {"service": given["service"], "contact": given["contact"], "is_on": given["fetching"] == "on"}

    def clean_contact(self) -> str:
        contact: str = self.cleaned_data["contact"]
        if not CONTACT.fullmatch(contact):
            raise ValidationError(
                f"Contact {quoted(contact)} is neither an e-mail address nor an https address, in plain letters; "
                "write it as shop@plant.example [RFC5321]."
            )
        return contact


def moments_of(rows: list[dict[str, Any]], zone: ZoneInfo) -> list[tuple[str, dt.datetime]]:
    """The times of typed rows with the words that find them; refuses what is no time."""
    problems, moments = [], []
    for number, row in enumerate(rows, 1):
        where = f"Row {number}, time {quoted(row['time'])}"
        try:
            moments.append((where, read_moment(row["time"], zone)))
        except ValueError as error:
            problems.append(f"{where}: {error} [ISO8601].")
    if problems:
        raise HoursRefused(problems)
    return moments
