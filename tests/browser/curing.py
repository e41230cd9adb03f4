"""What is done three weeks after the pour: readings of the logger at the desk, inspections on the phone."""

import datetime as dt
import math
import re

from playwright.sync_api import FilePayload

from tests.browser import story
from tests.browser.visitor import Visitor

CALIBRATION_DUE = "2027-12-31"


def logger_file(pour_at: dt.datetime) -> FilePayload:
    """An invented logger's file: grout, plate and air every two hours until the inspections, with offsets."""
    lines = ["time,grout_c,plate_c,air_c"]
    for hours in range(2, int(story.CURE.total_seconds() // 3600), 2):
        warmth_c = 9.0 * (hours / 5.5) * math.exp(1 - hours / 5.5)
        air_c = 17.0 + 6.0 * math.sin((hours + 4) * math.pi / 12)
        at = pour_at + dt.timedelta(hours=hours)
        lines.append(f"{at.isoformat()},{21 + warmth_c:.1f},{20 + warmth_c / 2:.1f},{air_c:.1f}")
    return {"name": "logger-0417.csv", "mimeType": "text/csv", "buffer": "\n".join(lines).encode()}


def bring_readings(crew: Visitor, pour_at: dt.datetime) -> None:
    crew.sign_in()
    crew.follow("See what is still to do")
    crew.follow("Cure")
    crew.follow("Bring a logger's file")
    crew.field("File of the logger").set_input_files(logger_file(pour_at))
    crew.shot("logger-file")
    crew.press("Read and keep")
    crew.sees(re.compile(r"Kept: \d+ of \d+ readings were new"))
    assert crew.page.get_by_text("reached", exact=True).count() >= 3
    crew.shot("cure")


def go_to_inspections(inspector: Visitor) -> None:
    inspector.sign_in()
    inspector.follow("See what is still to do")
    inspector.shot("turnover-before-inspections")
    inspector.follow("Inspections")
    inspector.shot("inspections")


def start_inspection(inspector: Visitor, kind: str, instrument: str) -> None:
    section = inspector.page.locator("section.kind").filter(has_text=kind)
    inspector.follow(re.compile("^(Record it|Inspect again)$"), within=section)
    inspector.fill("If it is not in the list: instrument and serial number", instrument)
    inspector.fill("Its calibration is due on", CALIBRATION_DUE)


def record(inspector: Visitor, verdict: str, remarks: str = "") -> None:
    """Let the page work it out, look, and record it with a verdict."""
    name = inspector.heading().split(" of ")[0].lower().replace(" ", "-")
    inspector.shot(f"{name}-form")
    inspector.press("Work it out")
    inspector.sees("Worked out, not recorded yet")
    inspector.shot(f"{name}-worked-out")
    inspector.choose("Verdict", verdict)
    inspector.fill("Remarks", remarks)
    inspector.press("Record with this verdict")
    inspector.sees("Recorded: ")
    inspector.shot(f"{name}-recorded")
    inspector.follow("All inspections of this pour")


def sound_the_plate(inspector: Visitor, hollow: tuple[str, ...], verdict: str, remarks: str) -> None:
    start_inspection(inspector, "Sounding", "sounding hammer 0.5 kg, no. 3")
    for row in inspector.page.get_by_role("checkbox", name="row tapped", exact=True).all():
        row.check()
    for tap in hollow:
        inspector.tick(f"Tap {tap} hollow")
    record(inspector, verdict, remarks)


def survey_level(inspector: Visitor) -> None:
    start_inspection(inspector, "Level survey", "master level 0417")
    inspector.choose("Occasion", "after the grout has cured")
    inspector.fill("Smallest step that the instrument shows", "0.005")
    for pad, reading_mm in (("M1", "0.00"), ("M2", "0.03"), ("M3", "-0.02"), ("M4", "0.02")):
        inspector.fill(re.compile(rf"^Reading at {pad} "), reading_mm)
    record(inspector, "Accepted")


def tighten_bolts(inspector: Visitor) -> None:
    """Each bolt to the torque of the table on the page."""
    start_inspection(inspector, "Bolt tightening", "torque wrench 2291")
    row = inspector.page.get_by_role("region", name="Targets of the bolts").get_by_role("row", name=re.compile("^B1 "))
    torque_nm = re.search(r"\d+", row.get_by_role("cell").nth(3).inner_text())
    assert torque_nm
    for number in range(1, 5):
        inspector.fill(re.compile(rf"Bolt B{number}, final torque"), torque_nm.group())
    inspector.fill("Passes made, the final round not counted", "3")
    inspector.choose("Tightened in the order drawn", "yes")
    record(inspector, "Accepted")
