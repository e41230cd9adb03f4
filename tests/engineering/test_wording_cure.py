"""Every finding, refusal and basis of the cure, word by word. The words stand in the TOML file."""

import math
from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from groutjobs.engineering import cure, cure_belief, materials, milestone_bands, strength
from groutjobs.engineering.checks import Floats
from groutjobs.engineering.cure import EPOXY_CLOCK, CureClock
from groutjobs.engineering.cure_belief import AgeMatch, StrengthSample, corrected_belief
from groutjobs.engineering.cure_fit import EPOXY_PRIOR, ActivationPrior, fit_cure
from groutjobs.engineering.grout_correction import GroutPace, PourSetting, belief_with_grout, product_kinetics
from groutjobs.engineering.materials import WorkingLifePoint
from groutjobs.engineering.strength import Milestone, StrengthCurve, StrengthPoint, fit_strength
from groutjobs.engineering.wet_cure import WET_CURE_RULE, WetCure, WetSpell, wet_cure, wet_cure_findings
from groutjobs.errors import NotConverged
from tests.engineering import records
from tests.engineering.cures import AT_H, ONE_TEMPERATURE, PLAIN, THREE_TEMPERATURES
from tests.engineering.wording import Attempt, Told, kept

WORDS = kept("cure")
ROWS = PLAIN.rows(ONE_TEMPERATURE)
FIT = fit_cure(PLAIN.rows(THREE_TEMPERATURES), EPOXY_CLOCK)
BELIEF = cure_belief.belief_before(FIT)
CURES = milestone_bands.draw_cures(BELIEF, 1, 100)
STEADY_C = np.full(len(AT_H), 23.0)
HOLED_C = np.array([20.0, math.nan, 20.0])
THREE_H = np.arange(3.0)
OPEN_CLOCK = replace(EPOXY_CLOCK, minimum_c=None, hottest_c=None)
HALF = Milestone(code="half", label="half strength", source="GROUTJOBS", needed_strength_ratio=0.5)
KEPT_WET = WetCure(
    rule=WET_CURE_RULE,
    wet_h=72.0,
    warm_h=168.0,
    wet_done_at_h=80.0,
    warm_done_at_h=168.0,
    first_wet_h=8.0,
    longest_break_h=1.0,
)


def told_wet(now_h: float, **changed: float | None) -> Told:
    return lambda system: wet_cure_findings(replace(KEPT_WET, **changed), now_h)  # type: ignore[arg-type]


def aged(at_h: Floats, temp_c: Floats) -> Attempt:
    return partial(cure.equivalent_age_h, at_h, temp_c, EPOXY_CLOCK)


def fitted(*rows: tuple[float, float, float]) -> Attempt:
    return partial(fit_cure, [*ROWS, *(StrengthPoint(*row) for row in rows)], EPOXY_CLOCK)


def drawn(*rows: tuple[float, float, float]) -> Attempt:
    return partial(fit_strength, [*ROWS, *(StrengthPoint(*row) for row in rows)], EPOXY_CLOCK)


def corrected(*samples: StrengthSample, temp_c: Floats = STEADY_C, matches: tuple[AgeMatch, ...] = ()) -> Attempt:
    return partial(corrected_belief, BELIEF, EPOXY_CLOCK, AT_H, temp_c, samples, matches)


def ahead(at_h: Floats, temp_c: Floats) -> Attempt:
    return partial(milestone_bands.cures_ahead, CURES, EPOXY_CLOCK, at_h, temp_c)


def lived(*points: tuple[float, float]) -> Attempt:
    return partial(materials.working_life_min, [WorkingLifePoint(*point) for point in points], 20.0)


def wetted(*spells: tuple[float, float], at_h: Floats = AT_H, temp_c: Floats = STEADY_C) -> Attempt:
    return partial(wet_cure, [WetSpell(*spell) for spell in spells], at_h, temp_c)


def setting(**changed: float) -> Attempt:
    return partial(PourSetting, **vars(records.SETTING) | changed)


def followed() -> milestone_bands.CureAhead:
    return milestone_bands.cures_ahead(CURES, EPOXY_CLOCK, THREE_H, np.full((1, 3), 20.0))


