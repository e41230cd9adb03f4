"""Do the dates of the milestones come true? Invented cures with a known truth, watched through noisy probes.

Each cure has a rate, heat, film, foundation and air of its own that the app is not told. Its logger writes a file on
the clock of the site across a clock change, with noise, errors that last for hours, a lone spike and gaps. The file is
read by the reader of the app, and the bands are those of the app, from the data sheet and the readings so far. Rate
and link to the warming are drawn as the app believes they are: so it says whether the bands are counted rightly, not
whether grouts of this world err so.
"""

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

import numpy as np

from groutjobs.curing.calc.doubts import without_spikes
from groutjobs.curing.calc.foresight import AirKnown, Watched, bands_along, cures_of, foreseen_of
from groutjobs.curing.files import SITE_CLOCK_TWICE, Clock, readings_of
from groutjobs.curing.series import HOUR, Series, series_of
from groutjobs.engineering.checks import Floats, require_between
from groutjobs.engineering.cure import EPOXY_CLOCK, CureClock, hours_until, rate_ratio
from groutjobs.engineering.cure_belief import LOG_RATE_SD, belief_before
from groutjobs.engineering.cure_fit import EPOXY_PRIOR, SHAPE_PRIOR_LOG_SD, STRENGTH_SD_RATIO, CureFit, fit_cure
from groutjobs.engineering.exotherm import AirAround, Placements, curing_temperatures
from groutjobs.engineering.grout_correction import (
    BINDER_LOG_SD,
    FILM_LOG_SD,
    LINK_LOG_SD,
    GroutPace,
    PourSetting,
    belief_with_grout,
    grout_pace,
    product_kinetics,
)
from groutjobs.engineering.layers import Layers
from groutjobs.engineering.materials import concrete, grout, steel
from groutjobs.engineering.strength import (
    EPOXY_MILESTONES,
    StrengthCurve,
    StrengthPoint,
    milestone_age_h,
    strength_mpa,
)
from groutjobs.errors import GroutJobsError
from groutjobs.scheduling.forecast_error import FORECAST_ERRORS

ZONE = ZoneInfo("Europe/Paris")
PLACED_AT = dt.datetime(2026, 10, 24, 12, 0, tzinfo=dt.UTC)
"""The clocks go back in the first night."""
HOURS = 24 * 24
SHEET_PLACES = tuple((temp_c, age_h) for temp_c in (15.0, 23.0, 30.0) for age_h in (16.0, 24.0, 48.0, 168.0))
CLOCK = replace(EPOXY_CLOCK, hottest_c=45.0)
SHARES = (0.15, 0.3, 0.5)
JUDGED = ("tension", "full_cure")
NOISE_K, LASTING_K, LASTING_H = 0.4, 0.7, 4.0


@dataclass(frozen=True)
class Cure:
    """One invented cure: its truth, and what the app is told."""

    ready_h: dict[str, float]
    fit: CureFit
    setting: PourSetting
    series: dict[str, Series]
    air_forecast_c: Floats
    seed: int


@dataclass(frozen=True)
class Judged:
    """One milestone of one cure seen at one time: the truth, the band, and the date of the data sheet alone."""

    code: str
    share: float
    true_h: float
    seen_at_h: float
    p10_h: float | None
    p50_h: float | None
    p90_h: float | None
    sheet_h: float

    @property
    def holds(self) -> bool:
        low = -math.inf if self.p10_h is None else self.p10_h
        high = math.inf if self.p90_h is None else self.p90_h
        return low <= self.true_h <= high


def invented(seed: int) -> Cure:
    """A cure drawn from one seed."""
    random = np.random.default_rng([2026, seed])
    curve = StrengthCurve(
        ultimate_mpa=random.uniform(80.0, 120.0),
        time_h=math.exp(random.uniform(math.log(10.0), math.log(25.0))),
        shape=math.exp(random.normal(0.0, SHAPE_PRIOR_LOG_SD)),
        scatter_ratio=0.0,
    )
    energy = min(max(random.normal(EPOXY_PRIOR.mean_kj_mol, EPOXY_PRIOR.sd_kj_mol), 30.0), 90.0)
    clock = replace(CLOCK, activation_kj_mol=energy)
    log_rate = random.normal(0.0, LOG_RATE_SD)
    setting, air_c, true_c = _warmed(random, curve, energy, log_rate)
    at_h = np.arange(float(len(true_c)))
    ready_h = {
        item.code: hours_until(milestone_age_h(item) / math.exp(log_rate), at_h, true_c, clock) or math.inf
        for item in EPOXY_MILESTONES
    }
    return Cure(
        ready_h=ready_h,
        fit=_sheet(random, curve, clock),
        setting=setting,
        series=_read(random, true_c, air_c),
        air_forecast_c=_forecast(random, air_c),
        seed=seed,
    )


