"""Writes of the strength samples."""

import datetime as dt
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.actions import action, record
from groutjobs.curing.models import Verdict
from groutjobs.curing.queries import CLOCK_SLACK
from groutjobs.curing.sample_models import SampleResult
from groutjobs.curing.sample_queries import worked_out_sample
from groutjobs.errors import NotAllowed, Stale
from groutjobs.findings import Level
from groutjobs.pours.models import EntryKind, Pour, PourEntry


@action
def record_sample(
    *,
    pour: Pour,
    entry: PourEntry,
    specimen: str,
    tested_at: dt.datetime,
    lab: str,
    report_no: str,
    inputs: dict[str, Any],
    by: User,
    remarks: str = "",
    replaces: SampleResult | None = None,
) -> SampleResult:
    """Keep a laboratory result. `inputs` holds shape, side_mm, width_mm, height_mm, load_kn, reported_mpa, kept,
    required_mpa, required_source and as_entered."""
    if entry.pour_id != pour.pk or entry.kind != EntryKind.SAMPLE:
        raise NotAllowed("This is no sample of this pour; cast samples are entered in the pour log.")
    if not entry.happened_at < tested_at <= timezone.now() + CLOCK_SLACK:
        raise NotAllowed("The test lies before the sample was cast, or in the future; write when it was broken.")
    if replaces is not None and not remarks.strip():
        raise NotAllowed("This result replaces an earlier one: say why in the remarks.")
    if inputs["load_kn"] is None and inputs["reported_mpa"] is None:
        raise NotAllowed("Write the load or the strength that the laboratory reports; one of the two is needed.")
    whole, result = worked_out_sample(pour, inputs, tested_at)
    failed = any(item["level"] == Level.BLOCKER for item in result["findings"])
    row = SampleResult(
        pour=pour,
        entry=entry,
        label=entry.body["label"],
        specimen=specimen.strip(),
        tested_at=tested_at,
        kept=inputs["kept"],
        lab=lab.strip(),
        report_no=report_no.strip(),
        inputs=whole,
        result=result,
        strength_mpa=result["strength_mpa"],
        verdict=Verdict.REFUSED if failed else Verdict.ACCEPTED,
        remarks=remarks.strip(),
        replaces=replaces,
        entered_by=by,
    )
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError as error:
        raise Stale(
            f"A result of {row} is on record. Choose it under “replaces” and say why, or name another."
        ) from error
    record(row, by=by, kind="sample.tested", reason=row.remarks if replaces else "")
    return row
