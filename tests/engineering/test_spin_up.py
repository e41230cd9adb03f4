"""What stands before the forecast, and how much of a wrong start it leaves."""

import math
from dataclasses import fields, replace

import numpy as np
import pytest

from groutjobs.engineering import heat
from groutjobs.engineering.checks import Floats
from groutjobs.engineering.heat import AnnualStart, Case, Surroundings, Underside
from groutjobs.engineering.sky import Exposure, HourlyAir
from groutjobs.engineering.spin_up import SpinUp, left_error_k, spun_up
from groutjobs.errors import OutOfRange, Unusable
from tests.engineering.test_heat import PLATED, typical_year, weather

YEAR = typical_year(0, 8759)
AHEAD_H = 72
DATES_D = range(40, 340, 30)


def from_year(first: int, last: int) -> HourlyAir:
    return YEAR.at(np.arange(first, last + 1) % 8760)


def test_thirty_known_days_stay_as_they_are() -> None:
    air = weather(35)
    found = spun_up(air, 720, Exposure.OPEN, weather(40))
    assert found.added_h == 0
    assert found.air.air_c.tolist() == air.air_c.tolist()


def test_ten_known_days_get_a_usual_year_before_them_where_there_is_one() -> None:
    air, usual = weather(14), weather(40, 25.0)
    assert spun_up(air, 240, Exposure.OPEN, None).added_h == 0
    found = spun_up(air, 240, Exposure.OPEN, usual)
    assert (found.repeated_h, found.usual_year_h) == (0, 480)
    assert found.air.air_c[:480].tolist() == usual.air_c[-480:].tolist()
    assert found.air.air_c[480:].tolist() == air.air_c.tolist()


def test_the_first_day_is_repeated_to_ten_days_and_the_usual_year_stands_before_it() -> None:
    air, usual = weather(6), weather(40, 25.0)
    found = spun_up(air, 50, Exposure.OPEN, usual)
    assert (found.repeated_h, found.usual_year_h, found.added_h) == (192, 478, 670)
    assert found.air.air_c[478:502].tolist() == air.air_c[:24].tolist()
    assert found.air.air_c[477] == usual.air_c[-193]
    assert found.air.air_c[670:].tolist() == air.air_c.tolist()


def test_a_usual_year_that_ends_short_gives_what_it_has() -> None:
    found = spun_up(weather(3), 0, Exposure.OPEN, weather(12, 25.0))
    assert (found.repeated_h, found.usual_year_h) == (240, 289 - 240)
    assert spun_up(weather(3), 0, Exposure.OPEN, weather(5)).usual_year_h == 0


@pytest.mark.parametrize("exposure", [Exposure.SHELTERED, Exposure.INDOORS])
def test_a_usual_year_is_left_out_under_a_roof(exposure: Exposure) -> None:
    assert spun_up(weather(14), 240, exposure, weather(40, 25.0)).added_h == 0


def test_less_than_a_day_is_not_repeated() -> None:
    short = weather(1).at(np.arange(12))
    assert spun_up(short, 0, Exposure.OPEN, None).added_h == 0


def run_errors_k(known_d: int, exposure: Exposure, *, shifted_d: int | None) -> Floats:
    """Error of the concrete surface over three days on ten dates, against runs over 200 days. The same typical year,
    moved by some days, stands for another year."""
    around = Surroundings(exposure=exposure, underside=Underside.GROUND, ground_c=14.5)
    truths, tries = [], []
    for date_d in DATES_D:
        first = (date_d - known_d) * 24
        usual = None if shifted_d is None else from_year(first - 720 + shifted_d * 24, first - 1 + shifted_d * 24)
        tried = spun_up(from_year(first, date_d * 24 + AHEAD_H), known_d * 24, exposure, usual)
        truths.append(case_from(from_year(date_d * 24 - 4800, date_d * 24 + AHEAD_H), date_d - 200, around))
        tries.append(case_from(tried.air, date_d - known_d - tried.added_h / 24, around))
    lengths = {case.air.n_hours for case in tries}
    assert len(lengths) == 1
    pairs = zip(heat.simulate_machines(tries), heat.simulate_machines(truths), strict=True)
    return np.array([a.concrete_surface_c[-AHEAD_H:] - b.concrete_surface_c[-AHEAD_H:] for a, b in pairs])


def case_from(air: HourlyAir, first_d: float, around: Surroundings) -> Case:
    """Greensboro: mean 14.5 °C, 22 K between the warmest and the coldest, warmest on day 200."""
    after_d = (first_d - 200 + 182.5) % 365 - 182.5
    start = AnnualStart(annual_mean_c=14.5, annual_swing_k=22.0, days_after_warmest=after_d)
    return Case(layers=PLATED, air=air, surroundings=around, start=start)


@pytest.mark.parametrize(
    ("known_d", "exposure", "shifted_d"),
    [
        (30, Exposure.OPEN, None),
        (10, Exposure.OPEN, None),
        (10, Exposure.OPEN, 20),
        (3, Exposure.OPEN, None),
        (3, Exposure.OPEN, -20),
        (10, Exposure.SHELTERED, None),
        (1, Exposure.SHELTERED, None),
    ],
)
def test_the_error_told_is_the_error_found(known_d: int, exposure: Exposure, shifted_d: int | None) -> None:
    """Our own numbers, on fewer dates than they were found on: within 40 %."""
    found_k = math.sqrt(np.mean(run_errors_k(known_d, exposure, shifted_d=shifted_d) ** 2))
    told_k = left_error_k(known_d * 24, exposure, 0.0 if shifted_d is None else 1.0)
    assert 0.6 < found_k / told_k < 1.4


def test_more_known_past_leaves_less_error() -> None:
    for exposure in Exposure:
        told = [left_error_k(24.0 * days, exposure, ratio) for ratio in (0.0, 1.0) for days in (0, 1, 3, 5, 10, 20, 30)]
        assert told[:7] == sorted(told[:7], reverse=True)
        assert all(with_it <= without for without, with_it in zip(told[:7], told[7:], strict=True))


def test_a_usual_year_takes_from_the_error_by_the_share_that_it_gives() -> None:
    """Ten known days leave 480 of 720 h wanted; a usual year of 120 h gives a quarter of them."""
    air = weather(14)
    for usual, share in ((weather(40), 1.0), (weather(5).at(np.arange(120)), 0.25), (None, 0.0)):
        told_k = spun_up(air, 240, Exposure.OPEN, usual).left_error_k
        assert told_k == pytest.approx(0.8 - 0.3 * share)
    assert spun_up(weather(35), 720, Exposure.OPEN, weather(40)).left_error_k == 0.35


def test_impossible_past_is_refused() -> None:
    with pytest.raises(OutOfRange) as refusal:
        spun_up(weather(2), 49, Exposure.OPEN, None)
    assert refusal.value.quantity == "past hours"
    rows = {field.name: np.stack([getattr(weather(2), field.name)] * 2) for field in fields(HourlyAir)}
    with pytest.raises(Unusable):
        spun_up(HourlyAir(**rows), 0, Exposure.OPEN, None)


def test_it_says_what_was_used() -> None:
    found = spun_up(weather(6), 48, Exposure.OPEN, None)
    assert found == replace(found, repeated_h=192, usual_year_h=0, past_h=48)
    assert isinstance(found, SpinUp)
    assert found.left_error_k == pytest.approx(1.0)
