"""The outlook of a pour is worked out behind the page, kept, and compared with what stood before."""

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django.db import transaction
from django.utils import timezone

from groutjobs.curing import calc
from groutjobs.curing.queries import readings_of
from groutjobs.curing.watch_models import CureOutlook, MilestoneMove
from groutjobs.pours.models import Pour
from groutjobs.pours.queries import pour_whole
from groutjobs.weather.queries import latest_forecast

MOVED = dt.timedelta(minutes=30)
"""Milestones have moved where one of their dates did by this much [GROUTJOBS]."""


def work_out_outlook(pour_id: int) -> str:
    """Work it out and keep it; a row of the history where milestones moved. Repeating it does nothing."""
    pour = pour_whole().filter(pk=pour_id).first()
    row = CureOutlook.objects.filter(pour_id=pour_id).first()
    if pour is None or row is None or pour.placed_at is None:
        return "nothing to work out"
    CureOutlook.objects.filter(pk=row.pk).update(asked_at=None)
    forecast, readings, now = latest_forecast(pour.plan.machine.site), readings_of(pour), timezone.now()
    if row.result.get("key") == calc.outlook_key(readings, forecast, pour):
        return "unchanged"
    result = calc.outlook_of(pour, readings, forecast, at=now)
    state = calc.cure_state(pour, readings, forecast, at=now, outlook=result | {"is_current": True})
    with transaction.atomic():
        CureOutlook.objects.filter(pk=row.pk).update(computed_at=now, forecast=forecast, result=result)
        moved = _kept_move(pour, state, result, row.asked_why or "asked for")
    return "moved" if moved else "kept"


def _kept_move(pour: Pour, state: dict[str, Any], result: dict[str, Any], why: str) -> bool:
    rows = [_plain(item) for item in state["milestones"]]
    last = MilestoneMove.objects.filter(pour=pour).order_by("-at", "-pk").first()
    if last is not None and not has_moved(last.milestones, rows):
        return False
    inputs = {name: result[name] for name in ("key", "reading_counts", "last_reading_at", "forecast")}
    MilestoneMove.objects.create(
        pour=pour, why=why, basis=state["basis"], engine_version=result["engine_version"], inputs=inputs,
        milestones=rows,
    )  # fmt: skip
    return True


def _plain(item: dict[str, Any]) -> dict[str, Any]:
    band = item["band"] or {}
    middle = item["reached_surely_at"] or band.get("p50_at") or item["expected_at"]
    return {
        "code": item["code"],
        "label": item["label"],
        "state": item["state"],
        "middle_at": middle,
        **{f"{name}_at": band.get(f"{name}_at") for name in ("p10", "p50", "p90")},
    }


def has_moved(before: Iterable[dict[str, Any]], after: Iterable[dict[str, Any]]) -> bool:
    """Whether a date of a milestone came, went or moved by half an hour, or a milestone changed its state."""
    old = {row["code"]: row for row in before}
    return any(_differs(old.get(row["code"]), row) for row in after)


def _differs(old: dict[str, Any] | None, new: dict[str, Any]) -> bool:
    if old is None or (old["state"] != new["state"] and {"reached"} & {old["state"], new["state"]}):
        return True
    for name in ("p10_at", "p50_at", "p90_at", "middle_at"):
        first, second = old[name], new[name]
        if (first is None) != (second is None):
            return True
        if first and second and abs(dt.datetime.fromisoformat(first) - dt.datetime.fromisoformat(second)) >= MOVED:
            return True
    return False
