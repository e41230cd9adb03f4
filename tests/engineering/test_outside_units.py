"""Every unit that a person may choose, against the constants of a second library."""

import math

import numpy as np
import pytest
from scipy import constants

from groutjobs import units

IN_SI = {
    "in": constants.inch * 1000,
    "ft2": constants.foot**2,
    "gal": constants.gallon * 1000,
    "lb": constants.pound,
    "lb_ft3": constants.pound / constants.foot**3,
    "hp": constants.hp / 1000,
    "Btu_h": constants.Btu_IT / constants.hour / 1000,
    "lbf": constants.pound_force / 1000,
    "ftlb": constants.foot * constants.pound_force,
    "ksi": 1000 * constants.psi / 1e6,
    "in_ft": constants.inch / constants.foot * 1000,
    "mph": constants.mph * 3.6,
    "m_s": 3.6,
    "lb_ft2_h": constants.pound / constants.foot**2,
    "delta_degF": constants.degree_Fahrenheit,
}
OF_SUFFIX = {
    ("mm", "ft"): constants.foot * 1000,
    ("mm", "m"): 1000.0,
    ("m", "ft"): constants.foot,
    ("m3", "ft3"): constants.foot**3,
    ("m3", "L"): constants.liter,
    ("l", "ft3"): constants.foot**3 / constants.liter,
    ("l_h", "ft3_h"): constants.foot**3 / constants.liter,
    ("kpa", "psi"): constants.psi / 1000,
    ("mpa", "psi"): constants.psi / 1e6,
    ("min", "h"): constants.hour / constants.minute,
    ("h", "d"): constants.day / constants.hour,
    ("h", "min"): constants.minute / constants.hour,
}
ROWS = [(suffix, unit.key) for suffix, row in units.UNITS_OF.items() for unit in row if unit is not row[0]]
VALUES = np.concatenate([-np.geomspace(1e5, 1e-3, 9), np.geomspace(1e-3, 1e5, 9)]).tolist()


@pytest.mark.parametrize(("suffix", "key"), ROWS)
def test_every_unit_converts_as_the_constants_do(suffix: str, key: str) -> None:
    """Reference: scipy.constants; temperatures by its convert_temperature. Range: every unit but those of storage,
    from -100 000 to 100 000. Tolerance: 1e-12, the rounding of two products; 2e-7 for the Btu, of which ISO and
    the steam tables have two values."""
    assert key == "degF" or {key, (suffix, key)} & {*IN_SI, *OF_SUFFIX}, f"write the constant of {suffix} {key} above"
    allowed = 2e-7 if key == "Btu_h" else 1e-12
    for value in VALUES:
        found = units.to_si(value, suffix, key)
        if key == "degF":
            expected = float(constants.convert_temperature(value, "F", "C"))
            assert math.isclose(found, expected, rel_tol=1e-12, abs_tol=1e-11)
        else:
            assert found == pytest.approx(value * OF_SUFFIX.get((suffix, key), IN_SI.get(key, math.nan)), rel=allowed)
