"""The order of the handbook: which modules belong to which stage of the job, and plain titles for their names."""

from dataclasses import dataclass

from groutjobs import units


@dataclass(frozen=True)
class Stage:
    """One stage of the job: a key for links, its title, what is computed in it, and its modules in order."""

    key: str
    title: str
    lead: str
    modules: tuple[str, ...]


STAGES = (
    Stage(
        "machine",
        "Machine and foundation",
        "What the Machine sheet says of the block, its outlines and the anchor bolts.",
        ("engineering.block", "engineering.outlines", "engineering.bolt_tables"),
    ),
    Stage(
        "plan",
        "Pour plan",
        "How much grout, how many kits, which formwork, in what order and time; how the material and a lift keep warm.",
        (
            "engineering.takeoff",
            "engineering.survey",
            "engineering.compartments",
            "engineering.batching",
            "engineering.formwork",
            "engineering.materials",
            "engineering.preconditioning",
            "engineering.series",
            "engineering.lifts",
            "engineering.exotherm",
            "engineering.kinetics",
        ),
    ),
    Stage(
        "weather",
        "Weather",
        "What follows from the hours of a forecast: moist air, sun and sunlight.",
        ("engineering.psychrometrics", "engineering.sun", "engineering.sunlight"),
    ),
    Stage(
        "hours",
        "Pour hours and outages",
        "Temperatures hour by hour, which hours keep every limit, and the schedule of an outage.",
        (
            "scheduling.windows",
            "scheduling.limits",
            "scheduling.conditions",
            "scheduling.hour_rows",
            "scheduling.spans",
            "scheduling.odds",
            "scheduling.drawn",
            "scheduling.covered",
            "scheduling.forecast_error",
            "scheduling.solve",
            "scheduling.problem",
            "scheduling.usual_steps",
            "scheduling.calendar",
            "scheduling.in_minutes",
            "scheduling.serial",
            "scheduling.orders",
            "scheduling.local_search",
            "scheduling.rules",
            "scheduling.goals",
            "scheduling.alone",
            "scheduling.bounds",
            "scheduling.reasons",
            "scheduling.explain",
            "scheduling.check",
            "engineering.response",
            "engineering.heat",
            "engineering.layers",
            "engineering.spin_up",
            "engineering.protection",
            "engineering.enclosure_heat",
            "engineering.sky",
            "engineering.conduction",
        ),
    ),
    Stage(
        "pour",
        "Pour",
        "Grout placed against the takeoff. The working life of a batch stands under materials, in the Pour plan.",
        ("engineering.reconciliation",),
    ),
    Stage(
        "cure",
        "Cure",
        "The cure clock, the strength that goes with it, and when each milestone is reached.",
        (
            "engineering.cure",
            "engineering.strength",
            "engineering.specimens",
            "engineering.wet_cure",
            "engineering.cure_fit",
            "engineering.cure_belief",
            "engineering.grout_correction",
            "engineering.milestone_bands",
            "engineering.grout_ahead",
            "engineering.reading_checks",
        ),
    ),
    Stage(
        "inspections",
        "Inspections",
        "Level of the plate, hollow places under it, tension of the anchor bolts.",
        (
            "engineering.levelling",
            "engineering.level_change",
            "engineering.jackscrews",
            "engineering.sounding",
            "engineering.tap_grid",
            "engineering.injection",
            "engineering.bolting",
            "engineering.tightening",
        ),
    ),
)
LAST = Stage("ground", "Under all of them", "The version of the engine, and how a number is refused.", ())
"""Takes what no stage names."""

