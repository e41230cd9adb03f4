"""The examples in the docstrings come out as printed."""

import doctest
from types import ModuleType

import pytest

from groutjobs.engineering import conduction, cure, lifts, materials, psychrometrics, sky, spin_up, strength, sunlight


@pytest.mark.parametrize(
    "module", [conduction, cure, lifts, materials, psychrometrics, sky, spin_up, strength, sunlight]
)
def test_docstring_examples_come_out_as_printed(module: ModuleType) -> None:
    outcome = doctest.testmod(module)
    assert outcome.attempted > 0
    assert outcome.failed == 0
