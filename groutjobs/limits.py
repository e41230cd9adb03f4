"""The one table of what a person may type: for each quantity its hard limits, its plausible range and the source.

A value beyond a hard limit is refused. A value beyond the plausible range comes back with a question and is taken
when the person says that it is right, because reality may be odd. All numbers are in the storage unit of the suffix.
"""

from dataclasses import dataclass

from groutjobs import units


@dataclass(frozen=True)
class Limit:
    """Limits of one kind of quantity. `suffix` fixes the unit, see units.UNITS_OF; "" means a bare number."""

    suffix: str
    low: float
    high: float
    likely_low: float
    likely_high: float
    source: str
    whole: bool = False

    def shown(self, value: float, system: str) -> str:
        return units.shown(value, self.suffix, system) if self.suffix else f"{value:g}"


LIMITS: dict[str, Limit] = {}


def _add(key: str, suffix: str, hard: tuple[float, float], likely: tuple[float, float], source: str) -> None:
    LIMITS[key] = Limit(suffix, *hard, *likely, source)


def _count(key: str, hard: tuple[int, int], likely: tuple[int, int], source: str) -> None:
    LIMITS[key] = Limit("", *hard, *likely, source, whole=True)


_OURS = "GROUTJOBS"
# temperatures
_add("air_c", "c", (-40, 60), (-20, 45), _OURS)
_add("surface_c", "c", (-40, 80), (-10, 65), _OURS)
_add("material_c", "c", (-20, 60), (4, 40), "BLOCH-MCM")
_add("grout_c", "c", (-20, 120), (5, 80), _OURS)
_add("annual_mean_c", "c", (-30, 40), (-10, 32), _OURS)
_add("annual_swing_c", "k", (0, 40), (2, 25), _OURS)
# air
_add("humidity_ratio", "ratio", (0, 1), (0.05, 1), _OURS)
_add("wind_km_h", "km_h", (0, 250), (0, 90), _OURS)
_add("solar_w_m2", "w_m2", (0, 1400), (0, 1150), _OURS)
_add("share_ratio", "ratio", (0, 1), (0, 1), _OURS)
# plan and elevation
_add("plan_mm", "mm", (-1_000, 40_000), (0, 15_000), _OURS)
_add("block_mm", "mm", (200, 40_000), (400, 15_000), _OURS)
_add("elevation_mm", "mm", (-5_000, 500_000), (-5_000, 500_000), _OURS)
_add("plate_thickness_mm", "mm", (5, 300), (10, 150), _OURS)
_add("hole_mm", "mm", (3, 600), (6, 300), "API686")
_add("pad_mm", "mm", (20, 3_000), (40, 1_500), "API686")
_add("pitch_mm", "mm", (0.5, 6), (1, 4), _OURS)
_add("clearance_mm", "mm", (0, 300), (25, 150), "PRACTICE")
_add("chamfer_mm", "mm", (0, 60), (15, 30), "API686")
_add("roughness_mm", "mm", (0, 60), (5, 40), "ACI351.5")
_add("removed_mm", "mm", (0, 150), (6, 60), "ACI351.5")
_add("head_mm", "mm", (0, 1_500), (100, 900), "BLOCH-MCM")
_add("grout_thickness_mm", "mm", (5, 600), (20, 200), "BLOCH-MCM")
_add("free_length_mm", "mm", (20, 5_000), (100, 2_000), "API686")
_add("sleeve_mm", "mm", (0, 3_000), (0, 1_500), "API686")
_add("level_reading_mm", "mm", (-50, 50), (-10, 10), _OURS)
_add("resolution_mm", "mm", (0.0005, 2), (0.001, 0.5), _OURS)
# the machine
_add("machine_kg", "kg", (1, 500_000), (50, 60_000), _OURS)
_add("driver_kw", "kw", (0.1, 60_000), (1, 15_000), _OURS)
_add("speed_rpm", "rpm", (1, 60_000), (100, 15_000), _OURS)
_add("concrete_mpa", "mpa", (5, 120), (15, 70), "PRACTICE")
_add("strength_mpa", "mpa", (0, 250), (1, 150), "PRACTICE")
_add("tilt_mm_m", "mm_m", (0.001, 20), (0.02, 1), "API686")
# samples, feet and edges after the pour
_add("specimen_mm", "mm", (10, 500), (25, 300), "ASTMC579")
_add("specimen_kn", "kn", (0.1, 10_000), (1, 3_000), _OURS)
_add("specimen_mpa", "mpa", (0.1, 250), (5, 150), _OURS)
_add("foot_mm", "mm", (-5, 5), (-0.5, 0.5), _OURS)
_add("foot_limit_mm", "mm", (0.005, 1), (0.02, 0.15), "PRACTICE")
_add("crack_mm", "mm", (0.01, 50), (0.05, 5), _OURS)
_add("crack_length_mm", "mm", (1, 20_000), (10, 5_000), _OURS)
_add("backed_out_mm", "mm", (0, 300), (0, 100), _OURS)
# bolts
_add("torque_nm", "nm", (1, 50_000), (20, 12_000), "BLOCH-MCM")
_add("stretch_mm", "mm", (0.001, 20), (0.05, 5), "PRACTICE")
# material and crew
_add("yield_l", "l", (1, 500), (8, 80), "PRACTICE")
_add("kit_kg", "kg", (1, 1_000), (15, 200), "PRACTICE")
_add("density_kg_m3", "kg_m3", (800, 3_500), (1_700, 2_400), "PRACTICE")
_add("volume_l", "l", (0.1, 100_000), (1, 5_000), _OURS)
_add("waste_ratio", "ratio", (0, 1), (0.05, 0.3), "BLOCH-MCM")
_add("working_life_min", "min", (1, 600), (15, 300), "PRACTICE")
_add("mix_min", "min", (0.5, 60), (1.5, 15), "BLOCH-MCM")
_add("place_min", "min", (1, 240), (3, 60), _OURS)
_add("cure_h", "h", (0.5, 2_000), (6, 700), "PRACTICE")
_add("activation_kj_mol", "", (20, 120), (35, 80), "PRACTICE")
_count("kits", (0, 2_000), (1, 300), _OURS)
_count("spare_kits", (0, 200), (1, 10), "PRACTICE")
_count("mixers", (1, 20), (1, 6), _OURS)
_count("outage_mixers", (0, 100), (1, 12), _OURS)
_count("outage_aligners", (0, 100), (1, 12), _OURS)
_count("job_weight", (1, 1000), (1, 20), _OURS)
_count("solve_s", (5, 600), (5, 300), _OURS)
_count("more_count", (0, 20), (0, 5), _OURS)
_add("step_h", "h", (0.02, 720), (0.25, 336), _OURS)
_count("later_h", (0, 720), (0, 240), _OURS)
_count("crew", (1, 60), (3, 20), _OURS)
_add("latitude_deg", "deg", (-90, 90), (-66, 72), _OURS)
_add("longitude_deg", "deg", (-180, 180), (-180, 180), _OURS)
_add("site_elevation_m", "m", (-430, 6_000), (-50, 3_500), _OURS)
# planning
_add("rise_mm", "mm", (0, 200), (5, 60), "PRACTICE")
_add("snug_kn", "kn", (0, 5_000), (0, 500), _OURS)
_add("shelf_life_d", "d", (1, 3_650), (90, 1_500), "PRACTICE")
_add("turnaround_min", "min", (0, 60), (1, 15), _OURS)
_add("conditioning_h", "h", (0, 1_000), (8, 240), "BLOCH-MCM")
_count("kits_per_batch", (1, 10), (1, 3), _OURS)
# hours of weather: a dew point has no use where the air holds no water
_add("dew_point_c", "c", (-60, 40), (-30, 30), _OURS)
_add("air_humidity_ratio", "ratio", (0.01, 1), (0.05, 1), _OURS)
# the pour log
_count("batch", (1, 999), (1, 150), _OURS)
_count("batch_kits", (1, 40), (1, 8), _OURS)
_count("bags", (0, 400), (1, 40), _OURS)
_count("plan_days", (2, 45), (2, 45), _OURS)
# plates
_add("jack_pad_mm", "mm", (15, 300), (40, 120), "API686")
_add("fill_above_mm", "mm", (0, 2_000), (0, 400), _OURS)
_count("compartments_along", (1, 20), (1, 12), _OURS)
# inspections of the cured grout
_add("coplanarity_mm", "mm", (0.001, 20), (0.01, 2), "API686")
_add("void_m2", "m2", (0, 10), (0.002, 0.05), _OURS)
_add("void_depth_mm", "mm", (0.1, 300), (0.5, 60), _OURS)
_add("bolt_mpa", "mpa", (20, 1_200), (80, 700), "PRACTICE")
_count("passes", (1, 12), (2, 6), "PRACTICE")
# limits of pour hours
_add("difference_k", "k", (0, 40), (1, 15), _OURS)
_add("evaporation_kg_m2_h", "kg_m2_h", (0, 5), (0.1, 2), "ACI305")
_add("enclosure_c", "c", (-10, 50), (10, 35), _OURS)
_add("protection_h", "h", (0, 720), (12, 336), "BLOCH-MCM")
