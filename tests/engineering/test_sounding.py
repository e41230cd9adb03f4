"""Hollow areas, voids, decision and what a grid misses."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groutjobs.engineering.outlines import Point
from groutjobs.engineering.sounding import (
    Sounding,
    SoundingLimits,
    Tap,
    injection_volume_l,
    sounding,
    sounding_findings,
)
from groutjobs.engineering.tap_grid import hit_probability, missed_void_mm
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.findings import Level
from groutjobs.sources import sources
from tests.engineering.plates import rectangle

SPACING_MM = 150.0
TWO = {"A": rectangle(0, 0, 900, 600), "B": rectangle(900, 0, 900, 600)}


def taps(hollow: set[tuple[int, int]], columns: int = 12, rows: int = 4) -> list[Tap]:
    """A tap in the middle of each 150 mm square, column and row counted from 0."""
    return [
        Tap(x_mm=75.0 + SPACING_MM * c, y_mm=75.0 + SPACING_MM * r, hollow=(c, r) in hollow)
        for c in range(columns)
        for r in range(rows)
    ]


def sounded(hollow: set[tuple[int, int]], feet: dict[str, tuple[Point, ...]] | None = None) -> Sounding:
    return sounding(taps(hollow), SPACING_MM, TWO, feet or {})


def test_a_solid_plate_has_no_void_and_no_finding() -> None:
    survey = sounded(set())
    assert (survey.voids, survey.hollow_share, survey.hollow_sd_m2) == ((), 0.0, 0.0)
    assert survey.area_m2 == pytest.approx(1.08)
    assert [compartment.untapped_m2 for compartment in survey.compartments] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert sounding_findings(survey) == []


def test_hollow_cells_that_share_edges_are_one_void() -> None:
    """By hand: three cells in an L, 3 × 0.15², and one apart; a corner in common does not join."""
    survey = sounded({(0, 0), (1, 0), (1, 1), (2, 2)})
    assert [void.area_m2 for void in survey.voids] == pytest.approx([0.0675, 0.0225])
    assert [len(void.taps) for void in survey.voids] == [3, 1]
    assert survey.compartments[0].hollow_m2 == pytest.approx(0.09)
    assert survey.hollow_share == pytest.approx(0.09 / 1.08)


def test_a_stiffener_parts_a_void() -> None:
    """Cells either side of the border between two compartments touch, but no resin passes between them."""
    survey = sounded({(5, 1), (6, 1)})
    assert {(void.compartment, len(void.taps)) for void in survey.voids} == {("A", 1), ("B", 1)}


def test_cells_are_cut_by_the_outline() -> None:
    """By hand: a grid that starts 75 mm outside leaves half cells along the edge."""
    edge = [Tap(x_mm=SPACING_MM * c, y_mm=75.0 + SPACING_MM * r, hollow=c == 0) for c in range(7) for r in range(4)]
    survey = sounding(edge, SPACING_MM, {"A": TWO["A"]}, {})
    assert survey.hollow_m2 == pytest.approx(0.075 * 0.6)
    assert survey.compartments[0].untapped_m2 == pytest.approx(0.0, abs=1e-9)


def test_a_finer_grid_round_a_tap_shares_the_square_out() -> None:
    """By hand: four taps at the quarter points between a hollow tap's neighbours; each place counts once."""
    finer = [
        *taps({(2, 1)}),
        *[Tap(x_mm=375.0 + dx, y_mm=225.0 + dy, hollow=False) for dx in (-50, 50) for dy in (-50, 50)],
    ]
    survey = sounding(finer, SPACING_MM, TWO, {})
    assert sum(cell.area for cell in survey.cells) / 1e6 == pytest.approx(1.08)
    assert survey.hollow_m2 == pytest.approx(2 * 0.05**2, rel=1e-9)


def test_places_without_taps_are_told() -> None:
    survey = sounding(taps(set(), columns=8), SPACING_MM, TWO, {})
    assert survey.compartments[1].untapped_m2 == pytest.approx(0.36)
    (finding,) = sounding_findings(survey)
    assert (finding.code, finding.about, finding.level) == ("sounding.untapped", "B", Level.WARNING)


def test_one_tap_alone_stands_for_its_square() -> None:
    survey = sounding([Tap(x_mm=450.0, y_mm=300.0, hollow=True)], SPACING_MM, {"A": TWO["A"]}, {})
    assert survey.hollow_m2 == pytest.approx(0.0225)


def test_taps_in_one_row_are_parted_half_way() -> None:
    row = [Tap(x_mm=75.0 + 150.0 * c, y_mm=300.0, hollow=c < 2) for c in range(6)]
    survey = sounding(row, SPACING_MM, {"A": TWO["A"]}, {})
    assert survey.hollow_m2 == pytest.approx(0.045)
    assert len(survey.voids) == 1


