"""What a cement grout is counted by besides the clock: maturity sums, and the days to be kept wet and warm."""

import itertools
from collections.abc import Sequence
from typing import Any

import numpy as np

from groutjobs.curing.calc.cure_findings import finding
from groutjobs.curing.series import Series
from groutjobs.engineering.cure import CEMENT_CLOCK, CureClock, equivalent_age_h, nurse_saul_maturity_c_h
from groutjobs.engineering.wet_cure import WET_CURE_RULE, WetCure, WetSpell, wet_cure, wet_cure_findings
from groutjobs.errors import GroutJobsError
from groutjobs.findings import Finding

DRY = "dry"
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


def cement_state(
    best: Series, held: Series | None, now_h: float, wetting: Sequence[tuple[str, float]] = ()
) -> dict[str, Any]:
    """Maturity at the last reading, and the count of wet and warm hours: as the log of wetting has it, and if it was
    kept wet since placing."""
    log = _logged(held, now_h, wetting)
    if held is None or len(best) < 2:
        return {"maturity": None, "wet": _wet_json(None, None, now_h), "log": log}
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
    return {"maturity": maturity, "wet": _wet_json(_counted(best), _counted(held), now_h), "log": log}


def spells_of(wetting: Sequence[tuple[str, float]], now_h: float) -> list[WetSpell]:
    """Spells of wetting: from each entry that says wet or covered to the next that says dry, or to now."""
    spells, begun = [], None
    for wetness, at_h in sorted(wetting, key=lambda row: row[1]):
        if wetness == DRY and begun is not None:
            spells.append(WetSpell(begun, at_h))
            begun = None
        elif wetness != DRY and begun is None:
            begun = max(at_h, 0.0)
    if begun is not None and now_h > begun:
        spells.append(WetSpell(begun, now_h))
    return [spell for spell in spells if spell.last_h > spell.first_h]


def _logged(held: Series | None, now_h: float, wetting: Sequence[tuple[str, float]]) -> dict[str, Any]:
    """What the log of wetting amounts to by now; hours without a temperature are taken as warm enough and say so."""
    spells = spells_of(wetting, now_h)
    dry = [{"first_h": one.last_h, "last_h": other.first_h} for one, other in itertools.pairwise(spells)]
    told: dict[str, Any] = {"entries": len(wetting), "dry": dry, "counted_h": None, "measured": held is not None}
    if now_h <= 0.0:
        return told
    way = Series(np.array([0.0, now_h]), np.array([WET_CURE_RULE.least_c, WET_CURE_RULE.least_c]))
    if held is not None and len(held) > 1:
        way = held.between(0.0, now_h).then([now_h], [float(np.interp(now_h, held.at_h, held.temp_c))])
        keep = np.concatenate([[True], np.diff(way.at_h) > 0])
        way = Series(way.at_h[keep], way.temp_c[keep])
    try:
        found = wet_cure(spells, way.at_h, way.temp_c)
    except GroutJobsError:
        return told
    findings = [item.as_json() for item in wet_cure_findings(found, now_h)]
    return told | {"counted_h": min(found.wet_h, found.rule.wet_h), "findings": findings}


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
