"""What the report says of cure readings: spans that were set aside, and instruments whose calibration was past."""

import datetime as dt

import pytest

from groutjobs.curing.actions import add_reading
from groutjobs.curing.watching import set_span_aside, take_span_back
from groutjobs.instruments.actions import add_calibration, add_instrument
from groutjobs.turnover.report import html_of
from tests.turnover.finished import Job
from tests.turnover.signed import frozen
from tests.turnover.test_schema import faults, schema

pytestmark = pytest.mark.django_db
HOUR = dt.timedelta(hours=1)
WHY = "the probe hung in the air <b>after</b> a step was moved"


def set_aside(job: Job) -> None:
    """Two spans of the grout probe, the second taken back."""
    assert job.pour.placed_at is not None
    for day in (8, 9):
        from_at = job.pour.placed_at + day * 24 * HOUR
        span = set_span_aside(
            pour=job.pour, probe="grout", from_at=from_at, until_at=from_at + 5 * HOUR, why=WHY, by=job.inspector
        )
    take_span_back(span=span, why="it hung there on the day before only", by=job.second)


def test_spans_set_aside_are_frozen_with_probe_times_reason_and_person(job: Job) -> None:
    set_aside(job)
    report = frozen(job)
    rows = report.manifest["readings_aside"]
    assert [(row["probe"], row["why"], row["set_by"], row["back_by"]) for row in rows] == [
        ("grout", WHY, job.inspector.name, None), ("grout", WHY, job.inspector.name, job.second.name),
    ]  # fmt: skip
    assert (rows[0]["until_at"], rows[0]["reading_count"]) > (rows[0]["from_at"], 0)
    assert list(faults(report.manifest, schema())) == []
    parts = {person["name"]: person["parts"] for person in report.manifest["people"]}
    assert parts[job.inspector.name]["spans of readings set aside"] == 2


def test_the_cure_section_lists_them_as_text(job: Job) -> None:
    set_aside(job)
    html = html_of(frozen(job))
    section = html[html.index('id="cure"') :]
    assert "Spans of readings left out of the clock" in section
    assert (
        section.count("the probe hung in the air &lt;b&gt;after&lt;/b&gt; a step was moved") >= 2
    )  # and in the change trail
    assert f"taken back: it hung there on the day before only ({job.second.name}" in section


def test_a_record_from_before_fits_the_description_and_one_without_spans_shows_no_table(job: Job) -> None:
    report = frozen(job)
    older = report.manifest
    assert older.pop("readings_aside") == []
    assert list(faults(older, schema())) == []
    assert "left out of the clock" not in html_of(report)


def test_an_instrument_past_its_calibration_stands_beside_the_readings(job: Job) -> None:
    row = add_instrument(
        site=job.site, kind="thermometer", name="probe thermometer", serial="88", span="", by=job.inspector
    )
    assert job.pour.placed_at is not None
    day = job.pour.placed_at.date()
    add_calibration(
        instrument=row, calibrated_on=day - dt.timedelta(days=400), due_on=day - dt.timedelta(days=30),
        certificate_no="C-1", by_whom="a laboratory", by=job.inspector,
    )  # fmt: skip
    at = job.pour.placed_at + 30 * 24 * HOUR
    add_reading(pour=job.pour, probe="grout", temp_c=23.0, read_at=at, typed="23 °C", by=job.inspector, read_with=row)
    report = frozen(job)
    brought = [one for one in report.manifest["reading_imports"] if one.get("read_with")]
    assert [(one["read_with"], one["calibration_problem"]) for one in brought] == [
        (str(row), f"was due on {day - dt.timedelta(days=30)}")
    ]
    assert f"turnover.reading_calibration_{row.pk}" in {one["code"] for one in report.manifest["findings"]}
    assert f"read with {row}, whose calibration was due on" in html_of(report)
