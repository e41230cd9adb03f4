"""What a cement grout is counted by besides the clock: maturity sums, and the days to be kept wet and warm."""

from typing import Any

from groutjobs.curing.calc.cure_findings import finding
from groutjobs.curing.series import Series
from groutjobs.engineering.cure import CEMENT_CLOCK, CureClock, equivalent_age_h, nurse_saul_maturity_c_h
from groutjobs.engineering.wet_cure import WET_CURE_RULE, WetCure, WetSpell, wet_cure
from groutjobs.errors import GroutJobsError
from groutjobs.findings import Finding

DATUM_C = 0.0
OLD_DATUM_C = -10.0
"""Datum of a plain Portland cement today, and the one of older texts [ASTMC1074]."""
EVEN_CLOCK = CureClock(
    activation_kj_mol=CEMENT_CLOCK.activation_kj_mol,
    reference_c=CEMENT_CLOCK.reference_c,
    minimum_c=None,
    hottest_c=None,
    source="ASTMC1074",
)
"""The textbook clock: no standstill, no cap."""


def cement_state(best: Series, held: Series | None, now_h: float) -> dict[str, Any]:
    """Maturity at the last reading, and the count of wet and warm hours, if it was kept wet since placing."""
    if held is None or len(best) < 2:
        return {"maturity": None, "wet": _wet_json(None, None, now_h)}
    maturity = {
        "datum_c": DATUM_C,
        "old_datum_c": OLD_DATUM_C,
        "sum_c_h": float(nurse_saul_maturity_c_h(best.at_h, best.temp_c, DATUM_C)[-1]),
        "old_sum_c_h": float(nurse_saul_maturity_c_h(best.at_h, best.temp_c, OLD_DATUM_C)[-1]),
        "age_h": float(equivalent_age_h(best.at_h, best.temp_c, EVEN_CLOCK)[-1]),
        "activation_kj_mol": EVEN_CLOCK.activation_kj_mol,
        "reference_c": EVEN_CLOCK.reference_c,
        "source": EVEN_CLOCK.source,
    }
    return {"maturity": maturity, "wet": _wet_json(_counted(best), _counted(held), now_h)}


def _counted(way: Series) -> WetCure | None:
    """The count if the grout is kept wet all along the way; None where its temperatures are refused."""
    try:
        return wet_cure([WetSpell(0.0, float(way.at_h[-1]) + 1.0)], way.at_h, way.temp_c)
    except GroutJobsError:
        return None


def _wet_json(so_far: WetCure | None, ahead: WetCure | None, now_h: float) -> dict[str, Any]:
    rule = WET_CURE_RULE
    return {
        "needed_wet_h": rule.wet_h,
        "needed_warm_h": rule.warm_h,
        "least_c": rule.least_c,
        "source": rule.source,
        "counted_wet_h": None if so_far is None else min(so_far.wet_h, rule.wet_h),
        "counted_warm_h": None if so_far is None else min(so_far.warm_h, rule.warm_h),
        "wet_until_h": None if ahead is None else ahead.wet_done_at_h,
        "warm_until_h": None if ahead is None else ahead.warm_done_at_h,
        "is_wet_over": so_far is not None and so_far.wet_done_at_h is not None and so_far.wet_done_at_h <= now_h,
        "is_warm_over": so_far is not None and so_far.warm_done_at_h is not None and so_far.warm_done_at_h <= now_h,
    }


def cement_findings(state: dict[str, Any], best: Series, now_h: float) -> list[Finding]:
    """A warning while grout that still has to be kept wet is too cold for its hours to count."""
    wet = state["wet"]
    if wet["is_warm_over"] or not len(best) or best.temp_c[-1] >= wet["least_c"]:
        return []
    words = "The grout is too cold for its hours to count towards the three days wet and the seven days warm."
    hint = "Warm the enclosure without drying the grout; heaters need ventilation and a carbon monoxide alarm."
    return [finding("warning", "cold_wet", words, wet["source"], hint=hint)]