TITLES = {
    "engineering": "Version of the engine",
    "engineering.batching": "Batch timetable",
    "engineering.block": "Block, bolt length and grout space",
    "engineering.bolt_tables": "Threads, steels and friction",
    "engineering.bolting": "Tension of anchor bolts",
    "engineering.checks": "Refusing a number",
    "engineering.compartments": "Compartments, holes and joints",
    "engineering.conduction": "Heat flow through layers",
    "engineering.cure": "Cure clock",
    "engineering.cure_belief": "What is believed of a pour",
    "engineering.cure_fit": "Cure fitted to a data sheet",
    "engineering.enclosure_heat": "Heating an enclosure",
    "engineering.exotherm": "Heat of cure under a plate",
    "engineering.formwork": "Formwork, head and uplift",
    "engineering.grout_ahead": "Temperatures ahead of the readings",
    "engineering.grout_correction": "Rate of one pour from its warming",
    "engineering.heat": "Temperatures hour by hour",
    "engineering.jackscrews": "Jackscrew moves",
    "engineering.kinetics": "Degree of cure",
    "engineering.layers": "What the heat model is given",
    "engineering.levelling": "Level of a plate",
    "engineering.level_change": "What moved between two level surveys",
    "engineering.lifts": "Peak temperature of a lift",
    "engineering.materials": "Material properties and working life",
    "engineering.milestone_bands": "Milestones as a band",
    "engineering.outlines": "Outlines in plan",
    "engineering.preconditioning": "Conditioning of the material",
    "engineering.protection": "Shade and enclosures",
    "engineering.psychrometrics": "Moist air and evaporation",
    "engineering.reading_checks": "Doubts about readings",
    "engineering.reconciliation": "Placed against takeoff",
    "engineering.response": "Answer to errors of the forecast",
    "engineering.series": "Series for warming through",
    "engineering.sky": "Surface, sun and sky",
    "engineering.sounding": "Hollow places",
    "engineering.spin_up": "Bringing the foundation to its temperature",
    "engineering.strength": "Milestones and strength",
    "engineering.sun": "Height of the sun",
    "engineering.sunlight": "Sunlight under cloud",
    "engineering.survey": "Surveyed concrete",
    "engineering.takeoff": "Takeoff",
    "engineering.tap_grid": "What a grid of taps can miss",
    "engineering.injection": "Injection of hollow places",
    "engineering.tightening": "Order of tightening",
    "scheduling.alone": "A job with all crews to itself",
    "scheduling.bounds": "Lateness that no outage schedule can avoid",
    "scheduling.calendar": "Working time of crews",
    "scheduling.check": "Outage schedule checked rule by rule",
    "scheduling.conditions": "What a search is given",
    "scheduling.covered": "Weather under a cover",
    "scheduling.drawn": "What likely weathers do to a pour",
    "scheduling.explain": "Why a job is late",
    "scheduling.forecast_error": "How wrong a forecast may be",
    "scheduling.goals": "What an outage schedule is judged by",
    "scheduling.hour_rows": "One rule at every start hour",
    "scheduling.in_minutes": "The outage in whole minutes",
    "scheduling.limits": "Limits of an hour",
    "scheduling.local_search": "Search among orders of jobs",
    "scheduling.odds": "Odds that every limit holds",
    "scheduling.orders": "Orders to begin with",
    "scheduling.problem": "What is scheduled in an outage, and the answer",
    "scheduling.reasons": "Why no schedule keeps every rule",
    "scheduling.rules": "Rules of an outage schedule",
    "scheduling.serial": "Schedule built job after job",
    "scheduling.solve": "Outage schedule",
    "scheduling.spans": "Curves over a span of hours",
    "scheduling.usual_steps": "Steps of a grouting job",
    "scheduling.windows": "Search for pour hours",
    "engineering.specimens": "Cubes and cylinders",
    "engineering.wet_cure": "Moist cure of cement grout",
    "engineering.bolt_tables.torque_at_30_ksi": "Torque for a stress of 30 ksi",
    "engineering.bolting.elongation_mm": "Stretch",
    "engineering.bolting.grout_bearing_kpa": "Pressure on the grout",
    "engineering.compartments.checked_compartments": "Compartments that fit",
    "engineering.cure.ZERO_C_IN_K": "0 °C",
    "engineering.cure.en1992_equivalent_age_d": "Equivalent age of concrete",
    "engineering.cure.freiesleben_hansen_pedersen_rate": "Rate of hardening of cement",
    "engineering.cure.hours_until_ages": "Hours until several ages, for several courses at once",
    "engineering.cure.hours_until_each": "Hours until, for several at once",
    "engineering.cure.nurse_saul_maturity_c_h": "Temperature-time sum",
    "engineering.cure.rate_ratio": "Rate of the cure clock",
    "engineering.cure_fit.fit_cure": "Strength curve and activation energy",
    "engineering.formwork.BEAD_M_PER_CARTRIDGE": "Bead from a cartridge",
    "engineering.heat.simulate": "Temperatures before the pour",
    "engineering.heat.simulate_pours": "Temperatures after the pour",
    "engineering.kinetics.unchecked_rates_per_h": "Rates inside a simulation",
    "engineering.levelling.level_survey": "Tilt, flatness and twist",
    "engineering.level_change.level_change": "Rise and sink since the survey before",
    "engineering.milestone_bands.draw_cures": "Likely cures, drawn",
    "engineering.outlines.checked_polygon": "Outline that closes",
    "engineering.psychrometrics.dew_points_c": "Dew points, hour by hour",
    "engineering.psychrometrics.evaporation_rate_menzel_kg_m2_h": "Evaporation rate, older formula",
    "engineering.psychrometrics.evaporation_rates_kg_m2_h": "Evaporation rates, hour by hour",
    "engineering.reconciliation.ALARM_Z": "Alarm, in standard deviations",
    "engineering.reconciliation.compare": "Placed against filled by level",
    "engineering.sky.STEFAN_BOLTZMANN_W_M2K4": "Stefan-Boltzmann constant",
    "engineering.sky.ZERO_C_IN_K": "0 °C",
    "engineering.sounding.sounding": "Hollow area and places",
    "engineering.strength.fit_strength": "Strength curve through the rows",
    "engineering.survey.bed_over": "Bed over the surveyed concrete",
    "engineering.survey.survey_surface": "Surface through the survey",
    "engineering.takeoff.take_off": "Volume by compartment",
    "engineering.tap_grid.hit_probability": "Odds that a void lies under a tap",
    "engineering.tap_grid.missed_void_mm": "Void that the grid misses",
    "engineering.injection.injection_holes": "Holes to inject and to vent",
    "engineering.injection.resin_need_l": "Resin to have at hand",
    "scheduling.bounds.lateness_bound_min": "Lateness that cannot be avoided",
    "scheduling.goals.lateness": "Weighted lateness",
    "scheduling.reasons.reasons_of_jobs": "Why a job does not fit by itself",
    "scheduling.reasons.reasons_together": "Why the jobs do not fit together",
    "scheduling.serial.build": "Jobs placed in a given order",
    "scheduling.serial.greedy": "Jobs placed by due date",
    "scheduling.solve.solve": "Best schedule found",
    "scheduling.hour_rows.cure_row": "Hours to spare before a deadline",
    "scheduling.hour_rows.limit_row": "Margin to a limit",
    "scheduling.hour_rows.spell_row": "Hours to spare in a shift or daylight",
    "scheduling.hour_rows.forecast_end_row": "Forecast left at the end",
    "scheduling.spans.starts_that_fit": "Starts that fit",
    "scheduling.windows.find_pour_hours": "Every hour judged",
}
"""Titles of modules, and of names that do not read as one."""

