"""The cure clock of a pour: equivalent age, milestones, the cold bound of gaps, and what it says without a reading."""

import datetime as dt
import math
from typing import Any

import pytest
from scipy.integrate import quad

from groutjobs.curing.queries import cure_of
from groutjobs.pours.models import Pour
from groutjobs.weather.models import Forecast
from tests.factories import (
    PLACED_AT,
    make_approved_plan,
    make_cure_readings,
    make_data_sheet,
    make_grout_system,
    make_machine,
    make_placed_pour,
    make_pour,
)

pytestmark = pytest.mark.django_db
HOUR = dt.timedelta(hours=1)


def pour_with(**sheet: Any) -> Pour:
    machine = make_machine()
    system = make_grout_system(site=machine.site, kind=sheet.pop("kind", "epoxy"))
    return make_placed_pour(
        plan=make_approved_plan(machine=machine, data_sheet=make_data_sheet(grout_system=system, **sheet))
    )


def steady(pour: Pour, temp_c: float, hours: int) -> None:
    make_cure_readings(pour=pour, temps=[(float(hour), temp_c) for hour in range(hours + 1)])


def state_of(pour: Pour, hours: float, **given: Any) -> dict[str, Any]:
    return cure_of(pour, at=PLACED_AT + hours * HOUR, **given)


def milestone(state: dict[str, Any], code: str) -> dict[str, Any]:
    return next(item for item in state["milestones"] if item["code"] == code)


def codes(state: dict[str, Any]) -> set[str]:
    return {finding["code"] for finding in state["findings"]}


def hours_of(moment: str) -> float:
    return (dt.datetime.fromisoformat(moment) - PLACED_AT) / HOUR


def forecast(pour: Pour, temp_c: float, hours: int, starts_at: dt.datetime = PLACED_AT) -> Forecast:
    site = pour.plan.machine.site
    return Forecast.objects.create(
        site=site, source="hand", source_name="invented hours", issued_at=starts_at, zone=site.zone,
        starts_at=starts_at, hour_count=hours, hours={"temp_c": [temp_c] * hours}, made_by=pour.opened_by,
    )  # fmt: skip


def test_at_the_reference_temperature_an_hour_counts_an_hour() -> None:
    pour = pour_with()
    steady(pour, 23.0, 30)
    state = state_of(pour, 30.5)
    assert state["last"]["age_h"] == pytest.approx(30.0, abs=1e-9)
    strip = milestone(state, "strip")
    assert strip["state"] == "reached"
    assert hours_of(strip["reached_surely_at"]) == pytest.approx(24.0, abs=1 / 3600)


def test_twelve_hours_at_ten_degrees_are_five_and_a_half_at_the_reference() -> None:
    # ASTM C1074 equivalent-age function with Q = 5000 K (E = 5000 K · 8.314 J/mol·K = 41.57 kJ/mol), from memory:
    # exp(-5000 (1/283 - 1/296)) · 12 h = 5.52 h at 23 °C; the zero at 273.15 instead of 273 changes the third digit
    pour = pour_with(activation_kj_mol=41.57)
    steady(pour, 10.0, 12)
    assert state_of(pour, 12.0)["last"]["age_h"] == pytest.approx(5.52, abs=0.01)


def test_half_hourly_readings_of_a_changing_cure_are_within_a_third_of_a_percent() -> None:
    # Against adaptive quadrature of the rate (scipy.integrate.quad, a general-purpose reference).
    def temp_c(hour: float) -> float:
        return 18.0 + 4.0 * math.sin(hour / 24 * math.tau)

    def rate(hour: float) -> float:
        return math.exp(-55e3 / 8.314462618 * (1 / (temp_c(hour) + 273.15) - 1 / 296.15))

    pour = pour_with()
    make_cure_readings(pour=pour, temps=[(hour / 2, temp_c(hour / 2)) for hour in range(97)])
    truth = quad(rate, 0.0, 48.0, limit=200)[0]
    assert state_of(pour, 48.0)["last"]["age_h"] == pytest.approx(truth, rel=0.003)


