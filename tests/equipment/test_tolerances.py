"""Level classes and their limits."""

import pytest

from groutjobs.engineering.levelling import LEVEL_LIMITS
from groutjobs.equipment.models import LevelClass
from groutjobs.equipment.tolerances import TOLERANCES, tolerance_of
from groutjobs.sources import sources


@pytest.mark.parametrize(
    ("level_class", "inches_in_a_foot", "printed_mm_m"),
    [
        # [API686] chapter 5, as quoted in an operator's pump checklist: 0.0005 in/ft
        (LevelClass.SPECIAL_PURPOSE, 0.0005, 0.042),
        # common practice, no source: 0.001 in/ft in some owners' specifications
        (LevelClass.TURBOMACHINERY, 0.001, 0.083),
        # [PPH] 10.1.5: 0.002 in/ft
        (LevelClass.API_PUMP, 0.002, 0.17),
        # common practice, as in trade articles: 0.005 in/ft
        (LevelClass.PROCESS_PUMP, 0.005, 0.42),
    ],
)
def test_the_tilt_is_the_inch_figure_converted(
    level_class: LevelClass, inches_in_a_foot: float, printed_mm_m: float
) -> None:
    # 1 in/ft = 25.4 / 0.3048 mm/m exactly; the printed metric figures have two digits
    tilt = TOLERANCES[level_class].tilt_mm_m
    assert tilt == pytest.approx(inches_in_a_foot * 25.4 / 0.3048, rel=1e-9)
    assert tilt == pytest.approx(printed_mm_m, rel=0.03)


def test_every_class_has_a_limit_with_a_known_source() -> None:
    assert set(TOLERANCES) == set(LevelClass)
    assert {tolerance.source for tolerance in TOLERANCES.values()} <= set(sources())


@pytest.mark.parametrize(
    ("level_class", "key"), [(LevelClass.SPECIAL_PURPOSE, "soleplate"), (LevelClass.API_PUMP, "pump")]
)
def test_they_agree_with_the_limits_of_the_level_survey(level_class: LevelClass, key: str) -> None:
    ours, surveys = tolerance_of(level_class), LEVEL_LIMITS[key]
    assert (ours.tilt_mm_m, ours.coplanarity_mm) == (surveys.tilt_mm_m, surveys.coplanarity_mm)


def test_a_class_that_does_not_exist_is_refused() -> None:
    with pytest.raises(ValueError, match="no_such_class"):
        tolerance_of("no_such_class")