SILENT: dict[str, Told] = {
    "kept wet as asked": told_wet(100.0),
    "not yet wet after eight hours": told_wet(8.0, first_wet_h=None),
}
FINDINGS: dict[str, Told] = {
    "not wet after nine hours": told_wet(9.0, first_wet_h=None, longest_break_h=0.0),
    "wet too late": told_wet(100.0, first_wet_h=9.0),
    "dry for too long": told_wet(100.0, longest_break_h=1.5),
    "late and dry": told_wet(100.0, first_wet_h=8.6, longest_break_h=3.0),
}
REFUSED: dict[str, Attempt] = {
    "one temperature": aged(np.zeros(1), np.zeros(1)),
    "times in a square": aged(np.zeros((2, 2)), np.zeros((2, 2))),
    "times and temperatures that differ": aged(THREE_H, np.zeros(2)),
    "times that stand": aged(np.zeros(3), np.zeros(3)),
    "a time that is no number": aged(np.array([0.0, 1.0, math.inf]), np.zeros(3)),
    "a temperature missing between others": aged(THREE_H, HOLED_C),
    "periods without temperature": partial(cure.en1992_equivalent_age_d, [7.0, 7.0], [20.0]),
    "a clock that starts beyond its end": partial(replace, EPOXY_CLOCK, hottest_c=22.9),
    "a clock that stops above its reference": partial(replace, EPOXY_CLOCK, minimum_c=23.1),
    "a clock of a cold store": partial(replace, OPEN_CLOCK, reference_c=-20.5),
    "a clock of a hot store": partial(replace, OPEN_CLOCK, reference_c=60.5),
    "a milestone without need": partial(Milestone, code="x", label="lift it", source="PRACTICE"),
    "a milestone of two needs": partial(replace, HALF, needed_equivalent_age_h=24.0),
    "a share of strength without a curve": partial(strength.milestone_age_h, HALF),
    "rows of two ages": partial(fit_strength, ROWS[:2], EPOXY_CLOCK),
    "a row too weak for its age": drawn((200.0, 23.0, 80.0)),
    "a row colder than its clock": drawn((200.0, 9.0, 90.0)),
    "a row stronger than stone": drawn((200.0, 23.0, 251.0)),
    "a row before it was placed": drawn((0.0, 23.0, 80.0)),
    "a row of no strength": drawn((200.0, 23.0, 0.0)),
    "two rows for a fit": partial(fit_cure, ROWS[:2], EPOXY_CLOCK),
    "a row for a fit stronger than stone": fitted((200.0, 23.0, 251.0)),
    "a row for a fit colder than its clock": fitted((200.0, 9.0, 90.0)),
    "an older row far weaker": fitted((200.0, 23.0, 60.0)),
    "a warmer row far weaker": fitted((168.0, 30.0, 60.0)),
    "rows no curve follows": fitted((170.0, 23.0, 160.0)),
    "rows that leave the shape open": partial(
        fit_cure, PLAIN.rows(((23.0, 24.0), (23.0, 26.0), (23.0, 28.0))), EPOXY_CLOCK
    ),
    "rows of late ages": partial(
        fit_cure, PLAIN.rows(((23.0, 150.0), (23.0, 160.0), (23.0, 170.0))), EPOXY_CLOCK
    ),
    "rows that ask for too much energy": partial(
        fit_cure, replace(PLAIN, activation_kj_mol=120.0).rows(THREE_TEMPERATURES), EPOXY_CLOCK
    ),
    "rows that ask for too little energy": partial(
        fit_cure, replace(PLAIN, activation_kj_mol=11.0).rows(THREE_TEMPERATURES), EPOXY_CLOCK
    ),
    "nothing measured": corrected(),
    "a sample before the clock moved": corrected(StrengthSample(0.0, 10.0)),
    "a sample of cold grout": corrected(StrengthSample(24.0, 10.0), temp_c=np.full(len(AT_H), 9.0)),
    "a sample of two courses": corrected(StrengthSample(24.0, 40.0), temp_c=np.full((2, len(AT_H)), 23.0)),
    "a sample nothing explains": corrected(StrengthSample(72.0, 12.0)),
    "a sample after the readings": corrected(StrengthSample(300.0, 50.0)),
    "a sample stronger than stone": corrected(StrengthSample(24.0, 251.0)),
    "a match of no age": corrected(matches=(AgeMatch(24.0, 0.0),)),
    "a match older than a year": corrected(matches=(AgeMatch(24.0, 10_001.0),)),
    "a rate known to nothing": partial(cure_belief.belief_before, FIT, 1.01),
    "one course without rows": ahead(AT_H, STEADY_C),
    "courses of other hours": ahead(AT_H, np.zeros((2, 3))),
    "no course": ahead(THREE_H, np.zeros((0, 3))),
    "courses that run back": ahead(THREE_H[::-1], np.full((1, 3), 20.0)),
    "courses of one hour": ahead(THREE_H[:1], np.full((1, 1), 20.0)),
    "courses without end": ahead(np.array([0.0, 1.0, math.inf]), np.full((1, 3), 20.0)),
    "a band before placing": lambda: followed().age_band(-1.0),
    "a band of no strength": lambda: followed().strength_band(0.0),
    "a band of stone": lambda: followed().strength_band(251.0),
    "a band of no share": lambda: followed().share_band(0.0),
    "a band of more than all": lambda: followed().share_band(1.01),
    "no row of working life": lived(),
    "two lives at one temperature": lived((20.0, 60.0), (20.0, 50.0)),
    "a life that grows with warmth": lived((10.5, 60.0), (30.0, 70.5)),
    "wetting without hours": wetted(at_h=AT_H[:1], temp_c=STEADY_C[:1]),
    "wetting in hours that stand": wetted(at_h=np.zeros(3), temp_c=STEADY_C[:3]),
    "wetting in other hours": wetted(temp_c=STEADY_C[:3]),
    "wetting that ends at once": wetted((5.0, 5.0)),
    "wetting twice at once": wetted((0.0, 5.0), (4.0, 8.0)),
    "wetting before placing": wetted((-1.0, 5.0)),
    "wetting to no end": wetted((1.0, math.inf)),
    "a model that never strays": setting(model_sd_k=0.0),
    "grout all of binder": setting(binder_ratio=0.36),
    "grout of no binder": setting(binder_ratio=0.0),
    "a product of weeks": partial(product_kinetics, StrengthCurve(100.0, 900.0, 1.0, 0.0), 58.0, EPOXY_CLOCK),
    "a product of minutes": partial(product_kinetics, StrengthCurve(100.0, 0.2, 1.0, 0.0), 58.0, EPOXY_CLOCK),
    "a link known to nothing": partial(belief_with_grout, BELIEF, GroutPace(
        log_pace=0.1, log_pace_sd=0.2, inverse_mol_kj=0.0, reading_count=9, surprise=0.5), 1.01),
}  # fmt: skip


