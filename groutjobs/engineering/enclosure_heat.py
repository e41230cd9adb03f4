"""A heated enclosure: how much heat it needs, and how long before the pour it must be on.

leads = preheat_leads(before, air, Enclosure(from_hour=…, to_hour=…, air_c=22.0))
heated = simulate(layers, air, replace(around, covers=(enclosure,)), start)
need = heater_need(enclosure, tent, heated, air)
"""

from dataclasses import dataclass

import numpy as np

from groutjobs import units
from groutjobs.engineering.checks import Floats, require_between
from groutjobs.engineering.heat import Temperatures, simulate_onward
from groutjobs.engineering.protection import Enclosure
from groutjobs.engineering.sky import HourlyAir, Ints
from groutjobs.errors import Unusable
from groutjobs.findings import Finding, Level

AIR_HEAT_WH_M3K = 0.33
"""Heat that warms a cubic metre of air by one kelvin: 1200 J/m³·K at 20 °C. ISO13789."""
USUAL_PREHEAT_H = 24
"""Plate and foundation stand warm for 24 to 48 h before the pour. PRACTICE."""


@dataclass(frozen=True, kw_only=True)
class Tent:
    """Size of an enclosure. surface_m2 is the plate and concrete inside that take up heat.

    air_changes is how often in an hour wind and vented heater exchange the air; 1 is tight, 5 a loose sheet in wind.
    """

    skin_m2: float
    volume_m3: float
    surface_m2: float
    air_changes: float

    def __post_init__(self) -> None:
        require_between("walls and roof of the enclosure", self.skin_m2, 0.5, 5000.0, unit="m²", source="GROUTJOBS")
        require_between("volume of the enclosure", self.volume_m3, 0.1, 20_000.0, unit="m³", source="GROUTJOBS")
        require_between("surface in the enclosure", self.surface_m2, 0.1, 2000.0, unit="m²", source="GROUTJOBS")
        require_between("air changes in an hour", self.air_changes, 0.1, 30.0, source="GROUTJOBS")


@dataclass(frozen=True, kw_only=True)
class HeaterNeed:
    """Heat of each hour that the enclosure is up, shape (n,), index 0 its first hour; below 0 where heat is left over.

    surface_heat_kw flows into plate and concrete.
    """

    walls_heat_kw: Floats
    air_heat_kw: Floats
    surface_heat_kw: Floats

    @property
    def total_heat_kw(self) -> Floats:
        return self.walls_heat_kw + self.air_heat_kw + self.surface_heat_kw

    @property
    def peak_heat_kw(self) -> float:
        """The hour that asks for most, usually the first."""
        return float(self.total_heat_kw.max())

    @property
    def mean_heat_kw(self) -> float:
        """Mean of what the heater gives; an hour with heat left over counts as none."""
        return float(np.maximum(self.total_heat_kw, 0.0).mean())


def heater_need(enclosure: Enclosure, tent: Tent, run: Temperatures, air: HourlyAir) -> HeaterNeed:
    """Return the heat that holds an enclosure at its temperature, hour by hour.

    Parameters
    ----------
    enclosure : A heated one, among the covers of the run.
    tent : Its size.
    run : One case of simulate under this enclosure.
    air : The weather of that case.

    Returns
    -------
    HeaterNeed; what the heater wastes is not in it. A smaller heater warms the concrete later.

    Raises
    ------
    Unusable : the enclosure is not heated or not part of the run, or there are several cases.

    Source
    ------
    [ISO13789] walls U·A·ΔT and 0.33 W·h/m³K for exchanged air; [GROUTJOBS] all of the surface takes heat like the
    column, edges of the block and the heat that warms the air itself (an hour of one air change) are left out.
    """
    if enclosure.air_c is None or enclosure not in run.surroundings.covers:
        raise Unusable("heat of the enclosure", "it is not heated, or the run is not under it", source="GROUTJOBS")
    if run.heat_in_w_m2.ndim != 1 or len(run.heat_in_w_m2) != air.n_hours or enclosure.from_hour >= air.n_hours:
        raise Unusable("heat of the enclosure", "one run that reaches it is needed", source="GROUTJOBS")
    last = min(enclosure.to_hour, air.n_hours)
    outside_c = air.air_c[enclosure.from_hour : last + 1]
    warmer_k = enclosure.inside_c(outside_c) - outside_c
    mean_k = (warmer_k[1:] + warmer_k[:-1]) / 2
    return HeaterNeed(
        walls_heat_kw=enclosure.walls_w_m2k * tent.skin_m2 * mean_k / 1000,
        air_heat_kw=AIR_HEAT_WH_M3K * tent.air_changes * tent.volume_m3 * mean_k / 1000,
        surface_heat_kw=tent.surface_m2 * run.heat_in_w_m2[enclosure.from_hour : last] / 1000,
    )


@dataclass(frozen=True, kw_only=True)
class PreheatLeads:
    """Temperatures at the pour by the hours that the enclosure was on before it, shape (n,), index 0 for none."""

    lead_h: Ints
    concrete_c: Floats
    plate_c: Floats | None

    def shortest_h(self, wanted_c: float) -> int | None:
        """Fewest hours from which on concrete and plate, and with any more hours too, are at least this warm."""
        coldest_c = self.concrete_c if self.plate_c is None else np.minimum(self.concrete_c, self.plate_c)
        cold = np.flatnonzero(coldest_c < wanted_c)
        if len(cold) == 0:
            return 0
        return int(self.lead_h[cold[-1] + 1]) if cold[-1] + 1 < len(self.lead_h) else None