def test_the_decision_by_default_limits() -> None:
    """Our limits: 0.01 m² in one place, 5 % in all, nothing under a foot."""
    survey = sounded({(0, 0), (1, 0), (8, 2)}, {"F1": rectangle(100, 100, 100, 100)})
    found = sounding_findings(survey)
    assert [finding.code for finding in found] == [
        "sounding.under_foot",
        "sounding.single_void",
        "sounding.single_void",
        "sounding.total",
    ]
    assert {finding.level for finding in found} == {Level.BLOCKER}
    assert {finding.source for finding in found} <= set(sources())
    assert "F1" in found[0].message


def test_the_owner_may_set_other_limits() -> None:
    lenient = SoundingLimits(single_void_m2=0.05, total_share=0.10, source="PRACTICE")
    assert sounding_findings(sounded({(0, 0), (1, 0), (8, 2)}), lenient) == []


def test_a_foot_that_only_touches_a_void_is_not_hollow() -> None:
    survey = sounded({(0, 0)}, {"F1": rectangle(150, 0, 100, 100)})
    assert survey.voids[0].under_feet == ()


@settings(max_examples=25, deadline=None)
@given(st.sets(st.tuples(st.integers(0, 11), st.integers(0, 3))))
def test_voids_add_up_to_the_hollow_area_and_hold_every_tap_once(hollow: set[tuple[int, int]]) -> None:
    survey = sounded(hollow)
    assert sum(void.area_m2 for void in survey.voids) == pytest.approx(survey.hollow_m2, abs=1e-12)
    assert survey.hollow_m2 == pytest.approx(len(hollow) * 0.0225, rel=1e-9)
    held = sorted(tap for void in survey.voids for tap in void.taps)
    assert held == [i for i, tap in enumerate(taps(hollow)) if tap.hollow]


def test_the_sd_of_the_area_agrees_with_discs_thrown_on_a_grid() -> None:
    """Discs of 0.5 m², closed form πr², at 200 random places: predicted against simulated sd within 20 %.

    The sd of a simulated sd of 200 is 5 %; the rest is the staircase that stands for the rim.
    """
    rng = np.random.default_rng(11)
    plate = {"A": rectangle(0, 0, 1500, 1500)}
    radius_mm = math.sqrt(0.5e6 / math.pi)
    errors: list[float] = []
    predicted: list[float] = []
    grid = np.stack(np.meshgrid(np.arange(75.0, 1500.0, 150.0), np.arange(75.0, 1500.0, 150.0)), -1).reshape(-1, 2)
    for x, y in rng.uniform(600.0, 900.0, (200, 2)):
        hit = np.hypot(grid[:, 0] - x, grid[:, 1] - y) < radius_mm
        errors.append(hit.sum() * 0.0225 - 0.5)
        if len(predicted) < 10:
            struck = [Tap(x_mm=a, y_mm=b, hollow=bool(h)) for (a, b), h in zip(grid.tolist(), hit, strict=True)]
            predicted.append(sounding(struck, SPACING_MM, plate, {}).hollow_sd_m2)
    assert np.mean(predicted) / np.std(errors) == pytest.approx(1.0, abs=0.2)
    assert abs(float(np.mean(errors))) < 4.0 * float(np.std(errors)) / math.sqrt(200)


@pytest.mark.parametrize("diameter_mm", [40.0, 100.0, 150.0, 180.0, 205.0])
def test_the_odds_of_a_hit_agree_with_discs_thrown_on_a_grid(diameter_mm: float) -> None:
    """100 000 random centres; the sd of a share is at most 0.0016, four of them are allowed."""
    centre = np.random.default_rng(7).uniform(0.0, 150.0, (100_000, 2))
    corners = np.array([[0.0, 0.0], [150.0, 0.0], [0.0, 150.0], [150.0, 150.0]])
    nearest = np.hypot(*(centre[:, None, :] - corners).transpose(2, 0, 1)).min(axis=1)
    assert hit_probability(diameter_mm, 150.0) == pytest.approx((nearest < diameter_mm / 2).mean(), abs=0.0064)


def test_the_odds_by_hand() -> None:
    """πd²/4s² up to the spacing: 0.35 for 100 mm on 150 mm; certain from s√2."""
    assert hit_probability(100.0, 150.0) == pytest.approx(math.pi / 9.0)
    assert hit_probability(150.0, 150.0) == pytest.approx(math.pi / 4.0)
    assert hit_probability(150.0 * math.sqrt(2.0), 150.0) == 1.0
    assert missed_void_mm(150.0, probability=0.5) == pytest.approx(150.0 * math.sqrt(2.0 / math.pi))


