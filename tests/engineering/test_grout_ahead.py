"""Temperatures ahead of the readings: limits that physics fixes, and courses that lead through what was measured."""

import math
from dataclasses import replace

import numpy as np
import pytest

from groutjobs.engineering.grout_ahead import FADES_IN_H, Heating, band_of, bent_to_readings, temperatures_ahead
from groutjobs.errors import Unusable
from tests.engineering.self_heating import KINETICS, setting

STILL = replace(setting(), placed_c=20.0)


def ahead(**given: object) -> object:
    defaults: dict[str, object] = {"log_pace": 0.0, "log_pace_sd": 0.3, "seed": 4}
    return temperatures_ahead(None, STILL, np.full((12, 200), 20.0), **defaults | given)  # type: ignore[arg-type]


def test_grout_without_heat_of_its_own_stays_at_the_temperature_of_all_around_it() -> None:
    # Property: nothing but an unlike foundation, drawn 2 K off, moves it; the mean of the pairs cancels.
    found = temperatures_ahead(None, STILL, np.full((12, 200), 20.0), log_pace=0.0, log_pace_sd=0.3, seed=4)
    assert np.mean(found.grout_c, axis=0) == pytest.approx(np.full(200, 20.0), abs=0.3)


def test_epoxy_warms_itself_and_comes_back_to_the_air() -> None:
    found = temperatures_ahead(KINETICS, setting(), np.full((12, 400), 20.0), log_pace=0.0, log_pace_sd=0.0, seed=4)
    middle_c = np.median(found.grout_c, axis=0)
    assert middle_c.max() > 24.0
    assert middle_c[-1] == pytest.approx(20.0, abs=1.0)


def test_heat_warms_grout_towards_the_held_air_and_never_beyond() -> None:
    heating = Heating(air_c=30.0, from_h=10.0, until_h=190.0)
    found = temperatures_ahead(
        None, STILL, np.full((12, 200), 20.0), log_pace=0.0, log_pace_sd=0.0, seed=4, heating=heating
    )
    middle_c = np.median(found.grout_c, axis=0)
    assert (np.diff(middle_c[12:185]) > -1e-6).all()
    assert 24.0 < middle_c[185] < 30.0
    assert found.surface_w_m2[20:180].min() > 0.0


def test_heating_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(Unusable, match="ends before"):
        ahead(heating=Heating(air_c=30.0, from_h=10.0, until_h=5.0))


def test_courses_lead_through_the_readings_and_what_they_are_off_fades() -> None:
    at_h, rows_c = np.arange(0.0, 100.0), np.full((2, 100), 20.0)
    bent = bent_to_readings(at_h, rows_c, np.array([5.0, 10.0]), np.array([26.0, 24.0]))
    assert bent[:, 5] == pytest.approx([26.0, 26.0])
    assert bent[:, 10] == pytest.approx([24.0, 24.0])
    assert bent[0, 22] == pytest.approx(20.0 + 4.0 * math.exp(-12.0 / FADES_IN_H))
    assert bent[0, 99] == pytest.approx(20.0, abs=0.01)


def test_the_band_holds_every_course() -> None:
    rows_c = np.random.default_rng(3).normal(20.0, 2.0, (12, 30))
    low, middle, high = band_of(rows_c)
    assert ((rows_c >= low) & (rows_c <= high)).all()
    assert ((middle >= low) & (middle <= high)).all()
