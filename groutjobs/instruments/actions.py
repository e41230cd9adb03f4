"""Writes of the instruments: adding, calibrating, retiring."""

import datetime as dt

from django.db import IntegrityError, transaction
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.actions import action, record, snapshot
from groutjobs.equipment.models import Site
from groutjobs.errors import NotAllowed
from groutjobs.instruments.models import Calibration, Instrument
from groutjobs.reasons import REASON_LEAST, is_reason, require_reason


@action
def add_instrument(*, site: Site, kind: str, name: str, serial: str, span: str, by: User) -> Instrument:
    """Put an instrument on the list of a site; the same kind and number twice is refused."""
    row = Instrument(site=site, kind=kind, name=name.strip(), serial=serial.strip(), span=span.strip(), added_by=by)
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError as error:
        raise NotAllowed(
            f"A {row.get_kind_display().lower()} with the number {row.serial} is on the list already; "
            "enter its calibration there."
        ) from error
    record(row, by=by, kind="instrument.added")
    return row


@action
def add_calibration(
    *,
    instrument: Instrument,
    calibrated_on: dt.date,
    due_on: dt.date,
    certificate_no: str,
    by_whom: str,
    by: User,
    remark: str = "",
    replaces: Calibration | None = None,
) -> Calibration:
    """Keep one calibration as its certificate has it; a wrong row is replaced, with a remark that says why."""
    if instrument.retired_at is not None:
        raise NotAllowed(f"{instrument} is retired; put it on the list again under a new number to use it.")
    if calibrated_on > timezone.now().astimezone(instrument.site.tz).date():
        raise NotAllowed(f"Calibrated on {calibrated_on} lies in the future; write the day on the certificate.")
    if due_on <= calibrated_on:
        raise NotAllowed(f"Due on {due_on} is not after the calibration on {calibrated_on} [GROUTJOBS].")
    if replaces is not None and not is_reason(remark):
        raise NotAllowed(f"Say in at least {REASON_LEAST} characters what was wrong with the row that is replaced.")
    row = Calibration.objects.create(
        instrument=instrument,
        calibrated_on=calibrated_on,
        due_on=due_on,
        certificate_no=certificate_no.strip(),
        by_whom=by_whom.strip(),
        remark=remark.strip(),
        replaces=replaces,
        entered_by=by,
    )
    record(row, by=by, kind="calibration.added", reason=row.remark if replaces else "")
    return row


@action
def retire_instrument(*, instrument: Instrument, reason: str, by: User) -> Instrument:
    """Take an instrument out of use. Sheets that name it keep it."""
    if instrument.retired_at is not None:
        raise NotAllowed(f"{instrument} is retired already; nothing was changed.")
    require_reason(reason, "it stays on record")
    before = snapshot(instrument)
    instrument.retired_by, instrument.retired_at, instrument.retired_because = by, timezone.now(), reason.strip()
    instrument.save(update_fields=["retired_by", "retired_at", "retired_because"])
    record(instrument, by=by, kind="instrument.retired", before=before, reason=reason.strip())
    return instrument
