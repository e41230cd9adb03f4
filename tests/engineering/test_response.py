"""Answers to errors of the forecast: in proportion, forgotten with time, and refused where they do not fit.

That they agree with the whole model is held in tests/scheduling/test_odds_one_by_one.py.
"""

from dataclasses import replace

import numpy as np
import pytest

from groutjobs.engineering.checks import Floats
from groutjobs.engineering.cure import EPOXY_CLOCK, hours_until_each
from groutjobs.engineering.heat import Temperatures, simulate, simulate_pours
from groutjobs.engineering.materials import grout
from groutjobs.engineering.response import AirErrors, DrawnAges, temperature_errors
from groutjobs.engineering.sky import HourlyAir, Ints
from groutjobs.errors import OutOfRange, Unusable
from tests.engineering.test_heat import EVEN, OPEN, PLATED, weather
from tests.scheduling.drawn_for_tests import FIRST, Place

PLACE = Place()
N_HOURS = PLACE.weather.n_hours


def errors(air_k: Floats, dew_point_k: Floats | None = None) -> AirErrors:
    return AirErrors(np.atleast_2d(air_k), np.zeros((1, len(air_k))) if dew_point_k is None else dew_point_k[None])


def plate_k(of: AirErrors) -> Floats:
    found = temperature_errors(PLACE.before, PLACE.air, FIRST, of).plate_k
    assert found is not None
    return np.asarray(found[0])


def test_twice_the_error_moves_everything_twice_and_none_moves_nothing() -> None:
    wave = 2.0 * np.sin(np.arange(N_HOURS + 1) / 5)
    once, twice, none = (plate_k(errors(factor * wave)) for factor in (1.0, 2.0, 0.0))
    assert twice == pytest.approx(2 * once, abs=1e-4)
    assert np.abs(once).max() > 1.0
    assert (none == 0.0).all()


def test_a_lasting_error_of_the_air_comes_through_to_the_plate_and_less_to_the_concrete() -> None:
    """The deep ground stays as it is, so neither reaches the whole kelvin; the sky warms with the air."""
    found = temperature_errors(PLACE.before, PLACE.air, FIRST, errors(np.ones(N_HOURS + 1)))
    assert found.plate_k is not None
    assert 0.8 < found.plate_k[0, -1] < 1.0
    assert 0.5 < found.concrete_k[0, -1] < found.plate_k[0, -1]
    assert (np.diff(found.concrete_k[0]) > -0.02).all()


def test_an_error_of_one_hour_is_forgotten_within_days() -> None:
    one_hour: Floats = np.zeros(N_HOURS + 1)
    one_hour[10] = 5.0
    found = plate_k(errors(one_hour))
    assert (found[:9] == 0.0).all()
    assert found[10] > 1.0
    assert abs(found[58]) < 0.05


def test_a_higher_dew_point_warms_the_plate_under_the_open_sky_a_little() -> None:
    """A kelvin of dew point makes the clear sky radiate about 0.4 K warmer [LI2017]; the sky is a third of the film."""
    still: Floats = np.zeros(N_HOURS + 1)
    found = plate_k(errors(still, -np.ones(N_HOURS + 1)))
    assert (found[24:] < 0.0).all()
    assert -0.3 < found[24:].mean() < -0.03


def test_hours_that_do_not_fit_are_refused() -> None:
    with pytest.raises(Unusable, match="hours of errors"):
        plate_k(errors(np.zeros(N_HOURS)))
    with pytest.raises(OutOfRange):
        temperature_errors(PLACE.before, PLACE.air, PLACE.air.n_hours, errors(np.zeros(1)))
    with pytest.raises(Unusable, match="for the air and"):
        AirErrors(np.zeros((2, 5)), np.zeros((2, 4)))


HOURS, POURED_FROM, WANTED_H = 168, 72, 16.0
STARTS = (0, 13, 30, 90)