def _sheet(random: np.random.Generator, curve: StrengthCurve, clock: CureClock) -> CureFit:
    """The fit of a data sheet with the scatter of tests; one whose rows the app refuses is tested again."""
    while True:
        points = [
            StrengthPoint(
                age_h=age_h,
                temp_c=temp_c,
                strength_mpa=strength_mpa(curve, age_h * rate_ratio(clock, temp_c))
                * math.exp(random.normal(0.0, STRENGTH_SD_RATIO)),
            )
            for temp_c, age_h in SHEET_PLACES
        ]
        try:
            fit = fit_cure(points, CLOCK)
            product_kinetics(fit.curve, fit.activation_kj_mol, CLOCK)
        except GroutJobsError:
            continue
        return fit


def _warmed(
    random: np.random.Generator, curve: StrengthCurve, energy: float, log_rate: float
) -> tuple[PourSetting, Floats, Floats]:
    """The setting as it is believed, and the true air and grout hour by hour."""
    temp_c = random.uniform(12.0, 24.0)
    grout_mm = random.uniform(35.0, 80.0)
    setting = PourSetting(
        layers=Layers(
            concrete=concrete(), concrete_mm=1000.0, plate=steel(), plate_mm=40.0, grout=grout("epoxy"),
            grout_mm=grout_mm,
        ),
        placed_c=temp_c + 2.0, foundation_c=temp_c, plate_c=temp_c, film_w_m2k=12.0, model_sd_k=1.2, start_sd_h=0.3,
    )  # fmt: skip
    at_h = np.arange(HOURS + 1.0)
    swing_k = random.uniform(1.0, 5.0) * np.sin(2 * math.pi * (at_h + random.uniform(0, 24)) / 24)
    air_c = temp_c + random.normal(0.0, 1.5) + swing_k + _lasting(random, len(at_h), 1.5, 48.0)
    pace = float(np.clip(log_rate + random.normal(0.0, LINK_LOG_SD), -1.2, 1.2))
    run = curing_temperatures(
        setting.layers,
        product_kinetics(curve, energy, CLOCK),
        Placements(
            placed_c=np.array([setting.placed_c]),
            foundation_c=np.array([temp_c + random.normal(0.0, 1.5)]),
            plate_c=np.array([temp_c + random.normal(0.0, 1.0)]),
            binder_ratio=np.array([0.13 * math.exp(random.normal(0.0, BINDER_LOG_SD))]),
            pace_ratio=np.array([math.exp(pace)]),
        ),
        AirAround(
            air_c=np.clip(air_c, -35.0, 60.0)[None, :],
            film_w_m2k=np.full((1, len(at_h)), 12.0 * math.exp(random.normal(0.0, FILM_LOG_SD))),
        ),
        steps_per_hour=20,
    )
    probe = random.uniform(-0.8, 0.8)
    middle, half = (run.hottest_c[0] + run.coldest_c[0]) / 2, (run.hottest_c[0] - run.coldest_c[0]) / 2
    return setting, air_c, np.asarray(middle + probe * half, dtype=np.float64)


def _lasting(random: np.random.Generator, count: int, sd_k: float, fades_h: float) -> Floats:
    errors, kept = random.normal(0.0, sd_k, count), math.exp(-1 / fades_h)
    for hour in range(1, count):
        errors[hour] = kept * errors[hour - 1] + math.sqrt(1 - kept**2) * errors[hour]
    return errors


def _read(random: np.random.Generator, true_c: Floats, air_c: Floats) -> dict[str, Series]:
    """What comes out of the logger's file: half-hourly on the clock of the site, with noise, a spike and gaps."""
    at_h = np.arange(0.0, HOURS, 0.5)
    hours = np.arange(len(true_c)) * 1.0
    grout_c = np.interp(at_h, hours, true_c + _lasting(random, len(true_c), LASTING_K, LASTING_H))
    grout_c += random.normal(0.0, NOISE_K, len(at_h))
    grout_c[random.integers(10, 80)] += 25.0
    read_air_c = np.interp(at_h, hours, air_c) + random.normal(0.0, NOISE_K, len(at_h))
    keep = np.ones(len(at_h), dtype=bool)
    for _ in range(random.integers(1, 4)):
        begin = random.integers(8, 160)
        keep[begin : begin + random.integers(5, 17)] = False
    local = [(PLACED_AT + hour * HOUR).astimezone(ZONE).strftime("%Y-%m-%d %H:%M") for hour in at_h]
    rows = zip(local, grout_c, read_air_c, keep, strict=True)
    lines = ["time,grout_c,air_c", *(f"{time},{one:.2f},{other:.2f}" for time, one, other, kept in rows if kept)]
    found = readings_of(
        "\n".join(lines).encode(),
        Clock(ZONE, SITE_CLOCK_TWICE),
        earliest=PLACED_AT - HOUR,
        latest=PLACED_AT + (HOURS + 2) * HOUR,
        confirmed=True,
    )
    return {
        probe: series_of([(row.read_at, row.temp_c) for row in found if row.probe == probe], PLACED_AT)
        for probe in ("grout", "air")
    }


def _forecast(random: np.random.Generator, air_c: Floats) -> Floats:
    """Errors of the spread that the app is told, the same at every lead of the bench: they grow from the hour seen."""
    return _lasting(random, len(air_c), 1.0, FORECAST_ERRORS.time_constant_h)


