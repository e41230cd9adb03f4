"""A whole job for the tests of the turnover, made by the actions of the stages before it."""

import datetime as dt
import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pvlib
from django.utils import timezone
from PIL import Image

from groutjobs.accounts.models import Role, User
from groutjobs.curing.actions import InspectionHead, import_readings, record_bolts, record_level, record_sounding
from groutjobs.curing.calc.inputs import level_points, tap_points
from groutjobs.curing.files import Reading
from groutjobs.equipment.drawing import drawing_of
from groutjobs.equipment.models import Site
from groutjobs.equipment.queries import machine_whole
from groutjobs.outages.actions import choose_hour
from groutjobs.planning.actions import approve_plan, make_plan
from groutjobs.pours.actions import add_entry, add_photo, open_pour
from groutjobs.pours.models import Pour
from groutjobs.pours.queries import log_of, pour_whole
from groutjobs.signing.actions import make_ready, sign_record
from groutjobs.signing.models import RecordMeaning
from groutjobs.weather.actions import add_forecast
from groutjobs.weather.years import read_year, series_on_days
from groutjobs.windows.actions import search_pour_hours
from tests.factories import make_data_sheet, make_grout_system, make_lot, make_machine, make_person, make_site

HOUR = dt.timedelta(hours=1)
PLAN: dict[str, Any] = {
    "clearance_mm": 75.0, "rise_mm": 15.0, "chamfer_mm": 25.0, "head_mm": 200.0, "waste_ratio": 0.15, "spare_kits": 1,
    "mixers": 2, "crew": 6, "place_min": 10.0, "turnaround_min": 4.0, "planned_grout_c": 22.0, "snug_kn": 60.0,
}  # fmt: skip


@dataclass
class Job:
    """One pour and the people round it. The crew lead recorded; the two engineers recorded nothing."""

    site: Site
    pour: Pour
    lead: User
    inspector: User
    engineer: User
    second: User
    administrator: User
    auditor: User
    stranger: User


def people_of(site: Site) -> dict[str, User]:
    roles = {
        "lead": Role.CREW_LEAD, "inspector": Role.INSPECTOR, "engineer": Role.ENGINEER, "second": Role.ENGINEER,
        "administrator": Role.ADMINISTRATOR, "auditor": Role.AUDITOR,
    }  # fmt: skip
    people = {
        name: make_person(site=site, roles=(role,), name=f"{name.title()} Testperson") for name, role in roles.items()
    }
    return people | {"stranger": make_person(site=make_site(), roles=(Role.ENGINEER,))}


def opened_job(**machine: Any) -> Job:
    """A job with an approved plan and an open pour log; nothing is entered yet."""
    site = make_site(**machine.pop("site", {}))
    people = people_of(site)
    grout = make_grout_system(site=site)
    sheet = make_data_sheet(grout_system=grout)
    lot = make_lot(grout_system=grout, lot_no="LOT-77")
    plan = make_plan(
        machine=make_machine(site=site, **machine), by=people["engineer"], data_sheet=sheet, lot=lot, **PLAN
    )
    plan = approve_plan(plan=plan, by=people["engineer"], note="agreed with the owner of the plant for this test")
    pour = open_pour(plan=plan, by=people["lead"])
    return Job(site=site, pour=pour, **people)


def finished_job(
    *, remark: str = "", photos: int = 1, weather: bool = False, due_in_days: int = 100, **machine: Any
) -> Job:
    """A job with nothing left to do but the turnover."""
    job = opened_job(**machine)
    began = timezone.now().replace(minute=0, second=0, microsecond=0) - 40 * 24 * HOUR
    if weather:
        choose_pour_hour(job, day=began.date())
    answer_points(job, at=began - 5 * HOUR, before_pour=True, remark=remark, photos=photos)
    pour_batches(job, at=began)
    answer_points(job, at=began + 30 * 24 * HOUR, before_pour=False)
    add_entry(pour=job.pour, kind="sample", body={"label": "C1", "batch": 1}, by=job.lead, happened_at=began + HOUR)
    add_entry(pour=job.pour, kind="declared_complete", body={}, by=job.lead, happened_at=began + 31 * 24 * HOUR)
    job.pour = pour_whole().get(pk=job.pour.pk)
    lock_record(job)
    add_cure(job, began)
    add_inspections(job, began + 35 * 24 * HOUR, due_in_days=due_in_days)
    return job


def lock_record(job: Job) -> None:
    """The crew lead signs the pour record, and an engineer who has nothing else to do with the job reviews it."""
    reviewer = make_person(site=job.site, roles=(Role.ENGINEER,), name="Reviewer Testperson")
    row = make_ready(pour=job.pour, by=job.lead)
    for meaning, signer in ((RecordMeaning.PERFORMED, job.lead), (RecordMeaning.REVIEWED, reviewer)):
        sign_record(pour=job.pour, meaning=meaning, by=signer, seen_sha256=row.content_sha256, proved_by="password")