def preheat_leads(before: Temperatures, air: HourlyAir, enclosure: Enclosure) -> PreheatLeads:
    """Return how warm plate and concrete are at the pour when the enclosure comes on early enough, or too late.

    Parameters
    ----------
    before : One case of simulate without this enclosure.
    air : The weather of that case.
    enclosure : As it would stand if it came on at the earliest; the pour is at its last hour.

    Returns
    -------
    PreheatLeads, for every whole hour from none to the earliest.

    Raises
    ------
    OutOfRange, Unusable : the pour lies beyond the weather, or another cover stands in the way.

    Source
    ------
    As simulate; each number of hours is a run of its own.
    """
    require_between("hour of the pour", enclosure.to_hour, 1, air.n_hours, unit="h", source="GROUTJOBS")
    longest = enclosure.to_hour - enclosure.from_hour
    lead_h = np.arange(1, longest + 1)
    around = before.surroundings.under(enclosure)
    found = simulate_onward(before, air, enclosure.to_hour - lead_h, longest, around)
    concrete_c = [before.concrete_surface_c[enclosure.to_hour], *found.concrete_surface_c[lead_h - 1, lead_h]]
    plate_c = None
    if before.plate_c is not None and found.plate_c is not None:
        plate_c = np.array([before.plate_c[enclosure.to_hour], *found.plate_c[lead_h - 1, lead_h]])
    return PreheatLeads(lead_h=np.arange(longest + 1), concrete_c=np.array(concrete_c), plate_c=plate_c)


def preheat_finding(leads: PreheatLeads, wanted_c: float, system: str) -> Finding:
    """Return what to tell of the time that the enclosure needs before the pour.

    Parameters
    ----------
    leads : From preheat_leads.
    wanted_c : Temperature that plate and concrete must have at the pour. [°C], -10 to 50
    system : Units of the reader, "metric" or "us".

    Returns
    -------
    A note with the hours, or a warning that the longest tried does not do.

    Raises
    ------
    OutOfRange : the temperature lies outside the limits above.

    Source
    ------
    [GROUTJOBS] runs of the heat model; [PRACTICE] 24 to 48 h at least.
    """
    require_between("wanted temperature", wanted_c, -10.0, 50.0, unit="°C", source="GROUTJOBS")
    wanted, shortest = units.shown(wanted_c, "c", system), leads.shortest_h(wanted_c)
    if shortest is None:
        reached = units.shown(float(leads.concrete_c[-1]), "c", system)
        return Finding(
            level=Level.WARNING,
            code="preheat_too_short",
            message=f"{leads.lead_h[-1]} h of heating bring the concrete to {reached} at the pour; {wanted} is wanted.",
            hint="Heat earlier or warmer, stir the air with a fan, or insulate the enclosure.",
            source="GROUTJOBS",
        )
    return Finding(
        level=Level.NOTE,
        code="preheat",
        message=f"The enclosure must be on {shortest} h before the pour to bring plate and concrete to {wanted}.",
        hint=f"Heat for {max(shortest, USUAL_PREHEAT_H)} h or more, then measure the concrete under the plate.",
        source="GROUTJOBS" if shortest > USUAL_PREHEAT_H else "PRACTICE",
    )


def heater_findings(need: HeaterNeed, system: str) -> tuple[Finding, ...]:
    """Return what to tell of a heater: its size, and the cautions that go with it.

    Parameters
    ----------
    need : From heater_need.
    system : Units of the reader, "metric" or "us".

    Returns
    -------
    One note and three warnings.

    Source
    ------
    [CFR1926.154] fresh air, distance from sheets, stable stand; [PRACTICE] the rest. Rules of the site outrank both.
    """
    peak, mean = (units.shown(value, "heat_kw", system) for value in (need.peak_heat_kw, need.mean_heat_kw))
    site = "The rules of the site and the heater's instructions outrank this."
    size = f"The enclosure needs {mean} of heat on average and {peak} in its hardest hour."
    fumes = "Carbon monoxide kills in an enclosure. Use electric or vented heaters; burn nothing inside without a flue."
    fire = "A heater sets sheets on fire: keep it level and 3 m (10 ft) from them, and fasten them against wind."
    damp = "An unvented flame puts water on cold steel and carbon dioxide into fresh epoxy, which dulls its surface."
    return (
        Finding(
            level=Level.NOTE,
            code="heater_size",
            message=size,
            hint="With a smaller heater concrete warms later: begin sooner.",
            source="ISO13789",
        ),
        Finding(
            level=Level.WARNING,
            code="heater_fumes",
            message=fumes,
            hint=f"Hang a carbon monoxide alarm and let fresh air in. {site}",
            source="CFR1926.154",
        ),
        Finding(
            level=Level.WARNING,
            code="heater_fire",
            message=fire,
            hint=f"No solvent near it, an extinguisher at hand, somebody on watch. {site}",
            source="CFR1926.154",
        ),
        Finding(
            level=Level.WARNING,
            code="heater_moisture",
            message=damp,
            hint="Measure dew point and steel inside before mixing, not outside.",
            source="PRACTICE",
        ),
    )