def judged(cure: Cure, share: float) -> list[Judged]:
    """The milestones ahead, seen after a share of the hours until the bolts may be tensioned."""
    seen_h = max(5.0, share * min(cure.ready_h["tension"], 200.0))
    series = {probe: row.between(0.0, seen_h) for probe, row in cure.series.items()}
    grout_read, _ = without_spikes(series["grout"])
    series = series | {"grout": grout_read}
    kinetics = product_kinetics(cure.fit.curve, cure.fit.activation_kj_mol, CLOCK)
    pace = _pace(cure, kinetics, series)
    before = belief_before(cure.fit)
    belief = before if pace is None else belief_with_grout(before, pace)
    air = _air(cure, series["air"], seen_h)
    watched = Watched(
        setting=cure.setting, kinetics=kinetics, pace=pace, series=series, air=air, mixed_h=0.0, end_h=float(HOURS),
        seed=cure.seed,
    )  # fmt: skip
    found = foreseen_of(watched)
    bands = bands_along(EPOXY_MILESTONES, cures_of(belief, CLOCK, found, cure.seed))
    middle_c = np.median(found.grout_c, axis=0)
    clock = replace(CLOCK, activation_kj_mol=cure.fit.activation_kj_mol)
    told = []
    for item in EPOXY_MILESTONES:
        true_h = cure.ready_h[item.code]
        if item.code in JUDGED and seen_h < true_h < HOURS:
            sheet_h = hours_until(milestone_age_h(item), found.at_h, middle_c, clock) or float(HOURS)
            band = bands[item.code]
            told.append(Judged(item.code, share, true_h, seen_h, band.p10_h, band.p50_h, band.p90_h, sheet_h))
    return told


def _pace(cure: Cure, kinetics: object, series: dict[str, Series]) -> GroutPace | None:
    read, air = series["grout"], series["air"]
    if len(read) < 4 or len(air) < 4:
        return None
    hours = np.arange(math.ceil(read.at_h[-1]) + 1.0)
    try:
        return grout_pace(kinetics, cure.setting, np.interp(hours, air.at_h, air.temp_c), read.at_h, read.temp_c)  # type: ignore[arg-type]
    except GroutJobsError:
        return None


def _air(cure: Cure, measured: Series, seen_h: float) -> AirKnown:
    """The true air ahead with an error that grows with the lead."""
    at_h = np.arange(float(HOURS))
    true_c = np.interp(at_h, cure.series["air"].at_h, cure.series["air"].temp_c)
    sd_k = FORECAST_ERRORS.air_spread_k(np.maximum(at_h - seen_h, 0.0))
    return AirKnown(
        measured=measured,
        forecast=Series(at_h, true_c + sd_k * cure.air_forecast_c[: len(at_h)]),
        issued_h=seen_h,
        errors=FORECAST_ERRORS,
    )


def held_back(count: int, first: int = 0) -> Iterator[list[Judged]]:
    """Cure after cure, each seen at several shares of its time."""
    require_between("number of cures", count, 1, 10_000, source="GROUTJOBS")
    for seed in range(first, first + count):
        cure = invented(seed)
        yield [row for share in SHARES for row in judged(cure, share)]


def coverage(rows: Sequence[Judged]) -> float:
    """Share of the true dates that lie from P10 to P90."""
    return float(np.mean([row.holds for row in rows]))


def gain(rows: Sequence[Judged]) -> tuple[float, float]:
    """Root mean square of the relative errors of the middle date, by the data sheet alone and with the readings."""
    closed = [row for row in rows if row.p50_h is not None]
    sheet = [row.sheet_h / row.true_h - 1 for row in closed]
    read = [(row.p50_h or 0.0) / row.true_h - 1 for row in closed]
    return float(np.sqrt(np.mean(np.square(sheet)))), float(np.sqrt(np.mean(np.square(read))))


def cure_table(cures: Iterator[list[Judged]]) -> Iterator[str]:
    """Coverage and gain, for each milestone at each share, then over all."""
    found = list(cures)
    yield f"{'milestone, seen after':<26}{'cases':>7}{'in P10-P90':>12}{'data sheet':>12}{'readings':>10}"
    everything = [row for rows in found for row in rows]
    groups = [
        (f"{code}, {share:.0%} of the way", [row for row in everything if row.code == code and row.share == share])
        for code in JUDGED
        for share in SHARES
    ]
    for label, rows in [*groups, ("all", everything)]:
        if rows:
            sheet, read = gain(rows)
            yield f"{label:<26}{len(rows):>7}{coverage(rows):>11.1%}{sheet:>11.1%}{read:>10.1%}"
    firsts = [rows for code in JUDGED for rows in [[r for one in found for r in one if r.code == code]]]
    for code, rows in zip(JUDGED, firsts, strict=True):
        sheet, read = gain(rows)
        yield f"{code}: error {1 - read / sheet:.0%} smaller than by the data sheet alone"
    yield f"{len(found)} cures; errors are root mean squares of the middle date against the truth"
