"""What the Cure page says of cement grout: maturity by two sums, and until when to keep it wet and warm."""

import math
from typing import Any

import pytest
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.pours.models import Pour
from tests.curing.asking import signed_in, site_of
from tests.curing.test_cure_clock import codes, hours_of, milestone, pour_with, state_of, steady

pytestmark = pytest.mark.django_db


def cement(**sheet: Any) -> Pour:
    return pour_with(**{"kind": "cement", "activation_kj_mol": None, "cure_min_c": 5.0} | sheet)


def test_both_maturities_are_shown_with_datum_and_energy() -> None:
    """By hand: 30 h at 25 °C are 750 °C·h above 0 °C and 1050 above -10 °C. Equivalent age at 20 °C with 41.6 kJ/mol:

    30 h · exp(41 600/8.314 · (1/293.15 - 1/298.15)) = 39.9 h, formula of ASTM C1074 from memory.
    """
    pour = cement()
    steady(pour, 25.0, 30)
    maturity = state_of(pour, 30.0)["cement"]["maturity"]
    assert maturity["sum_c_h"] == pytest.approx(750.0)
    assert maturity["old_sum_c_h"] == pytest.approx(1050.0)
    assert maturity["age_h"] == pytest.approx(30 * math.exp(41_600 / 8.314 * (1 / 293.15 - 1 / 298.15)), rel=1e-3)
    assert (maturity["datum_c"], maturity["activation_kj_mol"], maturity["source"]) == (0.0, 41.6, "ASTMC1074")


def test_it_is_kept_wet_for_three_days_and_warm_for_seven() -> None:
    pour = cement()
    steady(pour, 18.0, 30)
    wet = state_of(pour, 30.0)["cement"]["wet"]
    assert (wet["counted_wet_h"], wet["counted_warm_h"]) == pytest.approx((30.0, 30.0))
    assert hours_of(wet["wet_until_at"]) == pytest.approx(72.0, abs=1e-3)
    assert hours_of(wet["warm_until_at"]) == pytest.approx(168.0, abs=1e-3)
    assert (wet["is_wet_over"], wet["is_warm_over"], wet["source"]) == (False, False, "BLOCH-MCM")


def test_hours_below_ten_degrees_put_it_off_and_are_told() -> None:
    pour = cement()
    steady(pour, 8.0, 30)
    state = state_of(pour, 30.0)
    assert state["cement"]["wet"]["counted_wet_h"] == 0.0
    assert state["cement"]["wet"]["wet_until_at"] is None
    assert "cure.cold_wet" in codes(state)


def test_after_seven_warm_days_both_are_over() -> None:
    pour = cement()
    steady(pour, 18.0, 170)
    wet = state_of(pour, 170.0)["cement"]["wet"]
    assert (wet["is_wet_over"], wet["is_warm_over"]) == (True, True)


def test_its_days_are_counted_and_carry_no_range() -> None:
    pour = cement()
    steady(pour, 18.0, 30)
    state = state_of(pour, 30.0)
    assert state["rate"] is None
    assert milestone(state, "align")["band"] is None
    assert not {"cure.no_range", "cure.unlike"} & codes(state)


def test_epoxy_is_not_kept_wet() -> None:
    pour = pour_with()
    steady(pour, 23.0, 5)
    assert state_of(pour, 5.0)["cement"] is None


@pytest.mark.parametrize("hours", [0, 30])
def test_the_page_says_until_when_before_and_after_the_first_reading(hours: int) -> None:
    pour = cement()
    if hours:
        steady(pour, 18.0, hours)
    address = reverse("curing:cure_detail", args=[pour.pk])
    text = signed_in(site_of(pour), Role.CREW, system="us").get(address).content.decode()
    assert "Keep wet until" in text
    assert "50.0 °F" in text
    assert ("°C·h above" in text) == bool(hours)
