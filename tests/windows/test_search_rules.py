"""What a search heeds: data sheet, edited limits, shift, deadline, measured concrete, and what it warns of."""

import datetime as dt
import json
from typing import Any

import pytest

from groutjobs.audit.models import Event
from groutjobs.equipment.models import Machine
from groutjobs.errors import NotAllowed, OutOfRange
from groutjobs.findings import Level
from groutjobs.planning.models import PlanState
from groutjobs.windows.calc import usual_limits
from groutjobs.windows.models import PourHours
from groutjobs.windows.queries import index_of, latest_pour_hours, notes_of, start_hour
from tests.factories import (
    make_baseplate,
    make_data_sheet,
    make_forecast,
    make_foundation,
    make_grout_system,
    make_machine,
    make_site,
)
from tests.windows.asked import codes_by_hour, planned, searched, spring

pytestmark = pytest.mark.django_db


def limits(found: PourHours) -> dict[str, dict[str, Any]]:
    return {limit["code"]: limit for limit in found.result["limits"]}


def machine_in(exposure: str, **site: Any) -> Machine:
    machine = make_machine(site=make_site(**site), bare=True)
    make_foundation(machine=machine, exposure=exposure)
    make_baseplate(machine=machine)
    return machine


def notes(found: PourHours) -> set[str]:
    return {note.code for note in notes_of(found)}


def test_the_data_sheet_stands_in_place_of_general_limits() -> None:
    machine = make_machine()
    sheet = make_data_sheet(grout_system=make_grout_system(site=machine.site), placing_min_c=5.0, placing_max_c=29.0)
    rows = {row["code"]: row for row in usual_limits(planned(machine=machine, data_sheet=sheet))}
    assert (rows["air_cold"]["value"], rows["plate_hot"]["value"]) == (5.0, 29.0)
    assert rows["concrete_cold"]["source"] == f"DATASHEET {sheet.grout_system.name} rev 3"
    assert "air_warm" not in rows  # 32 °C would warn beyond the 29 °C that already stands in the way
    assert rows["air_cool"]["value"] == 18.0


def test_an_edited_limit_is_used_with_its_source() -> None:
    plan = planned()
    forecast = make_forecast(site=plan.machine.site, hour_count=72)
    usual = searched(plan, forecast)
    strict = searched(plan, forecast, limits={"wind": (5.0, "owner's specification 12-34, 3.2")})
    assert all("wind" not in codes for codes in codes_by_hour(usual))
    assert all("wind" in codes for codes in codes_by_hour(strict))
    assert limits(strict)["wind"]["source"] == "owner's specification 12-34, 3.2"


def test_a_limit_without_source_is_refused() -> None:
    with pytest.raises(NotAllowed, match="wind needs a source"):
        searched(limits={"wind": (5.0, " ")})


def test_starts_outside_the_shift_are_refused_also_when_the_clocks_change() -> None:
    """The shift is 06:00 to 18:00 by the clock; New York loses an hour on 14 March 2027 (Energy Policy Act of 2005)."""
    plan = planned(machine=make_machine(site=make_site(working_days=[0, 1, 2, 3, 4, 5, 6])))
    found = searched(plan, spring(plan, first_day=dt.date(2027, 3, 13), days=3))
    zone = plan.machine.site.tz
    first: dict[dt.date, dt.datetime] = {}
    for index, codes in enumerate(codes_by_hour(found)):
        at = start_hour(found, index).at.astimezone(zone)
        if "shift" not in codes:
            first.setdefault(at.date(), at)
    assert [(at.hour, at.utcoffset()) for at in first.values()] == [
        (6, dt.timedelta(hours=-5)), (6, dt.timedelta(hours=-4)), (6, dt.timedelta(hours=-4))
    ]  # fmt: skip


@pytest.mark.parametrize(("weight", "level"), [("must", Level.BLOCKER), ("preferred", Level.WARNING)])
def test_the_shift_weighs_what_the_person_says(weight: str, level: Level) -> None:
    found = searched(shift=weight, daylight="ignored")
    midnight = start_hour(found, 4)  # 00:00 in New York
    assert [finding.level for finding in midnight.findings if finding.code == "shift"] == [level]
    assert all("daylight" not in codes for codes in codes_by_hour(found))


def test_a_shift_that_is_not_asked_judges_nothing() -> None:
    found = searched(shift="ignored")
    assert all("shift" not in codes for codes in codes_by_hour(found))


def test_a_measured_concrete_moves_the_curve_from_then_on() -> None:
    plan = planned()
    forecast = spring(plan)
    usual = searched(plan, forecast)
    colder = usual.result["series"]["concrete_c"][12] - 4.0
    read_at = forecast.plan_starts_at + dt.timedelta(hours=12)
    moved = searched(plan, forecast, measured_concrete_c=colder, measured_at=read_at)
    before, after = usual.result["series"]["concrete_c"], moved.result["series"]["concrete_c"]
    assert after[:12] == before[:12]
    assert after[12] == pytest.approx(colder, abs=0.02)
    assert abs(after[-1] - before[-1]) < 0.5  # the difference fades with the days
    assert "not_measured" in notes(usual)
    assert "not_measured" not in notes(moved)


