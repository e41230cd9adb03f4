"""The engineer plans the outage of six machines round a forecast, and sees what moved when a colder one arrives."""

import datetime as dt
import os
import subprocess
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from groutjobs.faults.databases import Databases
from tests.browser import scheduling, story
from tests.browser.server import ROOT, Server, fresh_server
from tests.browser.visitor import DESK, Visitor

AT = dt.datetime(2027, 4, 5, 9, 0, tzinfo=story.ZONE)
FIRST_AT = dt.datetime(2027, 4, 5, 0, 0, tzinfo=story.ZONE)
STARTS_AT = dt.datetime(2027, 4, 6, 6, 0, tzinfo=story.ZONE)
MILD, COLD = scheduling.story_of("Mild days"), scheduling.story_of("Cold days")
MACHINES = len(scheduling.MACHINE_DAYS)


@pytest.fixture
def server(databases: Databases, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server of its own with six approved plans."""
    with fresh_server(databases, tmp_path_factory.mktemp("outage")) as server:
        command = [*Server.timed(AT), "tests.browser.six_machines"]
        subprocess.run(command, cwd=ROOT, env=os.environ | server.environment, check=True)  # noqa: S603
        server.set_clock(AT)
        yield server


def test_an_outage_is_planned_accepted_and_seen_to_move(
    server: Server, browser: Browser, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("tables")
    engineer = Visitor(browser, server.address, story.ENGINEER, width=DESK, at=AT)
    engineer.sign_in()
    scheduling.bring_forecast(engineer, scheduling.write_hours(folder / "mild.csv", FIRST_AT, 19.0), MILD, FIRST_AT)
    for plan in range(1, MACHINES + 1):
        scheduling.search_hours(engineer, plan)
    scheduling.compare_measures(engineer, plan=6)
    scheduling.plan_outage(engineer, STARTS_AT)
    scheduling.compute_schedule(engineer)
    schedule = engineer.page.url
    scheduling.accept(engineer)
    issued_at = FIRST_AT + dt.timedelta(hours=8)
    scheduling.bring_forecast(engineer, scheduling.write_hours(folder / "cold.csv", FIRST_AT, 8.0), COLD, issued_at)
    engineer.open(schedule)
    scheduling.judge_again(engineer, COLD)
    moved = scheduling.what_moved(engineer, schedule)
    assert len(moved) == MACHINES - 1, moved  # the one in the heated enclosure keeps its hour
    assert not any(tag.startswith("P-516") for tag in moved)
    engineer.sees("Its hour is not acceptable any more")
    engineer.close()
    assert engineer.faults == []
    assert "Traceback" not in server.log()
