"""Searching for pour hours. A search is kept with all its inputs; another search makes another row."""

import datetime as dt
import hashlib
from typing import Any

from django.db import transaction

from groutjobs.accounts.models import User
from groutjobs.audit.actions import action, record, snapshot
from groutjobs.audit.chain import canonical
from groutjobs.errors import NotAllowed
from groutjobs.planning.models import PlanState, PourPlan
from groutjobs.planning.queries import plan_whole
from groutjobs.weather.models import Forecast
from groutjobs.windows.calc import search, usual_protection
from groutjobs.windows.models import PourHours, Weight
from groutjobs.windows.question import CoverAsked, Question, ShiftAsked, asked_before


@action
def search_pour_hours(
    *,
    plan: PourPlan,
    forecast: Forecast,
    material_c: float,
    by: User,
    measured_concrete_c: float | None = None,
    measured_at: dt.datetime | None = None,
    align_by_at: dt.datetime | None = None,
    protection_h: float | None = None,
    shift: str = Weight.MUST,
    daylight: str = Weight.PREFERRED,
    shift_hours: ShiftAsked | None = None,
    store_c: float | None = None,
    cover: CoverAsked | None = None,
    is_trial: bool = False,
    limits: dict[str, tuple[float, str]] | None = None,
    as_entered: dict[str, Any] | None = None,
) -> PourHours:
    """Judge every hour of the forecast for the plan and keep the answer.

    `limits` holds values with their sources that stand in place of the usual ones, by code; protection_h is that of
    the kind of grout where it is not given. Nothing rests on a trial. OutOfRange and Unusable come from the
    engineering.
    """
    _require_askable(plan, forecast, measured_concrete_c, measured_at)
    for code, (_, source) in (limits or {}).items():
        if not source.strip():
            raise NotAllowed(f"the limit {code} needs a source; say which data sheet or specification it comes from")
    question = Question(
        material_c=material_c,
        protection_h=usual_protection(plan)[0] if protection_h is None else protection_h,
        measured_c=measured_concrete_c,
        measured_at=measured_at,
        align_by_at=align_by_at,
        shift=Weight(shift),
        daylight=Weight(daylight),
        shift_hours=shift_hours,
        store_c=store_c,
        cover=cover,
        limits=limits or {},
    )
    found = PourHours.objects.create(
        plan=plan,
        forecast=forecast,
        measured_concrete_c=measured_concrete_c,
        measured_at=measured_at,
        material_c=material_c,
        align_by_at=align_by_at,
        result=search(plan, forecast, question),
        as_entered=as_entered or {},
        is_trial=is_trial,
        made_by=by,
    )
    _record(found, by)
    return found


def compare_measures(*, plan: PourPlan, questions: list[dict[str, Any]], by: User) -> list[PourHours]:
    """Try each question in a search that nothing rests on; all of them, or none where one is refused."""
    with transaction.atomic():
        return [search_pour_hours(plan=plan, by=by, is_trial=True, **question) for question in questions]


def take_measure(*, trial: PourHours, by: User) -> PourHours:
    """Search once more as the trial did, so that plan, outage and report rest on its measure from now on."""
    if not trial.is_trial:
        raise NotAllowed("this search is no trial; the plan rests on it, or on a newer one")
    plan = plan_whole().get(pk=trial.plan_id)
    return search_pour_hours(plan=plan, forecast=trial.forecast, by=by, **asked_before(trial, trial.forecast))


def _record(found: PourHours, by: User) -> None:
    """Note the search with all its columns; of the long result, which follows from them, only the hash."""
    result = snapshot(found)["result"]
    digest = hashlib.sha256(canonical(result).encode()).hexdigest()
    record(found, by=by, kind="pour_hours.searched", before={"result": result}, extra={"result_sha256": digest})


def _require_askable(
    plan: PourPlan, forecast: Forecast, measured_c: float | None, measured_at: dt.datetime | None
) -> None:
    if plan.state == PlanState.SUPERSEDED:
        raise NotAllowed(f"{plan} is superseded; search for the hours of the newer revision")
    if forecast.site_id != plan.machine.site_id:
        raise NotAllowed(
            f"the forecast {forecast} belongs to another site; choose one of the site of {plan.machine.tag}"
        )
    if (measured_c is None) != (measured_at is None):
        raise NotAllowed("a measured concrete temperature and its time belong together; give both or neither")
    if "timetable" not in plan.result:
        raise NotAllowed(f"{plan} has not been computed; open it and save it once before searching for its hours")
