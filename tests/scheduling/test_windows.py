"""The search for pour hours: each limit passes and fails, words and numbers agree, and runs are ranked."""

import math
from dataclasses import replace
from datetime import UTC, datetime, time
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from groutjobs.engineering.checks import Floats
from groutjobs.engineering.materials import working_life_min
from groutjobs.engineering.sky import Exposure
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.findings import Level
from groutjobs.scheduling.conditions import CureForecast, Predicted, ShiftHours
from groutjobs.scheduling.hour_rows import shift_rule
from groutjobs.scheduling.limits import PourLimit, Span, default_limits, working_life_limits
from groutjobs.scheduling.windows import PourHours, find_pour_hours
from groutjobs.sources import sources
from tests.scheduling.weather_for_tests import POINTS, some_need, some_weather

EPOXY = default_limits("epoxy", Exposure.OPEN)
SHIFT = ShiftHours(timezone="America/Chicago", weekdays=frozenset(range(5)), first=time(7), last=time(16))


def ramp(n_hours: int, first: float, last: float) -> Floats:
    return np.linspace(first, last, n_hours + 1)


def search(
    concrete_c: Floats | float = 22.0, plate_c: Floats | float = 22.0, n_hours: int = 48, **options: object
) -> PourHours:
    full = np.ones(n_hours + 1)
    weather = options.pop("weather", None) or some_weather(n_hours)
    predicted = Predicted(concrete_c=concrete_c * full, plate_c=plate_c * full)
    need = options.pop("need", None) or some_need()
    return find_pour_hours(weather, predicted, need, EPOXY, **options)  # type: ignore[arg-type]


def test_mild_dry_weather_has_nothing_in_the_way() -> None:
    hours = search()
    assert hours.acceptable.all()
    assert hours.codes_in_the_way(0) == []
    assert hours.n_starts == 46


def test_cool_concrete_is_told_with_margin_and_the_time_from_which_it_holds() -> None:
    """From 15 to 27 °C in 48 h the concrete passes 18 °C after 12 h."""
    hours = search(concrete_c=ramp(48, 15.0, 27.0))
    found = hours.findings(6)
    assert [finding.code for finding in found] == ["concrete_cool"]
    assert found[0].level is Level.WARNING
    assert found[0].margin == pytest.approx(-1.5)
    assert found[0].message == "concrete 16.5 °C at 06:00, 1.5 K under the 18.0 °C limit; holds from 12:00"
    assert hours.acceptable[6]
    assert hours.holds_from_at("concrete_cool")[6] == datetime(2026, 3, 2, 18, tzinfo=UTC)


def test_a_reader_of_us_units_sees_them() -> None:
    message = search(concrete_c=ramp(48, 15.0, 27.0)).findings(6, "us")[0].message
    assert message == "concrete 61.7 °F at 06:00, 2.7 °F under the 64.4 °F limit; holds from 12:00"


def test_the_time_from_which_a_limit_holds_may_lie_between_hours() -> None:
    """8 to 12 °C in 5 h passes the block at 10 °C after 2.5 h."""
    concrete_c = np.concatenate([ramp(5, 8.0, 12.0), np.full(43, 20.0)])
    finding = search(concrete_c=concrete_c).findings(0)[0]
    assert (finding.code, finding.level) == ("concrete_cold", Level.BLOCKER)
    assert finding.message.endswith("holds from 02:30")


def test_a_time_between_minutes_is_told_as_the_next_one() -> None:
    """9 to 10.1 °C in an hour passes 10 °C after 54.5 minutes; at 00:54 it is still too cold."""
    concrete_c = np.concatenate([[9.0, 10.1], np.full(47, 20.0)])
    assert search(concrete_c=concrete_c).findings(0)[0].message.endswith("holds from 00:55")


def test_the_heavier_of_two_limits_on_one_thing_speaks_alone() -> None:
    hours = search(concrete_c=9.0)
    assert hours.codes_in_the_way(0) == ["concrete_cold", "plate_concrete_difference"]
    assert not hours.acceptable.any()
    assert "does not hold in the rest of this forecast" in hours.findings(0)[0].message