def test_a_measurement_outside_the_forecast_is_refused() -> None:
    plan = planned()
    forecast = make_forecast(site=plan.machine.site, hour_count=72)
    with pytest.raises(OutOfRange, match="hour of the concrete measurement"):
        searched(plan, forecast, measured_concrete_c=15.0, measured_at=forecast.ends_at + dt.timedelta(hours=2))


def test_a_measurement_without_its_time_is_refused() -> None:
    with pytest.raises(NotAllowed, match="belong together"):
        searched(measured_concrete_c=15.0)


def test_a_forecast_without_past_says_that_the_start_is_a_guess() -> None:
    found = searched()
    assert {"few_past_hours", "not_measured"} <= notes(found)
    assert found.result["inputs"]["forecast"]["past_hours_added"] == 240


def test_even_air_of_the_yearly_mean_leaves_indoor_concrete_and_plate_at_its_temperature() -> None:
    plan = planned(machine=machine_in("indoors", annual_mean_c=22.0, annual_swing_c=0.0))
    found = searched(plan, make_forecast(site=plan.machine.site, hour_count=72))
    assert found.result["series"]["concrete_c"] == pytest.approx([22.0] * 72, abs=0.05)
    assert found.result["series"]["plate_c"] == pytest.approx([22.0] * 72, abs=0.05)
    assert "indoors" in notes(found)


def test_rain_stands_in_the_way_in_the_open_and_asks_under_a_roof() -> None:
    levels = {}
    for exposure in ("open", "sheltered"):
        plan = planned(machine=machine_in(exposure))
        wet = make_forecast(site=plan.machine.site, hour_count=72, hours={"rain_probability": [0.8] * 72})
        findings = start_hour(searched(plan, wet), 12).findings
        levels[exposure] = next(finding.level for finding in findings if finding.code == "rain_likely")
    assert levels == {"open": Level.BLOCKER, "sheltered": Level.WARNING}


def test_a_source_without_rain_is_noted_and_asks_at_every_hour() -> None:
    plan = planned()
    forecast = make_forecast(site=plan.machine.site, hour_count=72)
    del forecast.hours["rain_probability"]
    forecast.save()
    found = searched(plan, forecast)
    assert "no_rain" in notes(found)
    assert all(codes & {"rain_possible", "rain_likely"} for codes in codes_by_hour(found))
    assert "rain_probability" not in found.result["series"]


def test_material_outside_the_placing_limits_stands_in_the_way() -> None:
    found = searched(material_c=34.0)
    note = next(note for note in notes_of(found) if note.code == "material_c")
    assert note.level is Level.BLOCKER
    assert "34.0 °C is outside 10.0 °C to 32.0 °C" in note.message
    assert "93.2 °F" in next(note for note in notes_of(found, "us") if note.code == "material_c").message


def test_cement_is_judged_by_its_own_limits_and_milestones() -> None:
    machine = make_machine()
    grout = make_grout_system(site=machine.site, kind="cement")
    sheet = make_data_sheet(
        grout_system=grout, kit_yield_l=12.5, kit_kg=25.0, density_kg_m3=2150.0, placing_min_c=7.0, cure_min_c=5.0,
        working_life=[[10.0, 60.0], [20.0, 45.0], [32.0, 30.0]], strength=[], activation_kj_mol=None,
    )  # fmt: skip
    plan = planned(machine=machine, data_sheet=sheet, place_min=6.0)
    found = searched(plan, make_forecast(site=machine.site, hour_count=300))
    assert "evaporation" in limits(found)
    assert "humidity" not in limits(found)
    assert [row["code"] for row in found.result["milestones"]] == ["strip", "wet_cure", "tension", "align"]
    assert found.result["inputs"]["protection_h"] == 168.0


def test_a_site_without_climate_is_told() -> None:
    plan = planned(machine=machine_in("open", annual_mean_c=None, annual_swing_c=None))
    assert "no_annual_mean" in notes(searched(plan))


def test_the_record_keeps_the_question_and_the_hash_of_the_answer() -> None:
    found = searched()
    event = Event.objects.get(kind="pour_hours.searched")
    body = json.loads(event.body)
    assert "result" not in body["changed"]
    assert body["changed"]["material_c"]["new"] == "22.0"
    assert len(body["extra"]["result_sha256"]) == 64
    assert latest_pour_hours(found.plan) == found


def test_only_judged_hours_have_an_index() -> None:
    found = searched()
    start = found.forecast.plan_starts_at
    assert index_of(found, start) == 0
    assert index_of(found, start - dt.timedelta(hours=1)) is None
    assert index_of(found, start + dt.timedelta(minutes=30)) is None
    assert index_of(found, start + dt.timedelta(hours=500)) is None
    with pytest.raises(IndexError):
        start_hour(found, -1)


def test_it_refuses_a_superseded_plan_a_foreign_forecast_and_a_plan_not_computed() -> None:
    plan = planned()
    with pytest.raises(NotAllowed, match="belongs to another site"):
        searched(plan, make_forecast())
    with pytest.raises(NotAllowed, match="superseded"):
        searched(planned(state=PlanState.SUPERSEDED))
    plan.result = {}
    with pytest.raises(NotAllowed, match="has not been computed"):
        searched(plan)
