"""Duties against times worked out by hand; no source prints them. All differences are hours of UTC."""

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from groutjobs.outages.duties import Duty, DutyKind, basis, duties, late_findings
from tests.reminders.known import BASIS, COVER, HOUR, MILESTONES, START, STEPS

NEW_YORK = ZoneInfo("America/New_York")


def of(code: str, **more: Any) -> Duty:
    given: dict[str, Any] = {"starts_at": START, "counted_from": BASIS, "milestones": MILESTONES, "points": 12}
    return {duty.code: duty for duty in duties(**given | more)}[code]


def codes(**more: Any) -> list[str]:
    given: dict[str, Any] = {"starts_at": START, "counted_from": BASIS, "milestones": MILESTONES, "points": 12}
    return [duty.code for duty in duties(**given | more)]


def here(year: int, month: int, day: int, hour: int) -> dt.datetime:
    return dt.datetime(year, month, day, hour, tzinfo=NEW_YORK)


def test_conditioning_counts_48_real_hours_across_a_clock_change() -> None:
    """07:00 EST on 2 November less 48 h is 08:00 EDT on 31 October: the clocks went back one hour between."""
    duty = of("condition")
    assert duty.begins_at == here(2026, 10, 31, 8)
    assert duty.begins_at == dt.datetime(2026, 10, 31, 12, tzinfo=dt.UTC)
    assert duty.ends_at == START


def test_a_start_given_in_local_time_gives_the_same_hours() -> None:
    local = START.astimezone(NEW_YORK)
    assert of("condition", starts_at=local).begins_at == of("condition").begins_at


@pytest.mark.parametrize(
    ("code", "begins", "ends"),
    [
        ("material", "2026-10-30T12:00", "2026-10-31T12:00"),  # a day before the store
        ("dry", "2026-10-31T12:00", "2026-11-02T12:00"),
        ("shade", "2026-11-01T12:00", "2026-11-02T12:00"),
        ("core", "2026-11-02T11:00", "2026-11-02T12:00"),
        ("forecast_72h", "2026-10-30T12:00", "2026-10-31T00:00"),
        ("forecast_24h", "2026-11-01T12:00", "2026-11-01T18:00"),
        ("forecast_4h", "2026-11-02T08:00", "2026-11-02T10:00"),
        ("points", "2026-11-01T12:00", "2026-11-02T12:00"),
        ("crew", "2026-11-02T11:00", "2026-11-02T12:00"),
        ("pour", "2026-11-02T12:00", "2026-11-02T14:00"),
        ("cure_strip", "2026-11-03T18:00", "2026-11-03T18:00"),
    ],
)
def test_each_duty_has_its_latest_start_and_end(code: str, begins: str, ends: str) -> None:
    duty = of(code)
    assert [f"{moment:%Y-%m-%dT%H:%M}" for moment in (duty.begins_at, duty.ends_at)] == [begins, ends]


def test_they_come_by_their_latest_start_and_a_milestone_without_a_date_is_left_out() -> None:
    begins = [duty.begins_at for duty in duties(starts_at=START, counted_from=BASIS, milestones=MILESTONES)]
    assert begins == sorted(begins)
    assert "cure_align" not in codes()
    assert "points" not in codes(points=0)


def test_an_enclosure_is_begun_four_hours_before_it_counts_and_takes_the_place_of_the_shade() -> None:
    covered = BASIS | {"cover": COVER}
    duty = of("cover", counted_from=covered)
    assert duty.begins_at == dt.datetime(2026, 11, 1, 2, tzinfo=dt.UTC)
    assert duty.ends_at == dt.datetime(2026, 11, 1, 6, tzinfo=dt.UTC)
    assert "20.0 °C" in duty.label
    assert "68" in of("cover", counted_from=covered, system="us").label
    assert of("cover_off", counted_from=covered).begins_at == dt.datetime(2026, 11, 4, 12, tzinfo=dt.UTC)
    assert "shade" not in codes(counted_from=covered)


def test_a_shade_has_no_heat_and_two_hours() -> None:
    shade = BASIS | {"cover": COVER | {"kind": "shade", "held_c": None}}
    duty = of("cover", counted_from=shade)
    assert duty.label == "Put up the shade"
    assert duty.begins_at == dt.datetime(2026, 11, 1, 4, tzinfo=dt.UTC)


def test_cement_is_kept_wet_and_its_material_stands_in_no_store() -> None:
    plan = BASIS["plan"] | {"inputs": {"data_sheet": {"kind": "cement"}}, "conditioning": None}
    found = codes(counted_from=BASIS | {"plan": plan})
    assert "wet" in found
    assert not {"dry", "shade", "condition"} & set(found)
    assert of("material", counted_from=BASIS | {"plan": plan}).ends_at == START


def test_steps_of_the_accepted_schedule_stand_among_them_with_their_crews() -> None:
    duty = of("step_formwork", steps=STEPS)
    assert (duty.kind, duty.label) == (DutyKind.STEP, "Formwork (Grout crew)")
    assert duty.begins_at == START - 20 * HOUR
    assert "step_pour" not in codes(steps=STEPS)


def test_a_pour_chosen_before_anything_was_kept_still_has_its_pour_and_milestones() -> None:
    assert {"pour", "cure_strip", "crew"} <= set(codes(counted_from={}))


def test_what_should_have_begun_is_a_plain_warning_with_hours() -> None:
    """34 h before the pour, 48 h of conditioning should have begun 14 h ago, and drying too; shade has 10 h left."""
    found = duties(starts_at=START, counted_from=BASIS, milestones=MILESTONES)
    told = {finding.code: finding.message for finding in late_findings(found, START, START - 34 * HOUR)}
    assert told == {
        "late_condition": "The pallet should have gone into the warm store 14 h before now.",
        "late_dry": "The concrete should have been left to dry 14 h before now.",
        "late_material": "The material should have been at the site 14 h before now.",
    }


def test_in_time_or_after_the_pour_nothing_is_warned_of() -> None:
    found = duties(starts_at=START, counted_from=BASIS, milestones=MILESTONES)
    assert late_findings(found, START, START - 80 * HOUR) == []
    assert late_findings(found, START, START + HOUR) == []


def test_material_that_is_too_hot_goes_into_a_cool_store() -> None:
    plan = BASIS["plan"] | {"conditioning": BASIS["plan"]["conditioning"] | {"start_c": 38.0}}
    found = duties(starts_at=START, counted_from=BASIS | {"plan": plan}, milestones=MILESTONES)
    assert any("cool store" in finding.message for finding in late_findings(found, START, START - HOUR))


def test_of_long_results_only_the_few_values_are_kept() -> None:
    plan = BASIS["plan"] | {"conditioning": BASIS["plan"]["conditioning"] | {"rows": [1, 2], "curve": [0.0] * 99}}
    search = {"inputs": {"cover": COVER | {"walls_w_m2k": 5.8}}, "hours": [1] * 400}
    kept = basis(plan | {"kits_total": 6}, search)
    assert kept["cover"] == COVER
    assert kept["plan"]["conditioning"] == BASIS["plan"]["conditioning"] | {"rows": [1]}
    assert kept["kits"] == 6
    assert "hours" not in str(kept)