@pytest.mark.parametrize(
    ("concrete_c", "plate_c", "code"),
    [
        (33.0, 33.0, "concrete_warm"),
        (39.0, 34.0, "concrete_hot"),
        (22.0, 9.0, "plate_cold"),
        (22.0, 17.0, "plate_cool"),
        (34.0, 39.0, "plate_hot"),
        (20.0, 27.0, "plate_concrete_difference"),
        (13.9, 19.0, "concrete_dew_point"),
        (19.0, 13.9, "plate_dew_point"),
    ],
)
def test_every_surface_limit_can_fail(concrete_c: float, plate_c: float, code: str) -> None:
    weather = some_weather(humidity=0.5)
    assert code in search(concrete_c, plate_c, weather=weather).codes_in_the_way(0)


def test_the_dew_point_of_the_example_leaves_too_little() -> None:
    """CENGEL-BOLES example 14-2: 20 °C at 75 % has its dew point at 15.4 °C; 18 °C is 2.6 K above it, 18.5 enough."""
    weather = some_weather(temp_c=20.0, humidity=0.75)
    assert "concrete_dew_point" in search(18.0, 20.0, weather=weather).codes_in_the_way(0)
    assert "concrete_dew_point" not in search(18.5, 20.0, weather=weather).codes_in_the_way(0)


@pytest.mark.parametrize(
    ("row", "value", "code", "acceptable"),
    [
        ("relative_humidity", 0.9, "humidity", True),
        ("rain_probability", 0.3, "rain_possible", True),
        ("rain_probability", 0.6, "rain_likely", False),
        ("rain_probability", math.nan, "rain_likely", True),
        ("wind_km_h", 45.0, "wind", True),
        ("wind_km_h", math.nan, "wind", True),
    ],
)
def test_every_limit_of_the_air_can_fail(row: str, value: float, code: str, acceptable: bool) -> None:
    change: dict[str, Any] = {row: np.full(49, value)}
    weather = replace(some_weather(), **change)
    hours = search(weather=weather)
    assert hours.codes_in_the_way(0) == [code]
    assert hours.acceptable[0] == acceptable
    assert ("not known" in hours.findings(0)[0].message) == math.isnan(value)


def test_air_is_watched_through_protection_and_rain_only_through_placement() -> None:
    temp_c = np.where(np.arange(49) >= 8, 15.0, 22.0)
    rain = np.where(np.arange(49) >= 8, 0.9, 0.0)
    hours = search(weather=some_weather(temp_c=temp_c, humidity=0.5, rain_probability=rain))
    assert hours.codes_in_the_way(4) == ["air_cool"]


def test_a_batch_that_lives_too_short_is_told_in_minutes() -> None:
    """45 min at 35 °C: a batch of 40 min needs 80 to go unmentioned and 50 at the least."""
    need = some_need(batch_min=40.0, material_c=35.0)
    finding = search(need=need).findings(0)[0]
    assert (finding.code, finding.level) == ("working_life_too_short", Level.BLOCKER)
    assert finding.message.startswith("working life 45 min at 00:00, 5 min under the 50 min limit")
    assert working_life_min(POINTS, 35.0).working_life_min == pytest.approx(45.0)


def test_a_grout_hotter_than_the_data_sheet_is_not_known_and_blocks() -> None:
    hours = search(need=some_need(material_c=36.0))
    assert not hours.acceptable[0]
    assert [finding.code for finding in hours.findings(0)] == ["working_life_too_short"]
    assert "hotter than the hottest row" in hours.findings(0)[0].message
    assert hours.findings(0)[0].margin is None


def test_a_grout_colder_than_the_data_sheet_counts_with_its_coldest_row() -> None:
    weather = some_weather(temp_c=5.0)
    hours = search(6.0, 6.0, weather=weather, need=some_need(material_c=5.0, batch_min=80.0))
    row = next(row for row in hours.rows if row.code == "working_life_short")
    assert row.worst[0] == pytest.approx(150.0)


def test_placement_must_fit_into_one_shift() -> None:
    weather = some_weather()
    hours = search(weather=weather, spell_rules=(shift_rule(SHIFT, weather),))
    allowed = [hour for hour in range(hours.n_starts) if hours.acceptable[hour]]
    assert allowed == [*range(7, 14), *range(31, 38)]
    early, late = hours.findings(5)[0], hours.findings(14)[0]
    assert early.message == "placement to 07:30 is 2.0 h outside the working shift; holds from 07:00"
    assert late.message == "placement to 16:30 is 0.5 h outside the working shift; holds from Tue 03 Mar 07:00"