def choose_pour_hour(job: Job, *, day: dt.date) -> None:
    """Search a week of the NREL typical year of Greensboro NC, shipped with pvlib, and choose its first hour."""
    content = (Path(pvlib.__path__[0]) / "data" / "723170TYA.CSV").read_bytes()
    series = series_on_days(read_year("tmy3", content), day, 7, 10, job.site.tz)
    forecast = add_forecast(
        site=job.site, source="tmy3", series=series, issued_at=series.at(series.past_hours), by=job.engineer
    )
    plan = job.pour.plan
    found = search_pour_hours(plan=plan, forecast=forecast, material_c=21.0, by=job.engineer)
    choose_hour(
        plan=plan, pour_hours=found, starts_at=forecast.plan_starts_at, by=job.engineer,
        reason="the crew is there on this day only",
    )  # fmt: skip


def answer_points(job: Job, *, at: dt.datetime, before_pour: bool, remark: str = "", photos: int = 0) -> None:
    for point in job.pour.plan.points.filter(before_pour=before_pour):
        body: dict[str, Any] = {"point_id": point.pk, "answer": "accepted", "witness_id": job.inspector.pk}
        body["measured"] = "38 mm, tape 12"
        if remark:
            body["remark"] = remark
        if "photo" in point.recorded.lower():
            shades = range(point.position * 10, point.position * 10 + photos)
            body["photos"] = [add_photo(pour=job.pour, content=picture(shade), by=job.lead).pk for shade in shades]
        at += 10 * dt.timedelta(minutes=1)
        add_entry(pour=job.pour, kind="point_answer", body=body, by=job.lead, happened_at=at)


def picture(shade: int) -> bytes:
    """A small photograph that no other shade is equal to."""
    out = io.BytesIO()
    Image.linear_gradient("L").resize((320, 240)).point(lambda level: (level + shade) % 256).save(out, "JPEG")
    return out.getvalue()


def pour_batches(job: Job, *, at: dt.datetime) -> None:
    """Batches one after the other until each compartment has its takeoff, then full."""
    minute, number = dt.timedelta(minutes=1), 0
    add_entry(
        pour=job.pour, kind="reading", body={"what": "plate", "temp_c": 21.0}, by=job.lead, happened_at=at - 10 * minute
    )
    for fill in log_of(pour_whole().get(pk=job.pour.pk)).fills:
        left_l = fill.takeoff_l
        while left_l > 0.5:
            number += 1
            volume_l = min(56.6, left_l)
            steps: list[tuple[str, dict[str, Any], int]] = [
                ("liquids_started", {"kits": 1, "lot": "LOT-77"}, 0),
                ("wetted_out", {"grout_c": 22.0}, 8),
                ("placed", {"compartment": fill.name, "volume_l": volume_l, "left": "none"}, 18),
            ]
            for kind, body, after in steps:
                moment = at + after * minute
                add_entry(pour=job.pour, kind=kind, body={"batch": number} | body, by=job.lead, happened_at=moment)
            left_l, at = left_l - volume_l, at + 12 * minute
        full = {"compartment": fill.name}
        add_entry(pour=job.pour, kind="compartment_full", body=full, by=job.lead, happened_at=at + 18 * minute)


def add_cure(job: Job, began: dt.datetime) -> None:
    """Two-hourly grout readings of 24 °C for three weeks."""
    placed_at = job.pour.placed_at
    assert placed_at is not None
    readings = [
        Reading(row=number + 1, probe="grout", read_at=placed_at + number * 2 * HOUR, temp_c=24.0, typed="24.0 °C")
        for number in range(12 * 24)
    ]
    import_readings(pour=job.pour, readings=readings, content=b"test", file_name="logger.csv", by=job.inspector)


def add_inspections(job: Job, at: dt.datetime, *, hollow: int = 0, due_in_days: int = 100) -> None:
    machine = machine_whole().get(pk=job.pour.plan.machine_id)
    drawing = drawing_of(machine)
    head = InspectionHead(
        made_at=at,
        instrument="level L-204",
        calibration_due_on=at.astimezone(job.pour.plan.machine.site.tz).date() + dt.timedelta(days=due_in_days),
        verdict="accepted",
    )
    points = [
        {"label": label, "x_mm": x, "y_mm": y, "reading_mm": 0.01 * number}
        for number, (label, x, y) in enumerate(level_points(drawing))
    ]
    level = {
        "points": points, "resolution_mm": 0.01, "occasion": "after_grout", "tilt_limit_mm_m": 0.17,
        "coplanarity_limit_mm": None, "limit_source": "PPH",
    }  # fmt: skip
    record_level(pour=job.pour, head=head, rows=level, by=job.inspector)
    taps = [tap | {"sound": "hollow" if n < hollow else "solid"} for n, tap in enumerate(tap_points(drawing, 150.0))]
    sounding = {
        "spacing_mm": 150.0, "taps": taps, "single_void_m2": 0.05, "total_ratio": 0.05, "limit_source": "GROUTJOBS",
        "least_depth_mm": 1.0, "greatest_depth_mm": 6.0,
    }  # fmt: skip
    record_sounding(pour=job.pour, head=head, rows=sounding, by=job.inspector)
    values = [{"label": bolt.label, "torque_nm": 210.0} for bolt in machine.foundation.bolts.all()]
    bolts = {
        "method": "torque", "values": values, "friction": "oiled", "target_mpa": 150.0,
        "target_source": "PRACTICE", "passes": 3, "in_order": True,
    }  # fmt: skip
    record_bolts(pour=job.pour, head=head, rows=bolts, by=job.inspector)
