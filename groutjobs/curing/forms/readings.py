"""Forms of readings: one by hand, a file of a logger, and setting readings aside."""

import datetime as dt
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile

from groutjobs import units
from groutjobs.curing.files import (
    LARGEST_BYTES,
    LIMIT_OF,
    Clock,
    Layout,
    LoggerClock,
    Reading,
    ReadingsRefused,
    clock_choices,
    readings_of,
)
from groutjobs.curing.logger_models import Logger, LoggerStand
from groutjobs.curing.models import Probe
from groutjobs.curing.queries import reading_span
from groutjobs.fields import PickField, QuantityField, SheetForm, TextField, WhenField, quoted
from groutjobs.instruments.models import Instrument, InstrumentKind
from groutjobs.instruments.queries import instruments_in_use, standing_on
from groutjobs.limits import LIMITS
from groutjobs.pours.models import Pour

MOST_PASTED = 2_000_000
REMEMBERED = "remembered"
READING_KINDS = (InstrumentKind.THERMOMETER, InstrumentKind.LOGGER)


class ReadWithForm(SheetForm):
    """A form that asks with which instrument of the site was read; where the site has none, it does not ask."""

    read_with = PickField(label="Read with", required=False)

    def _offer_instruments(self, pour: Pour, now: dt.datetime, unnamed: str) -> None:
        """Those in use, thermometers and loggers first, with how each is calibrated today."""
        site = pour.plan.machine.site
        rows = sorted(instruments_in_use(site), key=lambda row: row.kind not in READING_KINDS)
        self.instruments: dict[str, Instrument] = {str(row.pk): row for row in rows}
        if not rows:
            del self.fields["read_with"]
            return
        day = now.astimezone(site.tz).date()
        named = [(key, f"{row}, {standing_on(row, day).word}") for key, row in self.instruments.items()]
        cast(PickField, self.fields["read_with"]).choices = [("", unnamed), *named]

    def _read_with(self) -> Instrument | None:
        return self.instruments.get(self.cleaned_data.get("read_with") or "")


class ReadingForm(ReadWithForm):
    """One temperature read by hand."""

    probe = PickField(label="Probe", choices=Probe.choices, initial=Probe.GROUT)
    temp_c = QuantityField("grout_c", label="Temperature")
    read_at = WhenField(label="Read at")

    def __init__(self, *args: Any, pour: Pour, now: dt.datetime, **kwargs: Any) -> None:
        self.pour, self.now = pour, now
        super().__init__(*args, **kwargs)
        self._offer_instruments(pour, now, "not said")
        self.order_fields(["probe", "temp_c", "read_at", "read_with"])
        self.initial.setdefault("read_at", now)
        probe = self.data.get("probe", "")
        if probe in Probe.values:
            cast(QuantityField, self.fields["temp_c"]).limit = LIMITS[LIMIT_OF[Probe(probe)]]

    def clean_read_at(self) -> dt.datetime:
        read_at: dt.datetime = self.cleaned_data["read_at"]
        earliest, latest = reading_span(self.pour, self.now)
        if not earliest <= read_at <= latest:
            zone = self.pour.plan.machine.site.tz
            span = " to ".join(f"{at.astimezone(zone):%Y-%m-%d %H:%M}" for at in (earliest, latest))
            raise ValidationError(
                f"Read at {read_at.astimezone(zone):%Y-%m-%d %H:%M} is outside {span}, the times taken for this pour "
                "[GROUTJOBS].",
                code="span",
            )
        return read_at

    def columns(self) -> dict[str, Any]:
        """What add_reading takes."""
        given = self.cleaned_data
        temp = given["temp_c"]
        typed = f"{temp.text} {units.unit_for('c', temp.unit).label}"
        return {
            "probe": self.cleaned_data["probe"],
            "temp_c": temp.si,
            "typed": typed,
            "read_at": self.cleaned_data["read_at"],
            "read_with": self._read_with(),
        }


