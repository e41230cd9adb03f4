"""Readings and inspections of the demonstration, and the turnover of two machines."""

import datetime as dt
import math
from typing import Any

from groutjobs.curing import calc
from groutjobs.curing.actions import (
    InspectionHead,
    import_readings,
    judge_inspection,
    record_bolts,
    record_level,
    record_sounding,
)
from groutjobs.curing.files import ISO_TIMES, Clock, readings_of
from groutjobs.curing.logger_models import CHANNEL_PROBES, Logger
from groutjobs.curing.loggers import keep_logger, place_logger
from groutjobs.curing.models import Course, CureInspection, Verdict
from groutjobs.curing.outlooks import work_out_outlook
from groutjobs.curing.queries import reading_span
from groutjobs.demo.pouring import Crew
from groutjobs.equipment.geometry import drawing_of
from groutjobs.equipment.tolerances import tolerance_of
from groutjobs.instruments.queries import instruments

LEVEL_NO, WRENCH_NO, HAMMER_NO = "0417", "2291", "H-3"


def grout_temperature_c(hours: float) -> float:
    """An invented cure: the mix warms by some 9 K within six hours and falls back to the hall."""
    return 21.0 + 1.4 * math.exp(-hours / 1.5) + 9.0 * (hours / 5.5) * math.exp(1 - hours / 5.5)


def log_cure(crew: Crew, until: dt.datetime, days: int) -> None:
    """A logger's file: grout, plate, concrete and the air of the hall every half hour for some days, or up to now."""
    pour = crew.pour
    assert pour.poured_at is not None  # noqa: S101
    hours = min((until - pour.poured_at).total_seconds() / 3600, days * 24.0)
    _bring(crew, until, _lines(crew, 0.0, hours))


def watch_cure(crew: Crew, until: dt.datetime) -> None:
    """A logger that is remembered, two files of it worked out one after the other, and probes that were exchanged."""
    pour, by, tag = crew.pour, crew.person("engineer"), crew.pour.plan.machine.tag
    assert pour.poured_at is not None  # noqa: S101
    name = "Logger 3" if tag == "P-102A" else f"Logger of {tag}"
    logger = keep_logger(
        site=crew.works.site, by=by, name=name, serial="L3-0098 (invented)", time_column="time", date_column="",
        time_format=ISO_TIMES, clock="+00:00",
        columns=[{"name": f"{probe}_c", "probe": probe, "unit": "c"} for probe in CHANNEL_PROBES],
    )  # fmt: skip
    place_logger(logger=logger, pour=pour, at=pour.poured_at, by=by)
    hours = (until - pour.poured_at).total_seconds() / 3600
    for first_h, last_h in ((0.0, min(10.0, hours)), (10.0, hours)):
        if last_h - first_h >= 1.0:
            _bring(crew, until, _lines(crew, first_h, last_h, exchanged_h=(12.0, 14.0)), logger)
            work_out_outlook(pour.pk)


def _lines(crew: Crew, first_h: float, last_h: float, exchanged_h: tuple[float, float] = (0.0, 0.0)) -> list[str]:
    pour = crew.pour
    assert pour.poured_at is not None  # noqa: S101
    starts_at = pour.poured_at.replace(second=0, microsecond=0)
    lines = ["time,grout_c,plate_c,concrete_c,air_c"]
    for index in range(int(first_h * 2) + 1, int(last_h * 2) + 1):
        hours = index / 2
        grout_c = grout_temperature_c(hours) + 0.1 * math.sin(index)
        air_c = 20.8 + 0.6 * math.sin(hours / 24 * 2 * math.pi)
        plate_c, concrete_c = 20.9 + 0.45 * (grout_c - 21.0), 20.6 + 0.3 * (grout_c - 21.0)
        if exchanged_h[0] <= hours < exchanged_h[1]:
            grout_c, air_c = air_c, grout_c
        moment = (starts_at + dt.timedelta(hours=hours)).isoformat()
        lines.append(f"{moment},{grout_c:.1f},{plate_c:.1f},{concrete_c:.1f},{air_c:.1f}")
    return lines


def _bring(crew: Crew, until: dt.datetime, lines: list[str], logger: Logger | None = None) -> None:
    content, pour = "\n".join(lines).encode(), crew.pour
    earliest, latest = reading_span(pour, until)
    import_readings(
        pour=pour,
        readings=readings_of(content, Clock(crew.works.site.tz), earliest=earliest, latest=latest),
        content=content,
        file_name=f"logger-{pour.plan.machine.tag}.csv",
        by=crew.person("crew"),
        logger=logger,
    )


def _head(
    crew: Crew,
    at: dt.datetime,
    serial: str,
    remarks: str = "",
    *,
    replaces: CureInspection | None = None,
    verdict: str = Verdict.ACCEPTED,
) -> InspectionHead:
    """The head of an inspection made with the instrument of this number."""
    tool = instruments().get(site=crew.works.site, serial=serial)
    due = tool.calibration_on(crew.works.today)
    return InspectionHead(
        made_at=at,
        instrument=str(tool),
        calibration_due_on=due.due_on if due else at.date(),
        verdict=verdict,
        remarks=remarks,
        replaces=replaces,
        made_with=tool,
    )