@given(st.floats(1.0, 400.0), st.floats(1.0, 400.0))
def test_a_larger_void_is_hit_at_least_as_often(one_mm: float, other_mm: float) -> None:
    small, large = sorted((one_mm, other_mm))
    assert hit_probability(small, 150.0) <= hit_probability(large, 150.0) + 1e-12


@given(st.floats(0.001, 0.999))
def test_the_missed_size_undoes_the_odds(probability: float) -> None:
    assert hit_probability(missed_void_mm(150.0, probability=probability), 150.0) == pytest.approx(
        1.0 - probability, abs=1e-6
    )


def test_the_sd_of_single_cells_by_hand() -> None:
    """0.0724·0.15³·L m⁴; L is π/4 of what taps draw: 0.6 m round an inner cell, 0.3 m in a corner of the plate."""
    inner_m2 = math.sqrt(0.0724 * 0.15**3 * math.pi / 4.0 * 0.6)
    assert sounded({(2, 1)}).hollow_sd_m2 == pytest.approx(inner_m2, rel=1e-4)
    assert sounded({(2, 1), (9, 2)}).hollow_sd_m2 == pytest.approx(math.sqrt(2.0) * inner_m2, rel=1e-4)
    # within 1 mm of the outline an edge counts as its, so 2 of 300 mm are left out
    assert sounded({(0, 0)}).hollow_sd_m2 == pytest.approx(inner_m2 * math.sqrt(298.0 / 600.0), rel=1e-3)


def test_a_survey_keeps_its_spacing_cells_and_names() -> None:
    survey = sounded({(0, 0), (6, 0), (6, 1)}, {"F1": rectangle(10, 10, 20, 20), "F2": rectangle(950, 10, 20, 20)})
    assert survey.spacing_mm == SPACING_MM
    assert [cell.area for cell in survey.cells] == pytest.approx([22_500.0] * 48)
    assert [(void.compartment, void.under_feet) for void in survey.voids] == [("B", ("F2",)), ("A", ("F1",))]
    assert [void.outline.area for void in survey.voids] == pytest.approx([45_000.0, 22_500.0], rel=1e-3)
    assert [part.name for part in survey.compartments] == ["A", "B"]
    assert [part.area_m2 for part in survey.compartments] == pytest.approx([0.54, 0.54])
    assert [part.hollow_m2 for part in survey.compartments] == pytest.approx([0.0225, 0.045])


def test_injection_by_hand() -> None:
    """0.09 m² from 1 to 5 mm deep holds 0.09 to 0.45 L."""
    assert injection_volume_l(0.09, 1.0, 5.0) == pytest.approx((0.09, 0.45))


@pytest.mark.parametrize(
    "change",
    [
        {"taps": []},
        {"taps": [Tap(x_mm=75.0, y_mm=75.0, hollow=True), Tap(x_mm=75.2, y_mm=75.0, hollow=False)]},
        {"taps": [Tap(x_mm=-20.0, y_mm=75.0, hollow=True)]},
        {"compartments": {}},
        {"compartments": {"A": TWO["A"], "B": rectangle(800, 0, 900, 600)}},
        {"feet": {"F1": ((0.0, 0.0), (100.0, 100.0), (100.0, 0.0), (0.0, 100.0))}},
    ],
)
def test_a_survey_that_contradicts_itself_is_refused(change: dict[str, Any]) -> None:
    good = {"taps": taps(set()), "spacing_mm": SPACING_MM, "compartments": TWO, "feet": {}}
    with pytest.raises(Unusable):
        sounding(**{**good, **change})


def test_numbers_beyond_their_limits_are_refused() -> None:
    for spacing_mm in (0.0, 19.0, 1001.0, math.nan):
        with pytest.raises(OutOfRange):
            sounding(taps(set()), spacing_mm, TWO, {})
    with pytest.raises(OutOfRange):
        sounding([Tap(x_mm=math.nan, y_mm=0.0, hollow=True)], SPACING_MM, TWO, {})
    with pytest.raises(OutOfRange):
        sounding_findings(sounded(set()), SoundingLimits(total_share=5.0))
    for arguments in ((-0.1, 1.0, 5.0), (0.1, 0.0, 5.0), (0.1, 5.0, 1.0)):
        with pytest.raises(OutOfRange):
            injection_volume_l(*arguments)
    for diameter_mm, spacing_mm in ((0.0, 150.0), (100.0, 0.0)):
        with pytest.raises(OutOfRange):
            hit_probability(diameter_mm, spacing_mm)
    for probability in (0.0, 1.0, math.nan):
        with pytest.raises(OutOfRange):
            missed_void_mm(150.0, probability=probability)