class ReadingsFileField(forms.FileField):
    """A file of readings, taken as its name and bytes; None where none was chosen."""

    def clean(self, data: Any, initial: Any = None) -> tuple[str, bytes] | None:
        if not isinstance(data, UploadedFile):
            return None
        name = data.name or ""
        if data.size is None or data.size > LARGEST_BYTES:
            size, most = (data.size or 0) / 1024 / 1024, LARGEST_BYTES // 1024 // 1024
            raise ValidationError(
                f"{self.label} {quoted(name)} has {size:.1f} MB; up to {most} MB are taken [GROUTJOBS].", code="large"
            )
        return name, bytes(data.read())


class ImportForm(ReadWithForm):
    """A file of a logger, or its lines pasted."""

    logger = PickField(label="Logger", required=False)
    file = ReadingsFileField(
        label="File of the logger", required=False, help_text="Choose it again after each refusal: browsers forget it."
    )
    pasted = TextField(label="Or its lines, header first", max_length=MOST_PASTED, long=True, required=False)
    clock = PickField(label="The logger's clock ran")
    unusual = forms.BooleanField(required=False, label="Unusual temperatures in it are right")

    def __init__(self, *args: Any, pour: Pour, now: dt.datetime, **kwargs: Any) -> None:
        self.pour, self.now = pour, now
        self.readings: list[Reading] = []
        super().__init__(*args, **kwargs)
        year = (pour.poured_at or now).year
        site = pour.plan.machine.site
        self.loggers = {str(row.pk): row for row in Logger.objects.filter(site=site, retired_at=None)}
        own = [("", "none of these: the file has the header described below")]
        cast(PickField, self.fields["logger"]).choices = own + [(key, str(row)) for key, row in self.loggers.items()]
        remembered = [(REMEMBERED, "as is remembered of the logger chosen above")] if self.loggers else []
        cast(PickField, self.fields["clock"]).choices = [*clock_choices(site.tz, year), *remembered]
        standing = LoggerStand.objects.filter(pour=pour, until_at=None).values_list("logger_id", flat=True)[:1]
        self._offer_instruments(pour, now, "not said, or the logger chosen above")
        self.order_fields(["logger", "read_with"])
        for logger_id in standing:
            self.initial.update({"logger": str(logger_id), "clock": REMEMBERED})

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if self.errors:
            return given
        if bool(given["file"]) == bool(given["pasted"].strip()):
            self.add_error(None, "Give either a file or its lines; one of the two is read [GROUTJOBS].")
            return given
        place = "file" if given["file"] else "pasted"
        given["name"], given["content"] = given["file"] or ("pasted.csv", given["pasted"].encode())
        earliest, latest = reading_span(self.pour, self.now)
        logger = self.loggers.get(given["logger"])
        if logger is None and given["clock"] == REMEMBERED:
            self.add_error("clock", "Choose the logger, or say how its clock ran [GROUTJOBS].")
            return given
        try:
            self.readings = readings_of(
                given["content"],
                self._clock(logger, given["clock"]),
                earliest=earliest,
                latest=latest,
                confirmed=given["unusual"],
                layout=None if logger is None else layout_of(logger),
            )
        except ReadingsRefused as error:
            self.add_error(place, error.sentences)
        return given

    def _clock(self, logger: Logger | None, manner: str) -> Clock:
        zone = self.pour.plan.machine.site.tz
        if logger is None:
            return Clock(zone, manner)
        return LoggerClock(zone, logger.clock if manner == REMEMBERED else manner, logger.time_format)

    def columns(self) -> dict[str, Any]:
        """What import_readings takes."""
        given = self.cleaned_data
        return {
            "readings": self.readings,
            "content": given["content"],
            "file_name": given["name"],
            "logger": self.loggers.get(given["logger"]),
            "read_with": self._read_with(),
        }


def layout_of(logger: Logger) -> Layout:
    """How the files of a logger are laid out, as is remembered of it."""
    rows = tuple((row["name"], row["probe"], row["unit"]) for row in logger.columns)
    return Layout(logger.time_column, logger.date_column, rows)


class SetAsideForm(SheetForm):
    """The reason for which readings no longer count."""

    why = TextField(label="Why these readings are set aside", max_length=300)