def inspect_level(crew: Crew, at: dt.datetime) -> None:
    """The survey of the set plate, and the one after the cure that takes its place: what moved between them is told."""
    assert crew.pour.poured_at is not None  # noqa: S101
    by, before_at = crew.person("inspector"), crew.pour.poured_at - dt.timedelta(hours=20)
    set_plate = record_level(
        pour=crew.pour,
        head=_head(crew, before_at, LEVEL_NO),
        rows=_level_rows(crew, "before_pour", (0.01, 0.02, -0.01, 0.00)),
        by=by,
    )
    head = _head(crew, at, LEVEL_NO, "the survey after the grout has cured", replaces=set_plate)
    rows = _level_rows(crew, "after_grout", (0.00, 0.03, -0.02, 0.02))
    record_level(pour=crew.pour, head=head, rows=rows, by=by)


def _level_rows(crew: Crew, occasion: str, readings_mm: tuple[float, ...]) -> dict[str, Any]:
    machine = crew.pour.plan.machine
    tolerance = tolerance_of(machine.level_class)
    points = [
        {"label": label, "x_mm": x, "y_mm": y, "reading_mm": reading, "entered": {"text": f"{reading}", "unit": "mm"}}
        for (label, x, y), reading in zip(calc.level_points(drawing_of(machine)), readings_mm, strict=True)
    ]
    return {
        "occasion": occasion,
        "points": points,
        "resolution_mm": 0.005,
        "tilt_limit_mm_m": tolerance.tilt_mm_m,
        "coplanarity_limit_mm": tolerance.coplanarity_mm,
        "limit_source": tolerance.source,
        "as_entered": {},
    }


def inspect_sounding(crew: Crew, at: dt.datetime, hollow: tuple[str, ...]) -> None:
    """The sounding; where taps rang hollow, the engineer has them injected, and a second one takes its place."""
    by, replaced, remarks = crew.person("inspector"), None, ""
    if hollow:
        first = _head(crew, at - dt.timedelta(hours=4), HAMMER_NO, verdict=Verdict.OPEN)
        replaced = record_sounding(pour=crew.pour, head=first, rows=_sounding_rows(crew, hollow), by=by)
        judge_inspection(
            inspection=replaced,
            verdict=Verdict.REFUSED,
            course=Course.INJECT,
            grounds="The corner rings hollow; inject by hand gun with a dial indicator on the plate.",
            by=crew.person("engineer"),
        )
        remarks = "injected through two holes by hand gun, cured, sounded again"
    head = _head(crew, at, HAMMER_NO, remarks, replaces=replaced)
    record_sounding(pour=crew.pour, head=head, rows=_sounding_rows(crew, ()), by=by)


def _sounding_rows(crew: Crew, hollow: tuple[str, ...]) -> dict[str, Any]:
    spacing_mm = 150.0
    taps: list[dict[str, Any]] = [
        tap | {"sound": calc.HOLLOW if tap["name"] in hollow else calc.SOLID}
        for tap in calc.tap_points(drawing_of(crew.pour.plan.machine), spacing_mm)
    ]
    defaults = calc.SOUNDING_DEFAULTS
    return {
        "spacing_mm": spacing_mm,
        "taps": taps,
        "limit_source": defaults.source,
        "single_void_m2": defaults.single_void_m2,
        "total_ratio": defaults.total_share,
        "least_depth_mm": 1.0,
        "greatest_depth_mm": 6.0,
        "as_entered": {},
    }


def _pass_value(label: str, torque_nm: float) -> dict[str, Any]:
    whole = round(torque_nm)
    return {"label": label, "torque_nm": whole, "entered": {"text": str(whole), "unit": "N·m"}}


def tighten_bolts(crew: Crew, at: dt.datetime) -> None:
    bolts = calc.bolts_of(crew.pour.plan.machine)
    friction = calc.friction_names()[0]
    target_mpa, source = calc.default_target(bolts)
    targets = calc.bolt_targets(bolts, friction, target_mpa)
    order = calc.order_of(bolts)
    in_turn = sorted(zip(bolts, targets, strict=True), key=lambda pair: order.get(pair[0]["label"], 0))
    rows = {
        "method": calc.TORQUE,
        "rounds": [
            {
                "share_ratio": one["share_ratio"],
                "values": [
                    _pass_value(bolt["label"], one["share_ratio"] * target["torque_nm"]) for bolt, target in in_turn
                ],
            }
            for one in calc.passes_of(1.0)
        ],
        "final_round": True,
        "friction": friction,
        "target_mpa": target_mpa,
        "target_source": source,
        "passes": 3,
        "in_order": True,
        "values": [
            {"label": bolt["label"], "torque_nm": round(target["torque_nm"]), "entered": None}
            for bolt, target in zip(bolts, targets, strict=True)
        ],
        "as_entered": {},
    }
    record_bolts(pour=crew.pour, head=_head(crew, at, WRENCH_NO), rows=rows, by=crew.person("inspector"))