class Drawn:
    """A week of weather whose last four days may be wrong by what is given, and its ages on the forecast."""

    def __init__(self, mean_c: float, wrong: AirErrors) -> None:
        self.air, self.wrong = weather(7, mean_c), wrong
        self.before = simulate(PLATED, self.air, OPEN, EVEN)
        self.after = self.pours_under(self.air, self.before, np.arange(POURED_FROM, HOURS + 1))
        drawn = temperature_errors(self.before, self.air, POURED_FROM, wrong)
        self.ages = DrawnAges(self.before, self.after, self.air, POURED_FROM, wrong, drawn, EPOXY_CLOCK)

    @staticmethod
    def pours_under(air: HourlyAir, before: Temperatures, starts: Floats | Ints) -> Temperatures:
        return simulate_pours(before, air, starts, HOURS - POURED_FROM, grout("epoxy"), grout_c=20.0)

    def ready_h(self, after: Temperatures) -> Floats:
        assert after.grout_coldest_c is not None
        at_h = np.arange(after.grout_coldest_c.shape[1], dtype=np.float64)
        return hours_until_each(WANTED_H, at_h, after.grout_coldest_c, EPOXY_CLOCK)

    def run_alone(self, sample: int) -> Floats:
        """When the grout is ready after a pour at each of STARTS, from the whole model under this weather."""
        air_c, dew_point_c = self.air.air_c.copy(), self.air.dew_point_c.copy()
        air_c[POURED_FROM:] += self.wrong.air_k[sample]
        dew_point_c[POURED_FROM:] += self.wrong.dew_point_k[sample]
        air = replace(self.air, air_c=air_c, dew_point_c=dew_point_c)
        return self.ready_h(self.pours_under(air, simulate(PLATED, air, OPEN, EVEN), POURED_FROM + np.array(STARTS)))


def waves_k(*heights_k: float) -> AirErrors:
    """Errors that grow in a day to their height and stay; half of them in the dew point."""
    air_k = np.outer(heights_k, np.minimum(np.arange(HOURS - POURED_FROM + 1.0) / 24, 1.0))
    return AirErrors(air_k, air_k / 2)


@pytest.mark.parametrize(("mean_c", "within_h"), [(20.0, 0.15), (12.0, 0.5)])
def test_ages_are_those_of_the_whole_model_under_each_weather(mean_c: float, within_h: float) -> None:
    """Warm, and near 10 °C where the clock stops. A pour 90 h on is not ready before the weather ends, as it should."""
    drawn = Drawn(mean_c, waves_k(-3.0, 0.0, 1.5))
    for sample in range(3):
        alone = drawn.run_alone(sample)
        found = np.array([drawn.ages.ready_h(start, WANTED_H)[sample] for start in STARTS])
        assert np.isnan(alone).sum() <= 2
        assert np.isnan(found).tolist() == np.isnan(alone).tolist()
        assert found[~np.isnan(found)] == pytest.approx(alone[~np.isnan(alone)], abs=within_h)


def test_it_is_met_where_the_weather_by_itself_would_meet_it() -> None:
    """Due half an hour before or after the grout is ready on the forecast: a warmer week is in time, a colder not."""
    drawn = Drawn(20.0, waves_k(-3.0, 0.0, 3.0))
    on_forecast_h = drawn.ready_h(drawn.after)
    asked = np.isin(np.arange(len(on_forecast_h)), STARTS)
    for late_h, middle in ((0.5, True), (-0.5, False)):
        met = drawn.ages.met_by(WANTED_H, on_forecast_h + late_h, on_forecast_h, asked)
        assert met.shape == (3, len(on_forecast_h))
        assert met[1, list(STARTS[:3])].tolist() == [middle] * 3
        assert met[0, list(STARTS[1:3])].tolist() == [False] * 2
        assert met[2, list(STARTS[1:3])].tolist() == [True] * 2
        assert (met[:, ~asked] == ((on_forecast_h + late_h) >= on_forecast_h)[~asked]).all()


def test_what_is_due_before_the_pour_is_never_met_and_what_is_due_after_the_weather_is_met_by_its_end() -> None:
    drawn = Drawn(20.0, waves_k(0.0))
    ready_h = drawn.ready_h(drawn.after)
    every = np.ones(len(ready_h), dtype=np.bool_)
    past = drawn.ages.met_by(WANTED_H, np.full(len(ready_h), -1.0), ready_h, every)
    late = drawn.ages.met_by(WANTED_H, np.full(len(ready_h), 500.0), ready_h, every)
    assert not past.any()
    assert late[0, :60].tolist() == (ready_h[:60] <= 500.0).tolist()
    assert late[0, 0]
    assert not late[0, 90]
