"""What is said about the heat of a lift, and the band that stands behind it."""

from dataclasses import replace

import numpy as np
import pytest

from groutjobs.engineering.exotherm import AirAround, curing_temperatures
from groutjobs.engineering.kinetics import ILLUSTRATIVE_EPOXY
from groutjobs.engineering.layers import Layers
from groutjobs.engineering.lifts import LIFT_LIMITS, LiftLimits, Peak, PeakBand, lift_findings, lifts_needed, peak_band
from groutjobs.engineering.materials import concrete
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.findings import Level
from groutjobs.sources import sources
from tests.engineering.test_exotherm import layers, placements, still_air


def band(low_k: float, likely_k: float, high_k: float) -> PeakBand:
    """A band above 20 °C, with its peak after five hours."""
    low, likely, high = (Peak(peak_c=20 + rise, rise_k=rise, at_h=5.0) for rise in (low_k, likely_k, high_k))
    return PeakBand(grout_mm=100.0, kinetics_source="GROUTJOBS", low=low, likely=likely, high=high)


def found_band(grout_mm: float) -> PeakBand:
    return peak_band(layers(grout_mm), ILLUSTRATIVE_EPOXY, placements([23.0]), still_air([23.0], 24))


def test_a_lift_that_likely_passes_the_limit_gives_a_warning_with_its_band() -> None:
    rise, peak = lift_findings(band(20.0, 35.0, 50.0), LIFT_LIMITS)
    assert (rise.code, rise.level, rise.margin) == ("lift_rise", Level.WARNING, -5.0)
    assert "35 K (20 to 50 K) about 5 h after placing; limit 30 K" in rise.message
    assert rise.hint.startswith("The estimate rests on general figures")
    assert "supplier" in rise.hint
    assert (peak.code, peak.level, peak.margin) == ("lift_peak", Level.NOTE, 5.0)


def test_figures_of_a_data_sheet_are_not_called_general() -> None:
    (rise,) = lift_findings(replace(band(10.0, 20.0, 31.0), kinetics_source="DATASHEET"), LIFT_LIMITS)
    assert rise.hint.startswith("Pour thinner lifts")


def test_a_lift_whose_high_case_alone_passes_gives_a_note() -> None:
    for likely_k in (20.0, 30.0):
        (rise,) = lift_findings(band(10.0, likely_k, 31.0), LIFT_LIMITS)
        assert (rise.code, rise.level, rise.margin) == ("lift_rise", Level.NOTE, 30.0 - likely_k)


def test_a_lift_that_stays_at_the_limit_gives_nothing() -> None:
    assert lift_findings(band(10.0, 20.0, 30.0), LIFT_LIMITS) == []


def test_an_edited_limit_is_used_and_its_source_is_shown() -> None:
    (rise,) = lift_findings(band(4.0, 9.0, 14.0), LiftLimits(rise_k=8.0, peak_c=60.0, source="DATASHEET"))
    assert (rise.level, rise.source) == (Level.WARNING, "DATASHEET")


def test_the_band_of_a_thin_lift_passes_and_that_of_a_deep_lift_warns() -> None:
    assert lift_findings(found_band(40.0), LIFT_LIMITS) == []
    assert {finding.level for finding in lift_findings(found_band(180.0), LIFT_LIMITS)} == {Level.WARNING}


def test_the_band_holds_its_likely_case_in_the_middle() -> None:
    found = found_band(100.0)
    alone = curing_temperatures(layers(100.0), ILLUSTRATIVE_EPOXY, placements([23.0]), still_air([23.0], 24))
    assert found.likely.peak_c == pytest.approx(alone.peak_c[0])
    assert found.low.rise_k < found.likely.rise_k < found.high.rise_k
    assert found.low.at_h > found.likely.at_h > found.high.at_h
    assert (found.grout_mm, found.kinetics_source) == (100.0, "GROUTJOBS")


def test_the_band_of_an_open_lift_needs_no_plate() -> None:
    around = still_air([20.0], 12)
    found = peak_band(layers(60.0, plate=False), ILLUSTRATIVE_EPOXY, placements([20.0], plate=False), around)
    assert found.low.rise_k > 0


def test_the_band_is_that_of_one_case() -> None:
    air_c = np.full((2, 4), 20.0)
    with pytest.raises(Unusable, match="one case"):
        peak_band(
            layers(60.0),
            ILLUSTRATIVE_EPOXY,
            placements([20.0, 21.0]),
            AirAround(air_c=air_c, film_w_m2k=np.full_like(air_c, 10.0)),
        )


def test_a_foundation_without_grout_has_no_band() -> None:
    bare = Layers(concrete=concrete(), concrete_mm=500.0)
    with pytest.raises(Unusable, match="grout in place"):
        peak_band(bare, ILLUSTRATIVE_EPOXY, placements([20.0], plate=False), still_air([20.0], 3))


@pytest.mark.parametrize(
    ("deepest_mm", "most_mm", "count"),
    [(1.0, 150.0, 1), (150.0, 150.0, 1), (150.1, 150.0, 2), (300.0, 150.0, 2), (310.0, 75.0, 5), (3 * 100.1, 100.1, 3)],
)
def test_a_bed_takes_so_many_lifts(deepest_mm: float, most_mm: float, count: int) -> None:
    assert lifts_needed(deepest_mm, most_mm) == count


@pytest.mark.parametrize(("field", "value"), [("rise_k", 0.0), ("peak_c", 300.0)])
def test_an_impossible_limit_is_refused(field: str, value: float) -> None:
    with pytest.raises(OutOfRange) as refusal:
        LiftLimits(**{**vars(LIFT_LIMITS), field: value})
    assert refusal.value.value == value


def test_the_source_of_the_limits_is_known() -> None:
    assert LIFT_LIMITS.source in sources()
