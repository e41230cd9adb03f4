"""Hours by which 10, 50 and 90 % of the likely cures of a pour have reached each milestone, and the age they have."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from groutjobs.curing.series import HOUR, Floats, Series
from groutjobs.engineering.cure import CureClock
from groutjobs.engineering.cure_belief import CureBelief
from groutjobs.engineering.milestone_bands import (
    Band,
    CureAhead,
    air_paths_c,
    cures_ahead,
    draw_cures,
    milestone_bands,
)
from groutjobs.engineering.strength import Milestone
from groutjobs.scheduling.forecast_error import CLIMATE_ERRORS, FORECAST_ERRORS
from groutjobs.weather.models import Forecast

POINTS = 400
"""Times at which the cures are followed; between them the age is a straight line."""
LONGEST_H = 24.0 * 60
DRAWN_EVERY = 4
HELD, AIR, MODEL = "held", "air", "model"


@dataclass(frozen=True, kw_only=True)
class Outlook:
    """From when, until when and from what the temperatures of a pour are foreseen. Hours count from placing."""

    started_at: dt.datetime
    measured_until_h: float
    end_h: float
    forecast: Forecast | None
    seed: int


@dataclass(frozen=True)
class Bands:
    """Many likely cures of one pour along each way that its temperature may take."""

    ahead: Mapping[str, CureAhead]

    def of(self, milestones: Sequence[Milestone]) -> dict[str, tuple[str, Band]]:
        """Code → way and band: of the ways that lead there the one with the later middle, as for the single date."""
        found = {way: milestone_bands(milestones, ahead) for way, ahead in self.ahead.items()}
        shown: dict[str, tuple[str, Band]] = {}
        for milestone in milestones:
            there = [(way, bands[milestone.code]) for way, bands in found.items()]
            closed = [(way, band) for way, band in there if band.p50_h is not None]
            if closed:
                shown[milestone.code] = max(closed, key=lambda pair: pair[1].p50_h or 0.0)
        return shown

    def drawn(self, until_h: float, milestones: Sequence[Milestone]) -> dict[str, list[float]]:
        """Ages that 10 and 90 % of the cures have not passed, along the way to the last milestone that is foreseen."""
        ways = [way for way, _ in self.of(milestones).values()] or list(self.ahead)
        ahead = self.ahead[ways[-1]]
        at_h, (low_h, _, high_h) = ahead.age_quantiles_h(DRAWN_EVERY)
        inside = at_h <= until_h
        columns = {"at_h": at_h, "low_h": low_h, "high_h": high_h}
        return {name: [round(float(value), 2) for value in values[inside]] for name, values in columns.items()}


def bands_of(belief: CureBelief, clock: CureClock, ways: Mapping[str, Series], outlook: Outlook) -> Bands:
    """Likely cures along each way; the way of the air carries the spread of its forecast."""
    samples, ahead = draw_cures(belief, outlook.seed), {}
    for name, way in ways.items():
        at_h = np.linspace(float(way.at_h[0]), min(outlook.end_h, float(way.at_h[-1])), POINTS)
        temp_c = np.interp(at_h, way.at_h, way.temp_c)
        rows_c = temp_c[None, :]
        if name == AIR and outlook.forecast is not None:
            rows_c = _spread_c(at_h, temp_c, outlook, outlook.forecast)
        ahead[name] = cures_ahead(samples, clock, at_h, rows_c, 24.0)
    return Bands(ahead)


def _spread_c(at_h: Floats, temp_c: Floats, outlook: Outlook, forecast: Forecast) -> Floats:
    """Courses of the air about the forecast; what is measured has no error."""
    model = CLIMATE_ERRORS if forecast.is_typical else FORECAST_ERRORS
    lead_h = at_h - (forecast.issued_at - outlook.started_at) / HOUR
    sd_k = np.interp(lead_h / 24, model.lead_days, model.air_sd_k)
    hours = np.arange(np.floor(at_h[0]), np.ceil(at_h[-1]) + 1.0)
    even_c = air_paths_c(np.zeros(len(hours)), np.ones(len(hours)), model.time_constant_h, outlook.seed)
    errors_k = sd_k * np.array([np.interp(at_h, hours, row) for row in even_c])
    return np.where(at_h > outlook.measured_until_h, temp_c + errors_k, temp_c)


def band_json(way: str, band: Band, started_at: dt.datetime) -> dict[str, Any]:
    """A band as stored: hours after placing and moments; None where the temperatures end before."""
    hours = {"p10": band.p10_h, "p50": band.p50_h, "p90": band.p90_h}
    moments = {
        f"{name}_at": None if value is None else (started_at + value * HOUR).isoformat(timespec="seconds")
        for name, value in hours.items()
    }
    stored = {f"{name}_h": value for name, value in hours.items()}
    return stored | moments | {"way": way, "reached_ratio": band.reached_ratio}
