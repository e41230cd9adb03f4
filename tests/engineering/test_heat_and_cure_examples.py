"""The examples in the docstrings come out as printed."""

import doctest
from types import ModuleType

import pytest

from groutjobs.engineering import conduction, cure, materials, psychrometrics, sky, strength


@pytest.mark.parametrize("module", [conduction, cure, materials, psychrometrics, sky, strength])
def test_docstring_examples_come_out_as_printed(module: ModuleType) -> None:
    outcome = doctest.testmod(module)
    assert outcome.attempted > 0
    assert outcome.failed == 0
