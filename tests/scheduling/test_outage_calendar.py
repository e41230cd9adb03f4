"""Working time of crews: shifts, days off, the change of the clock, and the working axis.

Dates of clock changes: rules of the IANA time zone database as the Python library zoneinfo has them.
"""

from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groutjobs.errors import OutOfRange, Unusable
from groutjobs.scheduling.calendar import CrewCalendar, WorkAxis, axis_of_all, minutes_between, spells_min
from groutjobs.scheduling.problem import Job, Outage
from tests.scheduling.outage_for_tests import SMALL, a_step, crew, expect_solved, span

CHICAGO = ZoneInfo("America/Chicago")
SPRING = datetime(2026, 3, 7, tzinfo=CHICAGO)
AUTUMN = datetime(2026, 10, 31, tzinfo=CHICAGO)
NIGHTS = CrewCalendar(timezone="America/Chicago", shifts=((time(22), time(6)),))


def hours_of(calendar: CrewCalendar, from_at: datetime, days: int) -> list[float]:
    spells = calendar.working_spells(from_at, from_at + timedelta(days=days))
    return [(ends - begins) / timedelta(hours=1) for begins, ends in spells]


def test_a_night_shift_is_an_hour_shorter_in_spring_and_longer_in_autumn() -> None:
    assert hours_of(NIGHTS, SPRING.replace(hour=12), 2) == [7, 8]
    assert hours_of(NIGHTS, AUTUMN.replace(hour=12), 2) == [9, 8]


def test_a_day_shift_keeps_its_local_hours_across_the_change() -> None:
    calendar = CrewCalendar(timezone="America/Chicago", shifts=((time(7), time(17)),))
    spells = calendar.working_spells(SPRING, SPRING + timedelta(days=2))
    assert [begins.astimezone(CHICAGO).hour for begins, _ in spells] == [7, 7]
    assert spells[1][0] - spells[0][0] == timedelta(hours=23)


def test_a_schedule_across_the_change_counts_hours_and_not_clocks() -> None:
    starts_at = SPRING.replace(hour=21)
    nights = crew("nights", calendar=NIGHTS)
    job = Job(tag="P-1", steps=(a_step("chip", 6), a_step("clean", 2, "chip")))
    outage = Outage(starts_at=starts_at, ends_at=starts_at + timedelta(days=3), jobs=(job,), crews=(nights,), tools={})
    schedule = expect_solved(outage, SMALL)
    assert span(schedule, "P-1", "chip")[1].astimezone(CHICAGO).hour == 5
    assert span(schedule, "P-1", "clean")[1].astimezone(CHICAGO) == datetime(2026, 3, 8, 23, tzinfo=CHICAGO)


def test_weekdays_and_holidays_are_those_of_the_day_on_which_a_shift_begins() -> None:
    calendar = CrewCalendar(
        timezone="UTC",
        shifts=((time(22), time(6)),),
        weekdays=frozenset({0, 1}),
        holidays=frozenset({date(2026, 4, 7)}),
    )
    monday = datetime(2026, 4, 6, tzinfo=UTC)
    assert calendar.working_spells(monday, monday + timedelta(days=7)) == (
        (monday.replace(hour=22), datetime(2026, 4, 7, 6, tzinfo=UTC)),
    )


def test_shifts_that_meet_are_one_spell_and_the_span_cuts_them() -> None:
    calendar = CrewCalendar(timezone="UTC", shifts=((time(6), time(14)), (time(14), time(22))))
    from_at = datetime(2026, 4, 6, 8, 0, 30, tzinfo=UTC)
    assert spells_min(calendar, from_at, from_at + timedelta(hours=20)) == ((0, 839),)


def test_what_is_no_calendar_is_refused() -> None:
    cases: list[dict[str, Any]] = [{"shifts": ()}, {"weekdays": frozenset()}, {"weekdays": frozenset({7})}]
    for wrong in cases:
        with pytest.raises(Unusable) as refusal:
            CrewCalendar(**({"timezone": "UTC", "shifts": ((time(7), time(17)),)} | wrong))
        assert refusal.value.quantity == "calendar"
    with pytest.raises(OutOfRange):
        NIGHTS.working_spells(SPRING, SPRING + timedelta(days=500))
    with pytest.raises(Unusable):
        minutes_between(datetime(2026, 4, 6), SPRING)  # noqa: DTZ001


@st.composite
def some_spells(draw: st.DrawFn) -> tuple[tuple[int, int], ...]:
    edges = sorted(draw(st.sets(st.integers(0, 300), min_size=2, max_size=12)))
    return tuple(zip(edges[::2], edges[1::2], strict=False))


@given(some_spells())
def test_the_axis_counts_as_one_counts_on_fingers(spells: tuple[tuple[int, int], ...]) -> None:
    axis = WorkAxis(spells, 300)
    works = [any(begins <= minute < ends for begins, ends in spells) for minute in range(300)]
    assert axis.done_by == [sum(works[:minute]) for minute in range(301)]
    assert axis.begins == [minute for minute in range(300) if works[minute]]
    assert axis.ends[1:] == [minute + 1 for minute in axis.begins]
    assert axis.holds_unbroken(10, 30) == all(works[10:30])
    assert not axis.holds_unbroken(290, 301)


@given(some_spells(), some_spells())
def test_the_common_axis_counts_what_either_counts(
    first: tuple[tuple[int, int], ...], second: tuple[tuple[int, int], ...]
) -> None:
    axes = [WorkAxis(spells, 300) for spells in (first, second)]
    assert axis_of_all(axes, 300).begins == sorted(set(axes[0].begins) | set(axes[1].begins))
