"""What the engineer does at the desk to schedule an outage: forecasts, measures, crews, machines, and what moved."""

import datetime as dt
import math
from pathlib import Path

from tests.browser import story
from tests.browser.visitor import Visitor

DAYS = 16
MACHINE_DAYS = {"P-511": 9, "P-512": 10, "P-513": 11, "P-514": 12, "P-515": 12, "P-516": 13}
"""Days after the outage begins by which each machine is handed over."""


def write_hours(path: Path, first_at: dt.datetime, mean_c: float) -> Path:
    """A table of hours with a daily wave about a mean; invented."""
    rows = ["time,temp_c,humidity_percent,wind_km_h,cloud_percent"]
    for hour in range(24 * DAYS):
        at = first_at + dt.timedelta(hours=hour)
        temp_c = mean_c + 4 * math.sin(2 * math.pi * (at.hour - 9) / 24)
        rows.append(f"{at.isoformat()},{temp_c:.1f},50,8,60")
    path.write_text("\n".join(rows))
    return path


def bring_forecast(engineer: Visitor, table: Path, source: str, issued_at: dt.datetime) -> None:
    engineer.open("/sites/1/forecasts/")
    engineer.follow("Add a table of hours (CSV)")
    engineer.field("CSV table of hours").set_input_files(table)
    engineer.fill("Source", source)
    engineer.fill("Issued", f"{issued_at:%Y-%m-%dT%H:%M}")
    engineer.press("Keep")
    engineer.sees(source)


def compare_measures(engineer: Visitor, plan: int) -> None:
    """Shade and heat for one machine; a trial changes nothing, the heated enclosure is taken."""
    engineer.open(f"/plans/{plan}/pour-hours/beside/")
    engineer.follow("Compare measures")
    engineer.fill("Air that the heater holds", "24")
    engineer.shot("compare-form")
    engineer.press("Compare")
    page = engineer.page
    assert page.locator(".measure h2").all_inner_texts() == ["As it is", "Shade", "Heated enclosure"]
    bare, shade, heated = (acceptable_hours(engineer, number) for number in range(3))
    assert bare < heated
    assert shade <= heated
    engineer.sees("kW on average")
    engineer.shot("measures-beside")
    engineer.press("Take this measure", within=page.locator(".measure").nth(2))
    engineer.sees("The plan rests on this measure now.")


def acceptable_hours(engineer: Visitor, number: int) -> int:
    return int(engineer.page.locator(".measure").nth(number).locator("dd b").first.inner_text())


def search_hours(engineer: Visitor, plan: int) -> None:
    engineer.open(f"/plans/{plan}/pour-hours/search/")
    engineer.press("Search")
    engineer.sees("hours judged")


def plan_outage(engineer: Visitor, starts_at: dt.datetime) -> None:
    engineer.open("/sites/1/outages/add/")
    engineer.fill("Name", "Plover spring outage")
    engineer.fill("Starts", f"{starts_at:%Y-%m-%dT%H:%M}")
    engineer.fill("Ends", f"{starts_at + dt.timedelta(days=14):%Y-%m-%dT%H:%M}")
    engineer.press("Keep")
    engineer.follow("Schedule with crews")
    add_crews(engineer)
    add_machines(engineer, starts_at)
    engineer.shot("outage-work")


def add_crews(engineer: Visitor) -> None:
    for name, skills in {
        "Mechanics 1": ["mechanical work"],
        "Mechanics 2": ["mechanical work"],
        "Concrete 1": ["concrete preparation"],
        "Concrete 2": ["concrete preparation"],
        "Grout 1": ["formwork and grout"],
        "Grout 2": ["formwork and grout"],
    }.items():
        engineer.follow("Add a crew")
        engineer.fill("Name of the crew", name)
        for skill in skills:
            engineer.tick(skill)
        engineer.fill("Shift starts", "06:00")
        engineer.fill("Shift ends", "18:00")
        for day in ("Saturday", "Sunday"):
            engineer.tick(day)
        engineer.press("Keep")


def add_machines(engineer: Visitor, starts_at: dt.datetime) -> None:
    for tag, days in MACHINE_DAYS.items():
        engineer.follow("Add a machine")
        engineer.choose("Approved plan", f"{tag} pour plan rev 1")
        engineer.press("Keep")
        engineer.fill("Handed over to alignment by", f"{starts_at + dt.timedelta(days=days):%Y-%m-%dT%H:%M}")
        engineer.press("Keep")
        engineer.page.get_by_role("cell", name=tag, exact=True).wait_for()


def compute_schedule(engineer: Visitor) -> None:
    """Ask, and watch the page until the worker is done; the page looks again by itself."""
    engineer.follow("Compute a schedule")
    engineer.fill("Seconds to compute", "8")
    engineer.press("Compute")
    engineer.page.get_by_role("heading", name="Over the days of the outage").wait_for(timeout=120_000)
    engineer.shot("schedule-solved")


def accept(engineer: Visitor) -> None:
    engineer.follow("Accept this schedule")
    reason = engineer.field("Reason")
    reason.fill("agreed with operations in the morning meeting")
    engineer.press("Accept")
    engineer.sees("Nothing has moved since it was accepted")
    engineer.shot("schedule-accepted")


def judge_again(engineer: Visitor, source: str) -> None:
    engineer.follow("Schedule")
    engineer.follow("Judge by another forecast")
    options = engineer.field("Forecast").locator("option").all_inner_texts()
    engineer.field("Forecast").select_option(label=next(text for text in options if source in text))
    engineer.press("Search")


def what_moved(engineer: Visitor, schedule: str) -> list[str]:
    """Reload the accepted schedule until the worker has judged every machine; the tags whose hour is gone."""
    page = engineer.page
    for _ in range(60):
        engineer.open(schedule)
        if page.locator(".moved").count() == len(MACHINE_DAYS) - 1:
            break
        page.wait_for_timeout(1000)
    engineer.shot("schedule-moved")
    return page.locator(".moved", has_text="hour not acceptable").locator("h3").all_inner_texts()


def story_of(source: str) -> str:
    return f"{source} (invented for {story.SITE_NAME})"
