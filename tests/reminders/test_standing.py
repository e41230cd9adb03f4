"""In which word a duty stands: by the record first, then by what somebody said, then by the clock."""

import datetime as dt
from typing import Any

import pytest

from groutjobs.outages.duties import duties
from groutjobs.reminders.standing import Facts, standing
from tests.reminders.known import BASIS, HOUR, MILESTONES, START

DUTIES = {duty.code: duty for duty in duties(starts_at=START, counted_from=BASIS, milestones=MILESTONES, points=9)}


def word(code: str, hours_before: float, **facts: Any) -> str:
    return standing(DUTIES[code], Facts(starts_at=START, **facts), START - hours_before * HOUR).word


@pytest.mark.parametrize(
    ("code", "hours_before", "expected"),
    [
        ("condition", 80, "later"),
        ("condition", 60, "soon"),
        ("condition", 47, "late"),  # preparing is late once its latest start is past
        ("forecast_24h", 23, "due now"),
        ("forecast_24h", 17, "late"),  # a look is late once its time is over
        ("points", 1, "due now"),
        ("pour", 0, "due now"),
        ("pour", -3, "late"),
        ("condition", -1, "its hour has passed"),
        ("cure_strip", 10, "comes by itself"),
        ("cure_strip", -10, "waits for the pour"),
    ],
)
def test_the_clock_says(code: str, hours_before: float, expected: str) -> None:
    assert word(code, hours_before) == expected


def test_the_pour_log_ends_what_came_before_it() -> None:
    assert word("condition", 1, is_begun=True) == "done, by the pour log"
    assert word("pour", -1, is_begun=True) == "done, by the pour log"
    assert word("cure_strip", -10, is_begun=True) == "comes by itself"
    assert word("cure_strip", -40, is_begun=True) == "reached, as predicted"


def test_a_release_ends_the_hold_points_alone() -> None:
    assert word("points", 2, is_released=True) == "done, by the pour log"
    assert word("condition", 2, is_released=True) == "late"


def test_a_newer_search_is_the_look_at_the_forecast() -> None:
    assert word("forecast_24h", 10, looked_at=START - 23 * HOUR) == "done, by a newer search"
    assert word("forecast_24h", 10, looked_at=START - 25 * HOUR) == "late"


def test_what_somebody_has_in_hand_is_not_late() -> None:
    assert word("condition", 40, in_hand={"condition": "Ada"}) == "in hand, Ada"
    assert word("dry", 40, in_hand={"condition": "Ada"}) == "late"


def test_moments_of_other_zones_compare() -> None:
    zone = dt.timezone(dt.timedelta(hours=-5))
    facts = Facts(starts_at=START.astimezone(zone))
    assert standing(DUTIES["condition"], facts, (START - 47 * HOUR).astimezone(zone)).word == "late"