def test_without_any_shift_nothing_is_acceptable() -> None:
    weather = some_weather()
    none = replace(SHIFT, weekdays=frozenset({6}))
    hours = search(weather=weather, spell_rules=(shift_rule(none, weather),))
    assert not hours.acceptable.any()
    assert hours.pour_windows() == []
    assert "there is no working shift" in hours.findings(0)[0].message


def cure(ready_h: Floats, due_h: float | None) -> CureForecast:
    due_at = None if due_h is None else some_weather().at(due_h)
    return CureForecast(code="align", label="start the alignment", ready_h=ready_h, source="GROUTJOBS", due_at=due_at)


def test_a_pour_too_late_for_its_date_is_blocked() -> None:
    hours = search(cure=(cure(np.full(49, 24.0), 30.0),))
    assert hours.acceptable.tolist() == [hour <= 6 for hour in range(46)]
    message = hours.findings(8)[0].message
    assert message.startswith("start the alignment: not cured enough before Tue 03 Mar 08:00, 2.0 h after")


def test_a_cure_beyond_the_forecast_is_late_only_if_the_date_has_passed() -> None:
    beyond = np.full(49, np.nan)
    passed = search(cure=(cure(beyond, 40.0),)).findings(0)[0]
    assert passed.level is Level.BLOCKER
    assert passed.margin == pytest.approx(-8.0)
    at_the_end = search(cure=(cure(beyond, 48.0),))
    assert not at_the_end.acceptable[0]
    open_date = search(cure=(cure(beyond, 60.0),)).findings(0)[0]
    assert (open_date.level, open_date.margin) == (Level.WARNING, None)
    assert "no date can be promised" in open_date.message


def test_a_forecast_that_ends_before_protection_is_told() -> None:
    hours = search()
    assert hours.codes_in_the_way(33) == []
    assert hours.codes_in_the_way(34) == ["forecast_ends"]
    assert hours.acceptable[34]


def test_windows_are_runs_of_acceptable_starts_ranked_by_warnings_then_time() -> None:
    concrete_c = np.where(np.arange(49) < 24, 17.0, 21.0)
    weather = some_weather()
    hours = search(
        concrete_c,
        20.0,
        weather=weather,
        spell_rules=(shift_rule(SHIFT, weather),),
        cure=(cure(np.full(49, 20.0), None),),
    )
    tuesday, monday = hours.pour_windows()
    assert (tuesday.first_hour, tuesday.last_hour, tuesday.warnings) == (31, 37, 0)
    assert (monday.first_hour, monday.last_hour, monday.warnings) == (7, 13, 1)
    assert monday.binding_code == "concrete_cool"
    assert tuesday.start_at == weather.at(31)
    assert tuesday.milestones == {"align": weather.at(tuesday.best_hour + 20)}


def test_the_rule_that_decides_is_the_one_with_the_least_margin() -> None:
    hours = search(concrete_c=18.2, plate_c=20.0)
    assert hours.binding[0] == "concrete_cool"
    assert search(concrete_c=9.0, plate_c=20.0).binding[0] == "concrete_cold"


@given(st.lists(st.integers(5, 42), min_size=12, max_size=30), st.sampled_from([1.0, 2.5, 3.3]))
def test_margins_equal_a_plain_search(temps: list[int], placement_h: float) -> None:
    n_hours = len(temps) - 1
    concrete_c = np.array(temps, dtype=float)
    weather = some_weather(n_hours)
    hours = search(concrete_c, 20.0, n_hours, weather=weather, need=some_need(placement_h=placement_h))
    rows = {row.code: row for row in hours.rows}
    for start in range(hours.n_starts):
        inside = [*np.arange(start, start + placement_h), start + placement_h]
        seen = np.interp(inside, np.arange(n_hours + 1), concrete_c)
        assert rows["concrete_cool"].margin[start] == pytest.approx(seen.min() - 18.0, abs=1e-9)
        assert rows["concrete_hot"].margin[start] == pytest.approx(38.0 - seen.max(), abs=1e-9)
        assert rows["concrete_cold"].blocks()[start] == (seen.min() < 10.0 - 1e-9)


