"""Heater size and preheating of an enclosure: by hand, by limit cases, by refusals."""

from dataclasses import replace

import numpy as np
import pytest

from groutjobs.engineering import heat
from groutjobs.engineering.enclosure_heat import (
    HeaterNeed,
    PreheatLeads,
    Tent,
    heater_findings,
    heater_need,
    preheat_finding,
    preheat_leads,
)
from groutjobs.engineering.protection import Enclosure, Shade
from groutjobs.engineering.sky import HourlyAir
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.findings import Level
from tests.engineering.test_heat import OPEN, PLATED, START, weather

COLD = weather(6, 2.0, 4.0, 300.0)
STEADY = weather(6, 0.0, 0.0, 0.0)
TENT = Tent(skin_m2=60.0, volume_m3=50.0, surface_m2=12.0, air_changes=2.0)
HEATED = Enclosure(from_hour=48, to_hour=120, air_c=20.0, film_w_m2k=8.0, walls_w_m2k=3.0)


def need_of(enclosure: Enclosure, air: HourlyAir = COLD, tent: Tent = TENT) -> HeaterNeed:
    return heater_need(enclosure, tent, heat.simulate(PLATED, air, OPEN.under(enclosure), START), air)


def test_walls_and_air_take_what_a_hand_calculation_says() -> None:
    """By hand, air outside 0 °C: walls 3.0 · 60 · 20 = 3600 W; air 0.33 · 2 · 50 · 20 = 660 W, each hour."""
    found = need_of(HEATED, STEADY)
    assert found.walls_heat_kw == pytest.approx([3.6] * 72)
    assert found.air_heat_kw == pytest.approx([0.66] * 72)
    assert found.total_heat_kw == pytest.approx(3.6 + 0.66 + found.surface_heat_kw)


def test_walls_and_air_follow_the_mean_of_each_hour() -> None:
    """By hand with the air outside of each hour's two ends: 3.0 · 60 W/K through walls, 0.33 · 2 · 50 W/K in air."""
    outside_c = COLD.air_c[48:121]
    warmer_k = 20.0 - (outside_c[:-1] + outside_c[1:]) / 2
    found = need_of(HEATED)
    assert found.walls_heat_kw == pytest.approx(0.18 * warmer_k)
    assert found.air_heat_kw == pytest.approx(0.033 * warmer_k)


def test_the_heat_into_the_surface_is_what_a_hand_calculation_says() -> None:
    """By hand, a day after the heater came on: convection 8 · (20 - Ts), and radiation with emissivity 0.9 between the
    plate and walls at 20 - 3 · 0.13 · 20 = 12.2 °C, at the mean plate temperature of the hour. 1 % for its curve.
    """
    run = heat.simulate(PLATED, STEADY, OPEN.under(HEATED), START)
    assert run.plate_c is not None
    plate_k = float(run.plate_c[72:74].mean()) + 273.15
    flux_w_m2 = 8 * (293.15 - plate_k) + PLATED.top.emissivity * 5.670374419e-8 * (285.35**4 - plate_k**4)
    assert run.heat_in_w_m2[72] == pytest.approx(flux_w_m2, rel=0.01)
    assert heater_need(HEATED, TENT, run, STEADY).surface_heat_kw[24] == pytest.approx(12 * flux_w_m2 / 1000, rel=0.01)


def test_the_first_hour_asks_for_most_and_the_need_falls() -> None:
    found = need_of(HEATED, STEADY)
    assert found.peak_heat_kw == found.total_heat_kw[0]
    assert (np.diff(found.total_heat_kw) < 0).all()
    assert found.total_heat_kw[-1] < found.mean_heat_kw < found.peak_heat_kw


def test_a_warmer_enclosure_needs_more_heat_in_each_hour() -> None:
    assert (need_of(replace(HEATED, air_c=25.0)).total_heat_kw > need_of(HEATED).total_heat_kw).all()


def test_hours_with_heat_left_over_count_as_none_in_the_mean() -> None:
    need = HeaterNeed(walls_heat_kw=np.zeros(2), air_heat_kw=np.zeros(2), surface_heat_kw=np.array([4.0, -2.0]))
    assert (need.peak_heat_kw, need.mean_heat_kw) == (4.0, 2.0)


def test_an_enclosure_that_outlasts_the_weather_is_counted_to_its_end() -> None:
    assert len(need_of(replace(HEATED, to_hour=400)).total_heat_kw) == 144 - 48


def test_a_run_without_the_enclosure_is_refused() -> None:
    with pytest.raises(Unusable):
        heater_need(HEATED, TENT, heat.simulate(PLATED, COLD, OPEN, START), COLD)
    with pytest.raises(Unusable):
        need_of(replace(HEATED, air_c=None))