def test_rows_that_no_curve_follows_end_the_search() -> None:
    """Strengths that rise by a factor of fifty in one hour and then stand; no curve of three numbers does that."""
    rows = [StrengthPoint(age_h, 23.0, mpa) for age_h, mpa in ((1.0, 90.0), (200.0, 90.0), (0.9, 1.5), (0.8, 1.5))]
    with pytest.raises(NotConverged) as refused:
        fit_strength(rows, EPOXY_CLOCK)
    assert str(refused.value).startswith("no strength curve follows the 4 rows closer than ")
    assert str(refused.value).endswith("%")


def test_a_fit_says_what_its_activation_energy_rests_on() -> None:
    rounded = ActivationPrior(mean_kj_mol=58.5, sd_kj_mol=9.5, source="GROUTJOBS")
    assert FIT.activation_basis == "58 ± 5 kJ/mol from rows at 15, 23, 30 °C; 58 ± 10 kJ/mol was believed before"
    assert fit_cure(ROWS, EPOXY_CLOCK, rounded).activation_basis == (
        "all rows stand at 23 °C, so the activation energy stays as believed, 58.5 ± 9.5 kJ/mol"
    )
    assert FIT.temps_c == (15.0, 23.0, 30.0)
    assert EPOXY_PRIOR.sd_kj_mol == 10.0


def test_a_belief_says_what_it_rests_on() -> None:
    found = corrected_belief(BELIEF, EPOXY_CLOCK, AT_H, STEADY_C, [StrengthSample(24.0, PLAIN.at(24.0))])
    assert BELIEF.basis == "the data sheet alone; nothing of this pour is measured"
    assert found.basis == (
        "this pour cures at 1.00 times the rate of its data sheet, give or take 10% "
        "(strength samples: 1, age matches: 0)"
    )
    both = corrected_belief(found, EPOXY_CLOCK, AT_H, STEADY_C, matches=[AgeMatch(24.0, 24.0)])
    assert both.measured == ("strength samples: 1", "age matches: 0", "strength samples: 0", "age matches: 1")


def test_a_working_life_says_what_it_rests_on() -> None:
    one = materials.working_life_min([WorkingLifePoint(23.5, 90.0)], 33.5)
    assert (one.working_life_min, one.source) == (45.0, "BLOCH-MCM")
    assert one.basis == "half as long for each 10 K above the one data-sheet point at 23.5 °C"
    two = materials.working_life_min([WorkingLifePoint(23.0, 90.0), WorkingLifePoint(33.0, 40.0)], 28.0)
    assert two.working_life_min == pytest.approx(60.0)
    assert two.source == "GROUTJOBS"
    assert two.basis == "between the points of the data sheet, straight in the logarithm"


def test_the_edge_of_what_is_taken() -> None:
    """A clock that runs between its own limits, spells end to end, a product at either end of its pace."""
    narrow = CureClock(activation_kj_mol=10.0, reference_c=23.0, minimum_c=23.0, hottest_c=23.0, source="GROUTJOBS")
    assert cure.rate_ratio(narrow, 23.0) == 1.0
    for reference_c in (-20.0, 60.0):
        assert cure.rate_ratio(replace(OPEN_CLOCK, reference_c=reference_c), reference_c) == 1.0
    found = wetted((0.0, 5.0), (5.0, 8.0))()
    assert isinstance(found, WetCure)
    assert (found.wet_h, found.longest_break_h) == (8.0, 0.0)