_WORDS = {"temp": "temperature", "temps": "temperatures", "sd": "standard deviation", "m2": "m²", "n": "number of"}
_OTHER_UNITS = {
    "_mm2": "mm²", "_w_m2k": "W/m²·K", "_w_m2k4": "W/m²·K⁴", "_j_m2k": "J/m²·K", "_j_m3k": "J/m³·K", "_j_kgk": "J/kg·K",
    "_j_m2": "J/m²", "_kj_mol": "kJ/mol", "_kj_molk": "kJ/mol·K", "_m2_s": "m²/s", "_m_s2": "m/s²", "_l_min": "L/min",
    "_per_h": "1/h", "_ratio": "-", "_share": "-", "_c_h": "°C·h",
}  # fmt: skip
_STAYS = ("_ratio", "_share")


def unit_of(name: str) -> str:
    """The unit that the end of a name tells, "" where it tells none."""
    return _ending_and_unit(name)[1]


def title_of(name: str, anchor: str = "") -> str:
    """A name as a person writes it: dew_point_c is "Dew point", CureClock is "Cure clock"."""
    if anchor in TITLES:
        return TITLES[anchor]
    plain = plain_name(name)
    return plain[:1].upper() + plain[1:]


def plain_name(name: str) -> str:
    """The words of a name without its unit, in small letters."""
    if not name.islower() and not name.isupper():
        name = "".join(f"_{letter}" if letter.isupper() else letter for letter in name).strip("_")
    name = name.lower()
    ending = _ending_and_unit(name)[0]
    if ending not in _STAYS:
        name = name.removesuffix(ending)
    return " ".join(_WORDS.get(word, word) for word in name.split("_") if word)


def _ending_and_unit(name: str) -> tuple[str, str]:
    for ending, label in _OTHER_UNITS.items():
        if name.endswith(ending):
            return ending, label
    try:
        suffix = units.suffix_of(name)
    except KeyError:
        return "", ""
    return f"_{suffix}", units.UNITS_OF[suffix][0].label
