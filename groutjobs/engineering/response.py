"""How the temperatures of a pour answer to errors of the forecast, for many equally likely weathers at once.

An error of a few kelvin changes every temperature in proportion. So the model is run for one hour from every hour of
the forecast, once as it is and once with a kelvin more in each cell, in the air and in the dew point at both ends of
the hour; from these answers the errors of all weathers are marched through the hours, once for the column before the
pour and once for the column with grout. The cure clock is not made proportional: it is read along the temperature of
the coldest grout, so its stop and its cap are kept. Nor is the air in a heated enclosure, which a heater keeps from
becoming colder and not from becoming warmer: its error is taken weather by weather, and what the air outside still
does through the walls has answers of its own.

    errors = AirErrors(air_k=…, dew_point_k=…)
    drawn = temperature_errors(before, air, first, errors)
    ages = DrawnAges(before, after, air, first, errors, drawn, clock)
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from groutjobs.engineering.checks import Floats, require_all_between, require_between
from groutjobs.engineering.cure import CureClock, equivalent_age_h
from groutjobs.engineering.heat import Layers, ProfileStart, Surroundings, Temperatures, simulate
from groutjobs.engineering.protection import Covers, Enclosure, following_outside, held_inside
from groutjobs.engineering.sky import HourlyAir, Ints
from groutjobs.errors import Unusable

Bools = npt.NDArray[np.bool_]
Singles = npt.NDArray[np.float32]
STEPS_PER_HOUR = 2
LIKELY_SAMPLES = 100
"""The date by which nine in ten of so many are done is passed by 10 ± 3 in a hundred, one standard error. GROUTJOBS."""
_AIR_NOW, _AIR_NEXT, _DEW_NOW, _DEW_NEXT = 0, 1, 2, 3
_COLDEST_C, _HOTTEST_C, _PER_K = -80.0, 160.0, 50


@dataclass(frozen=True)
class AirErrors:
    """Differences from the forecast, from the first hour that is planned for. [K], shape (n_samples, n_hours + 1)"""

    air_k: Floats
    dew_point_k: Floats

    def __post_init__(self) -> None:
        if self.air_k.ndim != 2 or self.air_k.shape != self.dew_point_k.shape or not self.air_k.size:
            reason = f"{self.air_k.shape} for the air and {self.dew_point_k.shape} for the dew point"
            raise Unusable("errors of the forecast", reason, source="GROUTJOBS")
        require_all_between("error of the air", self.air_k, -100.0, 100.0, unit="K", source="GROUTJOBS")
        require_all_between("error of the dew point", self.dew_point_k, -100.0, 100.0, unit="K", source="GROUTJOBS")

    def by_hour(self, covers: Covers, ends: HourlyAir, hours: Ints) -> Singles:
        """What drives each hour, at its two ends: errors of the air at the column and of the dew point; where a heater
        holds the air, also those of the air outside less those inside. shape (n_hours, 4 or 6, n_samples)"""
        air_k, dew_point_k = (_at_both_ends(errors) for errors in (self.air_k, self.dew_point_k))
        heated = _heated(covers)
        if not heated:
            return np.concatenate([air_k, dew_point_k], axis=1)
        inside_k = air_k.copy()
        for cover in heated:
            under = _under(cover, hours)
            outside_c = ends.air_c[under][..., None]
            inside_k[under] = cover.inside_c(outside_c + air_k[under]) - cover.inside_c(outside_c)
        return np.concatenate([inside_k, dew_point_k, air_k - inside_k], axis=1)


def _at_both_ends(errors_k: Floats) -> Singles:
    """Shape (n_hours, 2, n_samples)."""
    by_instant = errors_k.T.astype(np.float32)
    return np.stack([by_instant[:-1], by_instant[1:]], axis=1)


def _heated(covers: Covers) -> list[Enclosure]:
    return [cover for cover in covers if isinstance(cover, Enclosure) and cover.air_c is not None]


def _under(cover: Enclosure, hours: Ints) -> Bools:
    """The hours that begin under a cover."""
    return np.asarray((hours >= cover.from_hour) & (hours < cover.to_hour))


@dataclass(frozen=True)
class TemperatureErrors:
    """Differences from the run on the forecast. [K], shape (n_samples, n_hours + 1); by cell (n_hours + 1, n_cells,
    n_samples)."""

    concrete_k: Floats
    plate_k: Floats | None
    cell_k: Singles


def temperature_errors(before: Temperatures, air: HourlyAir, first: int, errors: AirErrors) -> TemperatureErrors:
    """Return how far concrete and plate differ before the pour, for each of many weathers.

    Parameters
    ----------
    before : One case of simulate on the forecast.
    air : The weather of that case.
    first : Its hour from which on the forecast may be wrong. [h], 0 to the last but one
    errors : Differences of air and dew point from that hour on.

    Returns
    -------
    Differences of the concrete surface, the plate and every cell. [K]

    Raises
    ------
    OutOfRange : the first hour lies outside the limits above.
    Unusable : the hours do not fit.

    Source
    ------
    [INCROPERA] 5.10 as simulate, in proportion to the errors; against runs of each weather within 0.2 K rms.
    [GROUTJOBS] limits of the hours.
    """
    require_between("first hour that may be wrong", first, 0, air.n_hours - 1, unit="h", source="GROUTJOBS")
    hours = np.arange(first, air.n_hours)
    if errors.air_k.shape[-1] != len(hours) + 1 or before.cell_c.ndim != 2:
        reason = f"{errors.air_k.shape[-1]} hours of errors for {len(hours) + 1} hours of one case"
        raise Unusable("errors of the forecast", reason, source="GROUTJOBS")
    answers, by_hour = _driven(before.layers, before.surroundings, air, hours, before.cell_c[hours], errors)
    found = _marched(answers, by_hour)
    return TemperatureErrors(
        concrete_k=found[:, -1].T.astype(np.float64),
        plate_k=None if before.plate_c is None else found[:, 0].T.astype(np.float64),
        cell_k=found[:, :-1],
    )


def _driven(
    layers: Layers, surroundings: Surroundings, air: HourlyAir, hours: Ints, about_c: Floats, errors: AirErrors
) -> tuple[Singles, Singles]:
    """The answers of the hours, and the errors in the order of their columns."""
    ends = air.at(np.stack([hours, hours + 1], axis=-1))
    by_hour = errors.by_hour(surroundings.covers, ends, hours)
    return _answers(layers, surroundings, ends, hours, about_c), by_hour


def _answers(layers: Layers, surroundings: Surroundings, ends: HourlyAir, hours: Ints, about_c: Floats) -> Singles:
    """What a kelvin at the beginning of an hour does by its end, shape (n_hours, n_cells + 1, n_cells + 4 or 6).

    Rows are the cells and the concrete surface; columns a kelvin in each cell, in the air at the beginning and at the
    end, and in the dew point at both; under a heater two more, in the air outside while that inside is held. ends has
    shape (n_hours, 2), about_c (n_hours, n_cells) is the state about which the answers are taken. The dew point is
    lowered, not raised: it may not pass the air.
    """
    n_cells, covers = about_c.shape[-1], surroundings.covers
    following = replace(surroundings, covers=following_outside(covers))
    columns = _Disturbed.each_once(n_cells)
    answers = _after_an_hour(layers, following, _inside(covers, ends, hours), hours, about_c, columns)
    answers[..., n_cells + _DEW_NOW :] *= -1
    if not _heated(covers):
        return answers
    held = replace(surroundings, covers=held_inside(covers))
    outside = _after_an_hour(layers, held, ends, hours, about_c, columns.of_air(n_cells))
    return np.concatenate([answers, outside], axis=-1)


@dataclass(frozen=True)
class _Disturbed:
    """What is changed in each of several runs: shapes (n_runs, n_cells), (n_runs, 2) and (n_runs, 2)."""

    cells_k: Floats
    air_k: Floats
    dew_point_k: Floats

    @classmethod
    def each_once(cls, n_cells: int) -> "_Disturbed":
        whole = np.eye(n_cells + _DEW_NEXT + 1)
        cells_k, air_k, dew_point_k = np.split(whole, [n_cells, n_cells + _DEW_NOW], axis=1)
        return cls(cells_k, air_k, -dew_point_k)

    def of_air(self, n_cells: int) -> "_Disturbed":
        where = slice(n_cells + _AIR_NOW, n_cells + _AIR_NEXT + 1)
        return _Disturbed(self.cells_k[where], self.air_k[where], self.dew_point_k[where])


def _after_an_hour(
    layers: Layers, surroundings: Surroundings, ends: HourlyAir, hours: Ints, about_c: Floats, changed: _Disturbed
) -> Singles:
    """How much each change at the beginning of an hour moves cells and concrete surface by its end."""
    n_runs, (n_hours, n_cells) = len(changed.cells_k) + 1, about_c.shape
    cells_k, air_k, dew_point_k = (
        np.concatenate([np.zeros((1, rows.shape[1])), rows])
        for rows in (changed.cells_k, changed.air_k, changed.dew_point_k)
    )
    batch = {field.name: np.repeat(getattr(ends, field.name)[:, None, :], n_runs, axis=1) for field in fields(ends)}
    batch["air_c"] += air_k
    batch["dew_point_c"] += dew_point_k
    air = HourlyAir(**{name: values.reshape(-1, 2) for name, values in batch.items()})
    start = ProfileStart(cell_c=(about_c[:, None, :] + cells_k).reshape(-1, n_cells))
    from_hours = np.repeat(hours, n_runs)
    run = simulate(layers, air, surroundings, start, steps_per_hour=STEPS_PER_HOUR, from_hours=from_hours)
    ends_c = np.concatenate([run.cell_c[:, 1], run.concrete_surface_c[:, 1:]], axis=1).reshape(n_hours, n_runs, -1)
    return np.ascontiguousarray((ends_c[:, 1:] - ends_c[:, :1]).swapaxes(1, 2), dtype=np.float32)


def _inside(covers: Covers, ends: HourlyAir, hours: Ints) -> HourlyAir:
    """The weather with the air that heaters hold, so that the answers are taken about it."""
    air_c = ends.air_c.copy()
    for cover in _heated(covers):
        under = _under(cover, hours)
        air_c[under] = cover.inside_c(air_c[under])
    return replace(ends, air_c=air_c, dew_point_c=np.minimum(ends.dew_point_c, air_c))


def _marched(answers: Singles, by_hour: Singles) -> Singles:
    """Errors of every cell and of the concrete surface at every hour, shape (n_hours + 1, n_cells + 1, n_samples)."""
    n_hours, n_drivers, n_samples = by_hour.shape
    n_cells = answers.shape[1] - 1
    found = np.zeros((n_hours + 1, n_cells + 1, n_samples), dtype=np.float32)
    state = np.zeros((n_cells + n_drivers, n_samples), dtype=np.float32)
    for hour in range(n_hours):
        state[n_cells:] = by_hour[hour]
        np.matmul(answers[hour], state, out=found[hour + 1])
        state[:n_cells] = found[hour + 1, :n_cells]
    return found


class DrawnAges:
    """Equivalent ages of the coldest grout after a pour at each planned hour, for each of many weathers."""

    def __init__(
        self,
        before: Temperatures,
        after: Temperatures,
        air: HourlyAir,
        first: int,
        errors: AirErrors,
        drawn: TemperatureErrors,
        clock: CureClock,
    ) -> None:
        n_starts, n_at, n_cells = after.cell_c.shape
        n_grout = n_cells - before.cell_c.shape[-1]
        hours = np.arange(first, air.n_hours)
        about_c = _settled(after.cell_c, len(hours))
        answers, by_hour = _driven(after.layers, after.surroundings, air, hours, about_c, errors)
        settled_k = _marched(answers, by_hour)[:, :n_cells]
        watched = np.unique([1, 1 + n_grout // 2, n_grout])
        self._fading = _fading(answers[..., :n_cells], watched, n_starts, n_at)
        self._settled_k: Singles = np.ascontiguousarray(settled_k[:, watched].swapaxes(0, 1))
        self._unlike_k: Singles = settled_k[:n_starts].copy()
        self._unlike_k[:, _without(n_cells, n_grout)] -= drawn.cell_k[:n_starts]
        self._grout_c: Singles = after.cell_c[..., watched].astype(np.float32)
        self._coldest_c, self._clock = after.grout_coldest_c, clock
        self.n_samples = settled_k.shape[-1]

    def met_by(self, needed_equivalent_age_h: float, due_h: Floats, ready_h: Floats, asked: Bools) -> Bools:
        """Where the age is reached in time. shape (n_samples, n_starts)

        due_h is counted from each pour; past the end of the weather the end counts. ready_h is when the forecast as
        it stands reaches the age; it decides where the errors change nothing, and at starts that are not asked for.
        """
        in_time = ready_h <= due_h
        met = np.repeat(in_time[None, :], self.n_samples, axis=0)
        for start in map(int, np.flatnonzero(asked & (due_h >= 0))):
            last_h = min(float(due_h[start]), float(self._hours_after(start)))
            missing_h = needed_equivalent_age_h - self._age_h(start, np.array([last_h]))[0]
            missing_h = min(missing_h, 0.0) if in_time[start] else max(missing_h, np.nextafter(0.0, 1.0))
            met[:, start] = self._gained_h(start, last_h) >= missing_h
        return met

    def ready_h(self, start: int, needed_equivalent_age_h: float) -> Floats:
        """Hours after the pour at which each weather reaches the age; NaN where it ends before. shape (n_samples,)"""
        return _reached_h(self._ages_of(start, self.n_samples), needed_equivalent_age_h)

    def likely_h(self, start: int, needed_equivalent_ages_h: Sequence[float], shares: Sequence[float]) -> Floats:
        """Hours after the pour by which a share of the weathers reaches each age; NaN where the weather ends before.

        Counted in a part of the weathers, since it is told of many starts. shape (n_ages, n_shares)
        """
        ages_h = self._ages_of(start, min(self.n_samples, LIKELY_SAMPLES))
        reached = [np.nan_to_num(_reached_h(ages_h, needed), nan=np.inf) for needed in needed_equivalent_ages_h]
        found = np.quantile(np.array(reached), shares, axis=1, method="inverted_cdf").T
        return np.where(np.isinf(found), np.nan, found)

    def _ages_of(self, start: int, n_samples: int) -> Floats:
        """Equivalent age at each hour after a pour, shape (n_hours + 1, n_samples)."""
        hours = self._hours_after(start)
        rates = self._rate_changes(start, hours + 1, n_samples)
        gained_h = np.cumsum((rates[1:] + rates[:-1]) / 2, axis=0)
        on_forecast_h = self._age_h(start, np.arange(hours + 1, dtype=np.float64))
        return np.asarray(on_forecast_h[:, None] + np.pad(gained_h, ((1, 0), (0, 0))))

    def _hours_after(self, start: int) -> int:
        """Whole hours from a pour to the end of what was followed."""
        return min(int(self._grout_c.shape[1]), int(self._settled_k.shape[1]) - start) - 1

    def _age_h(self, start: int, at_h: Floats) -> Floats:
        """Equivalent ages on the forecast."""
        return np.asarray(np.interp(at_h, np.arange(self._ages_h.shape[1]), self._ages_h[start]))

    def _gained_h(self, start: int, last_h: float) -> Singles:
        """How much older the grout is than on the forecast at an hour. [h], shape (n_samples,)"""
        whole = int(last_h)
        weights = np.ones(whole + 1, dtype=np.float32)
        weights[0] = 0.5
        weights[-1] += last_h - whole - 0.5
        return np.asarray(weights @ self._rate_changes(start, whole + 1))

    def _rate_changes(self, start: int, n_at: int, n_samples: int | None = None) -> Singles:
        """Rate of cure less that on the forecast at the hours after a pour. [-], shape (n_at, n_samples)"""
        on_forecast_c = self._grout_c[start, :n_at].T
        found_c = self._fading[start][:, :n_at] @ self._unlike_k[start, :, :n_samples]
        np.subtract(self._settled_k[:, start : start + n_at, :n_samples], found_c, out=found_c)
        found_c += on_forecast_c[..., None]
        return self._rate(found_c.min(axis=0)) - self._rate(on_forecast_c.min(axis=0))[:, None]

    def _rate(self, temp_c: Singles) -> Singles:
        places = temp_c * np.float32(_PER_K)
        places += np.float32(0.5 - _COLDEST_C * _PER_K)
        return self._rates[places.astype(np.intp)]

    @cached_property
    def _rates(self) -> Singles:
        """The rate at each fiftieth of a kelvin. Under -40 °C, where the clock ends, it is the small one there.

        It is the mean over half a kelvin, about what grout warms or cools by in an hour: so the hour in which it
        passes the cold limit, where the rate jumps, counts by the share that is warm.
        """
        temp_c = np.maximum(np.arange(_COLDEST_C, _HOTTEST_C, 1 / _PER_K), -40.0)
        hour = equivalent_age_h(np.array([0.0, 1.0]), np.stack([temp_c, temp_c], axis=-1), self._clock)
        reach = _PER_K // 4
        padded = np.pad(hour[:, 1], reach, mode="edge")
        return np.convolve(padded, np.full(2 * reach + 1, 1 / (2 * reach + 1)), mode="valid").astype(np.float32)

    @cached_property
    def _ages_h(self) -> Floats:
        """Equivalent ages on the forecast. [h], shape (n_starts, n_hours + 1)"""
        if self._coldest_c is None:
            raise Unusable("cure", "there is no grout to follow", source="GROUTJOBS")
        return equivalent_age_h(np.arange(self._coldest_c.shape[1], dtype=np.float64), self._coldest_c, self._clock)


def _reached_h(ages_h: Floats, needed_h: float) -> Floats:
    """Hours at which ages that grow reach one, straight lines between; NaN where they do not. shape (n_samples,)"""
    reached = ages_h >= needed_h
    after = np.maximum(reached.argmax(axis=0), 1)
    each = np.arange(ages_h.shape[1])
    low_h, high_h = ages_h[after - 1, each], ages_h[after, each]
    with np.errstate(divide="ignore", invalid="ignore"):
        found_h = after - 1 + (needed_h - low_h) / (high_h - low_h)
    return np.where(reached.any(axis=0), found_h, np.nan)


def _without(n_cells: int, n_grout: int) -> npt.NDArray[np.intp]:
    """The cells of plate and foundation among those of a poured column."""
    return np.delete(np.arange(n_cells), np.arange(1, 1 + n_grout))


def _settled(after_c: Floats, n_hours: int) -> Floats:
    """Cells of a poured column at each hour, of the run that began longest ago, shape (n_hours, n_cells)."""
    hours = np.arange(n_hours)
    start = np.clip(hours - (after_c.shape[1] - 1), 0, len(after_c) - 1)
    return np.asarray(after_c[start, np.minimum(hours - start, after_c.shape[1] - 1)])


def _fading(answers: Singles, watched: npt.NDArray[np.intp], n_starts: int, count: int) -> list[Singles]:
    """What a kelvin in each cell at each start does to some cells after 0, 1, 2 … hours, shape (n_rows, n_at, n_cells).

    Gone through from the last hour back: rows that end at one hour take one more hour at their beginning.
    """
    n_hours, n_cells = len(answers), answers.shape[-1]
    rows = np.zeros((n_hours + 1, len(watched), n_cells), dtype=np.float32)
    found: list[Singles] = []
    for hour in range(n_hours, -1, -1):
        ends = slice(hour + 1, min(hour + count, n_hours + 1))
        if hour < n_hours:
            rows[ends] = (rows[ends].reshape(-1, n_cells) @ answers[hour, :n_cells]).reshape(rows[ends].shape)
        rows[hour] = np.eye(n_cells, dtype=np.float32)[watched]
        if hour < n_starts:
            found.append(np.ascontiguousarray(rows[hour : ends.stop].swapaxes(0, 1)))
    return found[::-1]