@given(st.floats(0.0, 6.0))
def test_a_stricter_limit_never_opens_an_hour(stricter_k: float) -> None:
    weather = some_weather()
    predicted = Predicted(concrete_c=ramp(48, 8.0, 24.0), plate_c=ramp(48, 8.0, 24.0))
    limit = PourLimit(
        code="c", label="concrete", quantity="concrete_c", suffix="c", value=12.0, is_minimum=True,
        level=Level.BLOCKER, source="GROUTJOBS", span=Span.PROTECTION,
    )  # fmt: skip
    loose, strict = (
        find_pour_hours(weather, predicted, some_need(), [each]).acceptable
        for each in (limit, replace(limit, value=12.0 + stricter_k))
    )
    assert not (strict & ~loose).any()


def test_arrays_have_a_row_for_each_rule_and_a_column_for_each_start() -> None:
    hours = search()
    shape = (len(hours.rows), hours.n_starts)
    assert hours.margins.shape == hours.holds_from_h.shape == hours.fails.shape == hours.blocks.shape == shape
    assert len(hours.starts_at()) == len(hours.binding) == hours.n_starts


def test_every_default_limit_has_a_known_source_and_its_own_code() -> None:
    for kind in ("epoxy", "cementitious"):
        limits = (*default_limits(kind, Exposure.OPEN), *working_life_limits(some_need()))
        assert {limit.source for limit in limits} <= set(sources())
        assert len({limit.code for limit in limits}) == len(limits)
    assert not any(limit.code.startswith("rain") for limit in default_limits("epoxy", Exposure.INDOORS))
    bare = default_limits("epoxy", Exposure.OPEN, has_plate=False)
    assert not any("plate" in limit.quantity for limit in bare)


def test_cement_grout_is_watched_for_evaporation() -> None:
    """UNO1998 at 30 °C, RH 0.3 and 40 km/h in the report: over 1.0 kg/m²/h, the limit of ACI305."""
    weather = some_weather(temp_c=30.0, humidity=0.3, wind_km_h=np.full(49, 40.0))
    predicted = Predicted(concrete_c=np.full(49, 28.0), plate_c=np.full(49, 28.0))
    limits = default_limits("cementitious", Exposure.OPEN)
    hours = find_pour_hours(weather, predicted, some_need(material_c=30.0), limits)
    assert "evaporation_high" in hours.codes_in_the_way(0)
    finding = next(finding for finding in hours.findings(0, "us") if finding.code == "evaporation_high")
    assert "lb/ft²/h" in finding.message


def test_a_plate_limit_without_a_plate_is_refused() -> None:
    with pytest.raises(Unusable, match="plate_c is not known"):
        find_pour_hours(some_weather(), Predicted(concrete_c=np.full(49, 20.0), plate_c=None), some_need(), EPOXY)


def test_weather_shorter_than_the_placement_is_refused() -> None:
    with pytest.raises(Unusable, match="shorter than the placement"):
        search(n_hours=2, weather=some_weather(2))


def test_the_clock_of_the_messages_follows_the_change_to_summer_time() -> None:
    """Chicago leaves standard time on Sunday 8 March 2026 at 02:00; 144 h after Monday midnight is Sunday 00:00."""
    weather = some_weather(200)
    assert weather.at(144).isoformat() == "2026-03-08T00:00:00-06:00"
    assert weather.at(146).isoformat() == "2026-03-08T03:00:00-05:00"
    assert weather.hour_of(weather.at(146)) == 146
    assert replace(weather, start_at=weather.at(0)).hour_of(weather.at(146)) == 146


def test_curves_of_another_length_are_refused() -> None:
    with pytest.raises(Unusable) as refusal:
        find_pour_hours(some_weather(), Predicted(concrete_c=np.zeros(5), plate_c=None), some_need(), [])
    assert refusal.value.quantity == "concrete temperature"
    short = CureForecast(code="a", label="a", ready_h=np.zeros(3), source="GROUTJOBS", due_at=some_weather().at(5))
    with pytest.raises(Unusable):
        search(cure=(short,))


@pytest.mark.parametrize(
    "change", [{"placement_h": 0.0}, {"batch_min": math.nan}, {"material_c": 99.0}, {"protection_h": -1.0}]
)
def test_an_impossible_need_is_refused(change: dict[str, float]) -> None:
    with pytest.raises(OutOfRange):
        some_need(**change)
