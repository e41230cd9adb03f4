"""Numbers in sentences."""

import doctest

from groutjobs import wording


def test_the_examples_hold() -> None:
    outcome = doctest.testmod(wording)
    assert outcome.attempted == 1
    assert outcome.failed == 0
