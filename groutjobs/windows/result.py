"""The answer of a search as JSON, as PourHours.result keeps it. Shapes only; calc.py does the computing."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from groutjobs import units
from groutjobs.engineering.checks import Floats
from groutjobs.findings import Finding, Level
from groutjobs.scheduling.hour_rows import HourRow
from groutjobs.scheduling.windows import PourHours as Answer
from groutjobs.scheduling.windows import PourWindow

Spells = tuple[tuple[dt.datetime, dt.datetime], ...]


def iso(moment: dt.datetime) -> str:
    return moment.astimezone(dt.UTC).isoformat(timespec="seconds")


def spells_json(spells: Spells) -> list[list[str]]:
    return [[iso(begins), iso(ends)] for begins, ends in spells]


def rules_json(answer: Answer) -> list[dict[str, Any]]:
    """Every rule that hours were judged by, in the order of the picture; findings refer to them by code."""
    return [
        {
            "code": row.code,
            "label": row.label,
            "group": row.group,
            "suffix": row.suffix,
            "level": row.level.value,
            "limit": row.limit,
            "hint": row.hint,
            "source": row.source,
        }
        for row in answer.rows
    ]


def hours_json(answer: Answer) -> list[dict[str, Any]]:
    """Each start hour: whether it is acceptable, what stands in the way, and from when each of that holds."""
    holds_from = {row.code: answer.holds_from_at(row.code) for row in answer.rows}
    return [
        {
            "at": iso(at),
            "ok": bool(answer.acceptable[index]),
            "codes": answer.codes_in_the_way(index),
            "warnings": int(answer.warnings[index]),
            "findings": _findings_json(answer, index, holds_from),
        }
        | _odds_at(answer, index)
        for index, at in enumerate(answer.starts_at())
    ]


def odds_json(answer: Answer) -> dict[str, Any]:
    """What holds for the odds of all hours; those of one hour stand in the hour."""
    odds = answer.odds
    return {} if odds is None else {"samples": odds.n_samples, "left_out": list(odds.left_out)}


def _odds_at(answer: Answer, index: int) -> dict[str, Any]:
    """Odds that every rule in the way holds, their standard error, and the rules that hold least often."""
    odds = answer.odds
    if odds is None:
        return {}
    return {
        "odds": float(odds.all_hold[index]),
        "odds_error": round(float(odds.standard_error[index]), 4),
        "odds_by_rule": [{"code": code, "odds": value} for code, value in odds.deciding(index)],
        "odds_left_out": odds.left_out_at(index),
    }


def _findings_json(answer: Answer, index: int, holds_from: dict[str, list[dt.datetime | None]]) -> list[dict[str, Any]]:
    """What differs from hour to hour; label, hint and source stand once in the rules."""
    pairs = zip(answer.findings(index), answer.findings(index, units.US), strict=True)
    return [
        {
            "code": metric.code,
            "level": metric.level.value,
            "message": metric.message,
            "message_us": us.message,
            "margin": None if metric.margin is None else round(metric.margin, 3),
            "holds_from": _iso_or_none(holds_from[metric.code][index]),
        }
        for metric, us in pairs
    ]


def _iso_or_none(moment: dt.datetime | None) -> str | None:
    return None if moment is None else iso(moment)


def runs_json(answer: Answer) -> list[dict[str, Any]]:
    """Runs of acceptable hours, best first, with the closest limit at the best hour of each."""
    rows = {row.code: row for row in answer.rows}
    return [_run(run, rows[run.binding_code]) | _odds_at(answer, run.best_hour) for run in answer.pour_windows()]


def _run(run: PourWindow, closest: HourRow) -> dict[str, Any]:
    margin = float(closest.margin[run.best_hour])
    return {
        "starts_at": iso(run.start_at),
        "ends_at": iso(run.end_at),
        "best_at": iso(run.best_at),
        "first": run.first_hour,
        "last": run.last_hour,
        "best": run.best_hour,
        "warnings": run.warnings,
        "closest": {
            "code": closest.code,
            "label": closest.label,
            "suffix": "k" if closest.suffix == "c" else closest.suffix,
            "margin": margin if margin == margin and abs(margin) < 1e9 else None,
            "source": closest.source,
        },
        "milestones": {code: _iso_or_none(at) for code, at in run.milestones.items()},
    }


def milestones_json(answer: Answer, early_late_h: Mapping[str, Floats]) -> list[dict[str, Any]]:
    """For each milestone when it is reached after a start at each hour; None where the forecast ends before.

    "early" and "late" hold by when one and nine weathers in ten reach it, None at starts that are not acceptable.
    """
    return [
        {
            "code": forecast.code,
            "label": forecast.label,
            "source": forecast.source,
            "at": _moments(answer, forecast.ready_h),
            "early": _moments(answer, early_late_h[forecast.code][:, 0]),
            "late": _moments(answer, early_late_h[forecast.code][:, 1]),
        }
        for forecast in answer.cure
    ]


def _moments(answer: Answer, ready_h: Floats) -> list[str | None]:
    return [
        None if ready != ready else iso(answer.weather.at(index + float(ready)))
        for index, ready in enumerate(ready_h[: answer.n_starts])
    ]


def notes_json(notes: list[Finding]) -> list[dict[str, Any]]:
    """Heaviest first."""
    return [note.as_json() for note in sorted(notes, key=lambda note: list(Level).index(note.level))]