@pytest.mark.parametrize(("field", "quantity"), [("skin_m2", "walls and roof"), ("air_changes", "air changes")])
def test_an_impossible_tent_is_refused(field: str, quantity: str) -> None:
    with pytest.raises(OutOfRange) as refusal:
        replace(TENT, **{field: 0.0})
    assert refusal.value.quantity.startswith(quantity)


def test_each_lead_is_the_run_with_the_enclosure_from_then_on() -> None:
    """To 0.01 K, see simulate_onward."""
    before = heat.simulate(PLATED, COLD, OPEN, START)
    leads = preheat_leads(before, COLD, HEATED)
    assert leads.lead_h.tolist() == list(range(73))
    assert leads.plate_c is not None
    for lead in (0, 1, 24, 72):
        around = OPEN if lead == 0 else OPEN.under(replace(HEATED, from_hour=120 - lead))
        alone = heat.simulate(PLATED, COLD, around, START)
        assert alone.plate_c is not None
        assert leads.concrete_c[lead] == pytest.approx(alone.concrete_surface_c[120], abs=0.01)
        assert leads.plate_c[lead] == pytest.approx(alone.plate_c[120], abs=0.01)


def test_the_shortest_lead_holds_for_every_longer_one() -> None:
    """Sun may warm a plate more than a tent does, so the leads need not rise; here the third dips."""
    curve = np.array([8.0, 12.0, 16.0, 14.0, 15.5, 17.0])
    leads = PreheatLeads(lead_h=np.arange(6), concrete_c=curve, plate_c=None)
    assert leads.shortest_h(15.0) == 4
    assert leads.shortest_h(7.0) == 0
    assert leads.shortest_h(17.5) is None


def test_a_plate_that_is_still_cold_waits_too() -> None:
    leads = PreheatLeads(lead_h=np.arange(3), concrete_c=np.full(3, 15.0), plate_c=np.array([5.0, 12.0, 16.0]))
    assert leads.shortest_h(15.0) == 2
    assert leads.shortest_h(15.1) is None
    assert leads.shortest_h(5.0) == 0


def test_the_longer_it_is_on_the_warmer_the_concrete() -> None:
    leads = preheat_leads(heat.simulate(PLATED, STEADY, OPEN, START), STEADY, HEATED)
    assert (np.diff(leads.concrete_c) > 0).all()
    assert 0.0 < leads.concrete_c[0] < leads.concrete_c[-1] < 20.0


def test_a_cover_in_the_way_and_a_pour_beyond_the_weather_are_refused() -> None:
    shaded = OPEN.under(Shade(from_hour=0, to_hour=60, sun_left_ratio=0.5))
    with pytest.raises(Unusable, match="two overlap"):
        preheat_leads(heat.simulate(PLATED, COLD, shaded, START), COLD, HEATED)
    with pytest.raises(OutOfRange):
        preheat_leads(heat.simulate(PLATED, COLD, OPEN, START), COLD, replace(HEATED, to_hour=200))


def test_the_finding_tells_hours_or_that_they_do_not_do() -> None:
    leads = PreheatLeads(lead_h=np.arange(4), concrete_c=np.array([5.0, 9.0, 12.0, 14.0]), plate_c=None)
    reached, missed = preheat_finding(leads, 12.0, "metric"), preheat_finding(leads, 15.0, "us")
    assert (reached.code, reached.level) == ("preheat", Level.NOTE)
    assert "2 h before the pour" in reached.message
    assert "24 h or more" in reached.hint
    assert (missed.code, missed.level) == ("preheat_too_short", Level.WARNING)
    assert "57.2 °F" in missed.message
    assert "59.0 °F" in missed.message


def test_the_heater_comes_with_its_cautions() -> None:
    """CFR1926.154 asks for fresh air and 10 ft from sheets."""
    need = HeaterNeed(walls_heat_kw=np.full(2, 3.0), air_heat_kw=np.zeros(2), surface_heat_kw=np.array([2.0, 0.0]))
    found = {finding.code: finding for finding in heater_findings(need, "us")}
    assert set(found) == {"heater_size", "heater_fumes", "heater_fire", "heater_moisture"}
    assert "17\u202f061 Btu/h" in found["heater_size"].message  # 5 kW, 3412 Btu/h each
    assert "Carbon monoxide" in found["heater_fumes"].message
    assert "3 m (10 ft)" in found["heater_fire"].message
    assert [found[code].level for code in ("heater_fumes", "heater_fire", "heater_moisture")] == [Level.WARNING] * 3
    assert all("rules of the site" in found[code].hint.lower() for code in ("heater_fumes", "heater_fire"))
