"""What a refusal says to a person: value, limit, unit and source, in one sentence."""

import math

import pytest

from groutjobs.engineering.checks import require_above, require_between
from groutjobs.errors import OutOfRange, Unusable


@pytest.mark.parametrize(
    ("value", "low", "high", "said"),
    [
        (4.9, 5.0, 600.0, "gap 4.9 mm is below 5 mm, the lower limit in [GROUTJOBS]"),
        (601.0, 5.0, 600.0, "gap 601 mm is above 600 mm, the upper limit in [GROUTJOBS]"),
        (math.nan, 5.0, None, "gap nan mm is not a number that can be used, see [GROUTJOBS]"),
        (math.inf, 5.0, None, "gap inf mm is not a number that can be used, see [GROUTJOBS]"),
        (100.0, None, math.nextafter(100.0, 0.0), "gap 100 mm is not below 100 mm, the upper limit in [GROUTJOBS]"),
    ],
)
def test_a_number_out_of_range_is_told_with_its_limit(
    value: float, low: float | None, high: float | None, said: str
) -> None:
    with pytest.raises(OutOfRange) as refused:
        require_between("gap", value, low, high, unit="mm", source="GROUTJOBS")
    assert str(refused.value) == said


@pytest.mark.parametrize(
    ("value", "low", "said"),
    [
        (0.0, 0.0, "load 0 kN is not above 0 kN, the lower limit in [SHIGLEY]"),
        (-2.0, 0.0, "load -2 kN is not above 0 kN, the lower limit in [SHIGLEY]"),
        (0.5, 0.5, "load 0.5 kN is not above 0.5 kN, the lower limit in [SHIGLEY]"),
    ],
)
def test_a_limit_that_is_refused_itself_is_told_as_a_round_number(value: float, low: float, said: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        require_above("load", value, low, unit="kN", source="SHIGLEY")
    assert str(refused.value) == said


def test_a_contradiction_is_told_with_its_reason() -> None:
    assert str(Unusable("outline", "it crosses itself", source="GROUTJOBS")) == "outline: it crosses itself [GROUTJOBS]"
