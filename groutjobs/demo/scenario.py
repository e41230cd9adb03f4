"""The whole demonstration in one call: a dozen machines at every stage of the job, counted from now."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.db import transaction
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.demo import crewed, cured, decided, hours, phones, pouring
from groutjobs.demo.plant import Works, make_machine, make_works, read
from groutjobs.demo.pouring import Crew
from groutjobs.equipment.models import Machine
from groutjobs.instruments.models import Instrument
from groutjobs.outages.actions import add_outage, choose_hour
from groutjobs.outages.models import Outage
from groutjobs.planning.actions import approve_plan, make_plan
from groutjobs.planning.models import PourPlan
from groutjobs.pours.models import Pour, PourState
from groutjobs.signing.actions import agree_addendum, make_ready, sign_record, state_addendum
from groutjobs.signing.models import RecordMeaning
from groutjobs.turnover.actions import freeze_report, sign_report
from groutjobs.turnover.handing import issue_report, revoke_link
from groutjobs.turnover.models import Meaning, TurnoverReport
from groutjobs.turnover.readiness import blockers_of, readiness
from groutjobs.turnover.sealed import seal_report
from groutjobs.weather.models import Forecast
from groutjobs.windows.actions import search_pour_hours
from groutjobs.windows.models import PourHours

HOUR = dt.timedelta(hours=1)
DAY = dt.timedelta(days=1)
NOT_FULLY_CURED = "The logger was taken off after eight days; the machine is not started before full cure is confirmed."
POINT_TIME = dt.timedelta(minutes=40)
ORDER = {
    stage: number
    for number, stage in enumerate(
        ["named", "surveyed", "drafted", "approved", "searched", "scheduled", "preparing", "pouring", "curing",
         "frozen", "issued"]
    )
}  # fmt: skip


@dataclass
class Scene:
    """What the steps share."""

    works: Works
    now: dt.datetime
    hall: Forecast
    april: Forecast
    outage: Outage
    say: Callable[[str], None]
    reports: list[TurnoverReport] = field(default_factory=list)
    tools: dict[str, Instrument] = field(default_factory=dict)


@transaction.atomic
def load(say: Callable[[str], None], *, at: dt.datetime | None = None, copies: int = 1, stock: int = 1) -> Scene:
    """Make the works and carry each machine to its stage. Copies are more machines of the same kinds."""
    now = (at or timezone.now()).replace(second=0, microsecond=0)
    works = make_works(now.date(), stock=max(stock, copies))
    hall, april = hours.hall_hours(works, now), hours.typical_april(works, now)
    scene = Scene(works, now, hall, april, _outage(works), say)
    scene.tools = decided.add_instruments(works.site, works.people, works.today)
    for number in range(copies):
        add_machines(scene, number)
    phones.send_from_a_phone(works, Pour.objects.filter(state=PourState.POURED).earliest("pk"), now)
    crewed.schedule_outage(scene.outage, scene.works.people, say)
    return scene


def add_machines(scene: Scene, number: int = 0) -> None:
    """The dozen machines once more; from the second time on their tags carry the number of the copy."""
    for row in read("plant.toml")["machine"]:
        _carry(scene, row if number == 0 else row | {"tag": f"{row['tag']}-{number + 1}"})


def _outage(works: Works) -> Outage:
    first = dt.datetime.combine(hours.next_april(works.today), dt.time(6), works.site.tz)
    return add_outage(
        site=works.site,
        name="Spring intake outage",
        starts_at=first,
        ends_at=first + 10 * DAY,
        by=works.people["engineer"],
    )


def _carry(scene: Scene, row: dict[str, Any]) -> None:
    """Carry one machine through the stages up to its own."""
    stage = ORDER[row["stage"]]
    scene.say(f"{row['tag']}: {row['service']}, {row['stage']}")
    machine = make_machine(scene.works, row)
    if stage < ORDER["drafted"]:
        return
    plan = _plan(scene, machine, row)
    if stage >= ORDER["approved"]:
        plan = approve_plan(plan=plan, by=scene.works.people["engineer"])
    if ORDER["searched"] <= stage <= ORDER["scheduled"]:
        _schedule(scene, plan, choose=stage == ORDER["scheduled"])
    if stage >= ORDER["preparing"]:
        _do_job(scene, plan, row["stage"])


def _plan(scene: Scene, machine: Machine, row: dict[str, Any]) -> PourPlan:
    sheet, lot = scene.works.grouts[row["grout"]]
    in_april = row["exposure"] == "open"
    return make_plan(
        machine=machine,
        by=scene.works.people["engineer"],
        data_sheet=sheet,
        lot=lot,
        clearance_mm=75.0,
        rise_mm=15.0,
        chamfer_mm=25.0,
        head_mm=200.0,
        waste_ratio=0.15,
        spare_kits=1,
        mixers=2,
        crew=6,
        place_min=8.0,
        turnaround_min=4.0,
        kits_per_batch=1,
        planned_grout_c=22.0,
        pour_on=hours.next_april(scene.works.today) if in_april else scene.works.today,
        snug_kn=60.0,
        machine_mounted=False,
        material_c=9.0 if in_april else None,
        conditioning_store_c=23.0 if in_april else None,
        conditioning_h=48.0 if in_april else None,
    )


def _schedule(scene: Scene, plan: PourPlan, *, choose: bool) -> None:
    engineer = scene.works.people["engineer"]
    align_by_at = scene.outage.ends_at - DAY
    found = search_pour_hours(
        plan=plan, forecast=scene.april, material_c=21.0, by=engineer, align_by_at=align_by_at, daylight="preferred"
    )
    if not choose:
        return
    taken = scene.outage.scheduled_pours.count()
    starts_at, reason = _hour_for(found, scene.outage, taken)
    choose_hour(
        plan=plan,
        pour_hours=found,
        starts_at=starts_at,
        outage=scene.outage,
        align_by_at=align_by_at,
        reason=reason,
        by=engineer,
    )


def _hour_for(found: PourHours, outage: Outage, taken: int) -> tuple[dt.datetime, str]:
    """The first hour of the next ranked run that lies in the outage, one run for each machine."""
    starts = [dt.datetime.fromisoformat(run["starts_at"]) for run in found.result["runs"]]
    inside = [start for start in starts if start >= outage.starts_at + DAY]
    chosen = (inside or starts)[min(taken, len(inside or starts) - 1)]
    return chosen, "one crew: this machine takes the next run of good hours"


def _poured_at(scene: Scene, stage: str) -> dt.datetime:
    """The pour under way began 70 minutes ago; the others at seven in the morning of their day, site time."""
    if stage == "pouring":
        return scene.now - dt.timedelta(minutes=70)
    days_ago = {"preparing": -1, "curing": 1, "frozen": 12, "issued": 16}[stage]
    day = scene.now.astimezone(scene.works.site.tz).date() - dt.timedelta(days=days_ago)
    return dt.datetime.combine(day, dt.time(7), scene.works.site.tz)


def _morning(moment: dt.datetime, days: int, hour: int = 7) -> dt.datetime:
    day = moment.date() + dt.timedelta(days=days)
    return dt.datetime.combine(day, dt.time(hour), moment.tzinfo)


def _find_hall_hour(scene: Scene, plan: PourPlan, poured_at: dt.datetime) -> None:
    """Search the hours of the hall, and take the one that the crew began in."""
    measured_at = min(poured_at - 3 * HOUR, scene.now)
    engineer = scene.works.people["engineer"]
    found = search_pour_hours(
        plan=plan,
        forecast=scene.hall,
        material_c=22.0,
        by=engineer,
        measured_concrete_c=20.6,
        measured_at=measured_at,
    )
    starts_at = poured_at.replace(minute=0)
    choose_hour(plan=plan, pour_hours=found, starts_at=starts_at, reason="first hour the crew was free", by=engineer)


def _do_job(scene: Scene, plan: PourPlan, stage: str) -> None:
    poured_at = _poured_at(scene, stage).astimezone(scene.works.site.tz)
    _find_hall_hour(scene, plan, poured_at)
    before = list(plan.points.filter(before_pour=True))
    crew = pouring.start_pour(scene.works, plan, poured_at - 2 * DAY)
    if stage == "preparing":
        pouring.answer_points(crew, before[:9], scene.now - 8 * HOUR, POINT_TIME)
        return
    pouring.answer_points(crew, before, _morning(poured_at, -1), POINT_TIME)
    crew.at = poured_at - 30 * dt.timedelta(minutes=1)
    pouring.readings_before(crew)
    crew.at = poured_at
    pouring.place_grout(crew, leak_in="B" if stage == "issued" else "", stop_after=4 if stage == "pouring" else None)
    if stage == "pouring":
        return
    pouring.correct_first_temperature(crew)
    pouring.declare_complete(crew)
    if stage == "curing":
        cured.watch_cure(crew, scene.now)
    else:
        cured.log_cure(crew, scene.now, 8 if stage == "frozen" else 11)
    if stage in {"frozen", "issued"}:
        decided.break_samples(crew, _morning(poured_at, 4, 14), (214.0, 221.5, 209.0))
        if stage == "issued":
            decided.leak_repaired(crew)
        _finish(scene, crew, stage, _morning(poured_at, 5))
    else:
        decided.edge_open(crew)


def lock_record(crew: Crew) -> None:
    """The lead signs the pour record; the engineer, who recorded none of it, reviews it, and it is locked."""
    row = make_ready(pour=crew.pour, by=crew.person("lead"))
    for meaning, key in ((RecordMeaning.PERFORMED, "lead"), (RecordMeaning.REVIEWED, "engineer")):
        sign_record(
            pour=crew.pour, meaning=meaning, by=crew.person(key), seen_sha256=row.content_sha256,
            proved_by="password",
        )  # fmt: skip


def add_addendum(crew: Crew) -> None:
    """A number was read wrongly from a bag and came to light after the lock."""
    addendum = state_addendum(
        pour=crew.pour,
        by=crew.person("engineer"),
        wrong="The sample of batch 2 is marked as kept in the site office.",
        right="It was kept in the store beside the pallets, at the same temperature.",
        evidence="Label on the mould and the list of the store, both seen by the crew lead.",
        reason="The crew changed the place at noon and nobody told the phone.",
        proved_by="password",
    )
    agree_addendum(addendum=addendum, by=crew.person("lead"), seen_sha256=addendum.content_sha256, proved_by="password")


def _finish(scene: Scene, crew: Crew, stage: str, day: dt.datetime) -> None:
    pour, people = crew.pour, scene.works.people
    after = list(pour.plan.points.filter(before_pour=False))
    decided.release(crew, ("strip", "jackscrews", "tension", "align"), "cubes beside the pour carry it")
    cured.inspect_sounding(crew, day, ("A1.1", "A1.2", "A2.1") if stage == "issued" else ())
    cured.tighten_bolts(crew, day + 3 * HOUR)
    cured.inspect_level(crew, day + 5 * HOUR)
    decided.last_inspections(crew, scene.tools, day + 6 * HOUR)
    pouring.answer_points(crew, after, day + 6 * HOUR, dt.timedelta(minutes=20))
    lock_record(crew)
    if stage == "issued":
        add_addendum(crew)
    accepted = {finding.code: NOT_FULLY_CURED for finding in blockers_of(readiness(pour))}
    report = freeze_report(pour=pour, by=people["engineer"], deviations=accepted)
    signers = {Meaning.PERFORMED: "lead", Meaning.REVIEWED: "engineer", Meaning.APPROVED: "approver"}
    for meaning in Meaning if stage == "issued" else [Meaning.PERFORMED]:
        sign_report(report=report, meaning=meaning, by=people[signers[meaning]], manifest_sha256=report.manifest_sha256)
    scene.reports.append(report)
    if stage == "issued":
        hand_over(report, people["engineer"])


def hand_over(report: TurnoverReport, by: User) -> None:
    """The report is drawn and sealed at once and goes to two invented readers; one link was sent to a wrong address."""
    seal_report(report.pk)
    report.refresh_from_db()
    readers = [
        {"name": "Imre Tollett", "organisation": "Owner's engineer, invented", "email": ""},
        {"name": "Sunniva Archdale", "organisation": "Insurer's surveyor, invented", "email": ""},
    ]
    *_, wrong = issue_report(report=report, recipients=readers, days=30, by=by)
    revoke_link(link=wrong.link, reason="The address was mistyped; the surveyor gets another link.", by=by)