def test_the_clock_runs_no_faster_than_at_the_hottest_temperature_of_the_data_sheet() -> None:
    rows = [[32.0, 12.0, 60.0], [32.0, 24.0, 75.0], [32.0, 96.0, 95.0]]
    ages = {}
    for temp_c in (32.0, 45.0):
        pour = pour_with(strength=rows)
        steady(pour, temp_c, 10)
        ages[temp_c] = state_of(pour, 10.0)["last"]["age_h"]
    assert ages[45.0] == pytest.approx(ages[32.0])
    assert ages[32.0] > 10.0


def test_it_stands_still_below_the_minimum_and_says_so() -> None:
    pour = pour_with()
    steady(pour, 7.0, 20)
    state = state_of(pour, 20.0)
    assert state["last"]["age_h"] == 0.0
    assert "cure.cold" in codes(state)
    assert milestone(state, "strip")["state"] == "never_so_cold"


def test_it_starts_when_the_last_batch_is_placed() -> None:
    pour = make_pour(state="poured", poured_at=PLACED_AT)
    state = state_of(pour, 5.0)
    assert (state["started_at"], state["milestones"]) == (None, [])
    assert codes(state) == {"cure.not_placed"}


def test_readings_before_placing_do_not_count() -> None:
    pour = pour_with()
    make_cure_readings(pour=pour, temps=[(-5.0, 60.0), (-1.0, 60.0), (0.0, 23.0), (1.0, 23.0)])
    assert state_of(pour, 1.0)["last"]["age_h"] == pytest.approx(1.0)


def test_a_gap_gives_a_lower_bound_and_a_milestone_counts_by_it_alone() -> None:
    pour = pour_with()
    make_cure_readings(pour=pour, temps=[(0.0, 23.0), (1.0, 23.0), (25.0, 12.0), (26.0, 23.0), (30.0, 23.0)])
    state = state_of(pour, 30.0)
    assert [(gap["first_h"], gap["last_h"]) for gap in state["gaps"]] == [(1.0, 25.0), (26.0, 30.0)]
    # in the long gap the colder end, 12 °C, for 24 h: the rate there is exp(-55e3/R (1/285.15 - 1/296.15)) = 0.422
    assert state["last"]["age_low_h"] == pytest.approx(1.0 + 24 * 0.4222 + 0.68 + 4.0, abs=0.1)
    assert state["last"]["age_low_h"] < state["last"]["age_h"]
    assert milestone(state, "strip")["reached_surely_at"] is None
    assert "cure.gap" in codes(state)


def test_before_the_first_reading_the_lower_bound_counts_nothing() -> None:
    pour = pour_with()
    make_cure_readings(pour=pour, temps=[(10.0, 23.0), (11.0, 23.0)])
    last = state_of(pour, 11.0)["last"]
    assert last["age_h"] == pytest.approx(11.0)
    assert last["age_low_h"] == pytest.approx(1.0, abs=0.01)


def test_a_milestone_reached_only_if_the_gap_was_warm_says_so() -> None:
    pour = pour_with()
    make_cure_readings(pour=pour, temps=[(0.0, 23.0), (20.0, 23.0), (26.0, 15.0)])
    strip = milestone(state_of(pour, 26.0), "strip")
    assert strip["state"] == "reached_unless_cold"
    assert strip["reached_at"] is not None


def test_ahead_it_holds_the_last_reading_and_follows_the_air_and_expects_the_later() -> None:
    pour = pour_with()
    steady(pour, 23.0, 10)
    forecast(pour, 13.0, 400)
    strip = milestone(state_of(pour, 10.0), "strip")
    assert hours_of(strip["expected_held_at"]) == pytest.approx(24.0, abs=0.01)
    # 13 °C: rate exp(-55e3/R (1/286.15 - 1/296.15)) = 0.4581, so some 30.6 h more, less the hour of falling to it
    assert hours_of(strip["expected_air_at"]) == pytest.approx(10.0 + 14.0 / 0.4581, abs=0.7)
    assert strip["expected_at"] == strip["expected_air_at"]
    assert strip["state"] == "expected"


