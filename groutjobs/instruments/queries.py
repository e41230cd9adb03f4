"""Instruments of a site and how their calibrations stand on a day."""

import datetime as dt
from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet

from groutjobs.equipment.models import Site
from groutjobs.instruments.models import Calibration, Instrument

SOON = dt.timedelta(days=30)
"""How long before its due date a calibration is asked for. Common practice, no source."""


@dataclass(frozen=True)
class InstrumentRow:
    """One instrument with the calibration that counts on a day, in a word and the manner in which it is drawn."""

    instrument: Instrument
    calibration: Calibration | None
    word: str
    manner: str

    @property
    def is_due(self) -> bool:
        return self.manner in {"stop", "ask"}


def instruments() -> QuerySet[Instrument]:
    """Instruments with their calibrations: two queries for any number."""
    rows = Calibration.objects.select_related("replaced_by", "entered_by")
    return Instrument.objects.select_related("site").prefetch_related(Prefetch("calibrations", rows))


def instruments_in_use(site: Site) -> QuerySet[Instrument]:
    return instruments().filter(site=site, retired_at=None)


def standing_on(instrument: Instrument, day: dt.date) -> InstrumentRow:
    """How the calibration of an instrument from instruments() stands on a day; no query."""
    found = instrument.calibration_on(day)
    if instrument.retired_at is not None:
        return InstrumentRow(instrument, found, "retired", "waiting")
    if not instrument.needs_calibration:
        return InstrumentRow(instrument, found, "needs none", "good")
    if found is None:
        return InstrumentRow(instrument, None, "never calibrated", "stop")
    if found.due_on < day:
        return InstrumentRow(instrument, found, f"overdue by {_days(day - found.due_on)}", "stop")
    if found.due_on - day <= SOON:
        return InstrumentRow(instrument, found, f"due in {_days(found.due_on - day)}", "ask")
    return InstrumentRow(instrument, found, "calibrated", "good")


def past_due(instrument: Instrument, day: dt.date) -> str:
    """What was wrong with the calibration of an instrument from instruments() on a day; empty where it held."""
    if not instrument.needs_calibration:
        return ""
    found = instrument.calibration_on(day)
    if found is None:
        return "is not on record"
    return f"was due on {found.due_on}" if found.due_on < day else ""


def _days(span: dt.timedelta) -> str:
    return "1 day" if span.days == 1 else f"{span.days} days"


def instrument_rows(site: Site, day: dt.date) -> list[InstrumentRow]:
    """All instruments of a site: what is overdue first, then what falls due, then the rest, retired ones last."""
    order = {"stop": 0, "ask": 1, "good": 2, "waiting": 3}
    rows = [standing_on(row, day) for row in instruments().filter(site=site)]
    return sorted(rows, key=lambda row: order[row.manner])


def calibrations_due(site: Site, day: dt.date) -> list[InstrumentRow]:
    """Instruments in use whose calibration is past, never made, or due within SOON; two queries."""
    return [row for row in (standing_on(one, day) for one in instruments_in_use(site)) if row.is_due]