def test_an_expected_hour_that_has_passed_asks_for_a_reading() -> None:
    pour = pour_with()
    steady(pour, 23.0, 20)
    state = state_of(pour, 30.0)
    assert milestone(state, "strip")["state"] == "due"
    assert "cure.stale" in codes(state)
    assert state["now"]["age_h"] == pytest.approx(30.0, abs=0.01)


def test_without_a_grout_reading_it_follows_the_air_and_reaches_nothing() -> None:
    pour = pour_with()
    forecast(pour, 23.0, 100)
    state = state_of(pour, 60.0)
    assert (state["basis"], state["last"]) == ("air", None)
    assert milestone(state, "strip")["state"] == "expected_unmeasured"
    assert milestone(state, "full_cure")["state"] == "beyond_forecast"
    assert "cure.no_grout_reading" in codes(state)


def test_without_anything_it_says_that_nothing_can_be_said() -> None:
    state = state_of(pour_with(), 60.0)
    assert state["basis"] == "none"
    assert "nothing can be said" in state["findings"][0]["message"]


def test_a_forecast_that_begins_long_after_the_last_reading_is_not_joined_to_it() -> None:
    pour = pour_with()
    steady(pour, 23.0, 10)
    forecast(pour, 13.0, 100, starts_at=PLACED_AT + 20 * HOUR)
    assert milestone(state_of(pour, 10.0), "strip")["expected_air_at"] is None


def test_the_strength_estimate_follows_the_rows_of_the_data_sheet() -> None:
    # rows of the invented data sheet: 45 MPa at 16 h, 62 at 24 h, 80 at 48 h, 95 at 168 h, all at 23 °C
    pour = pour_with()
    steady(pour, 23.0, 48)
    state = state_of(pour, 48.0)
    assert state["last"]["strength_mpa"] == pytest.approx(80.0, rel=0.05)
    assert milestone(state, "strip")["strength_mpa"] == pytest.approx(62.0, rel=0.05)


def test_a_data_sheet_with_one_row_gives_no_strength_and_says_why() -> None:
    state = state_of(pour_with(strength=[[23.0, 24.0, 60.0]]), 1.0)
    assert state["strength"] is None
    assert "three different ages" in next(f["message"] for f in state["findings"] if f["code"] == "cure.no_strength")


def test_a_missing_activation_energy_is_ours_and_says_so() -> None:
    clock = state_of(pour_with(activation_kj_mol=None), 1.0)["clock"]
    assert (clock["activation_kj_mol"], clock["activation_source"]) == (58.0, "GROUTJOBS")


def test_cement_grout_waits_seven_days_and_warmth_does_not_shorten_them() -> None:
    pour = pour_with(kind="cement", activation_kj_mol=None, cure_min_c=5.0)
    steady(pour, 30.0, 170)
    align = milestone(state_of(pour, 170.0), "align")
    assert hours_of(align["reached_at"]) == pytest.approx(168.0, abs=0.01)
    assert "cure.model" not in codes(state_of(pour, 170.0))


def test_the_words_are_in_the_units_of_the_reader() -> None:
    pour = pour_with()
    steady(pour, 7.0, 20)
    words = " ".join(finding["message"] for finding in state_of(pour, 20.0, system="us")["findings"])
    assert "46.4 °F" in words
    assert "°C" not in words


def test_many_readings_are_drawn_with_at_most_two_thousand_points() -> None:
    pour = pour_with()
    temps = [(minute / 10, 23.0 + (15.0 if minute == 777 else 0.0)) for minute in range(4_000)]
    make_cure_readings(pour=pour, temps=temps)
    drawn = state_of(pour, 400.0)["series"]["grout"]
    assert len(drawn["at_h"]) <= 2_000
    assert max(drawn["temp_c"]) == 38.0
