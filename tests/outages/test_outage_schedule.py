"""The schedule of an outage: who may ask for it, what comes of it, what stops it, and what accepting does."""

import datetime as dt
from itertools import pairwise
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from groutjobs.accounts.models import Role, User
from groutjobs.audit.models import Event
from groutjobs.errors import NotAllowed
from groutjobs.outages.actions import add_outage, change_outage
from groutjobs.outages.again import search_hours_again
from groutjobs.outages.calc import Watched, computed, problem_of
from groutjobs.outages.fresh import judge_accepted
from groutjobs.outages.models import (
    HoursNews,
    Outage,
    OutageJob,
    OutageSchedule,
    ScheduledPour,
    ScheduleState,
    SolveState,
)
from groutjobs.outages.moved import moved_since
from groutjobs.outages.queries import asked_for, crews_of, newest_searches, scheduled_pour
from groutjobs.outages.schedule_actions import (
    accept_schedule,
    add_crew,
    add_job,
    ask_hours_again,
    ask_schedule,
    change_job,
    set_means,
    stop_schedule,
    take_crew_off,
    take_job_out,
)
from groutjobs.outages.solving import solve_if_waiting
from groutjobs.scheduling.check import broken_rules
from groutjobs.scheduling.problem import Placed, Schedule
from groutjobs.weather.fetching import forecast_kept
from groutjobs.windows.models import PourHours
from tests.factories import make_forecast, make_machine, make_plan
from tests.weather.asking import errors_in, signed_in, stranger, utc
from tests.windows.asked import planned, searched

pytestmark = pytest.mark.django_db
SHORT = {
    "isolate": 0.5, "chip": 1.0, "clean": 0.5, "pads": 0.5, "set": 0.5, "snug": 0.5, "formwork": 1.0, "condition": 6.0,
    "strip": 0.5, "jackscrews": 0.5, "sounding": 0.5, "repair": 0.5, "tension": 0.5, "recheck": 0.5, "hand_over": 0.5,
}  # fmt: skip


@pytest.fixture
def found() -> PourHours:
    """Even weather of 22 °C for twelve days: every hour of the shift is acceptable."""
    plan = planned()
    return searched(plan, make_forecast(site=plan.machine.site, hour_count=288))


@pytest.fixture
def by(found: PourHours) -> User:
    return found.made_by


@pytest.fixture
def outage(found: PourHours) -> Outage:
    """One machine, one crew that can do everything, eleven days."""
    starts_at = found.forecast.plan_starts_at
    made = add_outage(
        site=found.plan.machine.site, name="Spring", starts_at=starts_at, ends_at=starts_at + dt.timedelta(days=11),
        by=found.made_by,
    )  # fmt: skip
    add_crew(outage=made, by=found.made_by, **crew("Crew 1"))
    add_job(outage=made, plan=found.plan, due_at=made.ends_at, weight=1, hours_of_steps=dict(SHORT), by=found.made_by)
    return made


def crew(name: str, **columns: Any) -> dict[str, Any]:
    usual = {
        "name": name,
        "skills": ["concrete", "grout", "mechanical"],
        "shift_starts": dt.time(6),
        "shift_ends": dt.time(18),
        "working_days": list(range(7)),
    }
    return usual | columns


def asked(outage: Outage, by: User, **more: Any) -> OutageSchedule:
    """A schedule that was asked for and computed."""
    schedule = ask_schedule(outage=outage, seconds=5, by=by, **more)
    solve_if_waiting(schedule.pk)
    schedule.refresh_from_db()
    return schedule


def as_schedule(schedule: OutageSchedule) -> Schedule:
    """What was kept, as the independent checker takes it."""
    return Schedule(
        steps=tuple(
            Placed(
                job=row["job"],
                step=row["step"],
                starts_at=dt.datetime.fromisoformat(row["starts_at"]),
                ends_at=dt.datetime.fromisoformat(row["ends_at"]),
                crews=tuple(row["crews"]),
            )
            for row in schedule.result["steps"]
        )
    )


def test_a_schedule_is_computed_and_what_is_kept_passes_the_checker(outage: Outage, by: User) -> None:
    schedule = asked(outage, by)
    assert schedule.state == ScheduleState.SOLVED, schedule.reason
    assert schedule.result["score"]["late_h"] == 0
    assert len(schedule.result["steps"]) == 17
    problem = problem_of(asked_for(schedule))
    assert broken_rules(problem, as_schedule(schedule)) == ()
    moved = as_schedule(schedule).steps
    wrong = Schedule(steps=(moved[0], *moved[:1], *moved[2:]))
    assert broken_rules(problem, wrong)


def test_it_pours_at_an_hour_of_the_search_and_strips_after_the_cure(outage: Outage, by: User) -> None:
    result = asked(outage, by).result
    search = PourHours.objects.get()
    pour_at = result["jobs"][0]["pour_at"]
    hour = next(index for index, row in enumerate(search.result["hours"]) if row["at"] == pour_at)
    assert search.result["hours"][hour]["ok"]
    strip_from = next(row for row in search.result["milestones"] if row["code"] == "strip")["at"][hour]
    strip = next(row for row in result["steps"] if row["step"] == "strip")
    assert strip["starts_at"] >= strip_from > pour_at


def test_two_machines_share_one_crew_without_being_at_both_at_once(outage: Outage, by: User) -> None:
    site = outage.site
    other = planned(machine=make_machine(site=site, tag="P-200"))
    searched(other, PourHours.objects.get().forecast, by=by)
    add_job(outage=outage, plan=other, due_at=outage.ends_at, weight=2, hours_of_steps=dict(SHORT), by=by)
    schedule = asked(outage, by)
    busy = sorted((row["starts_at"], row["ends_at"]) for row in schedule.result["steps"] if row["crews"])
    assert len(busy) == 30
    assert all(earlier[1] <= later[0] for earlier, later in pairwise(busy))


def test_a_held_step_keeps_its_time(outage: Outage, by: User) -> None:
    job = OutageJob.objects.get()
    held_at = outage.starts_at.replace(hour=14, minute=0) + dt.timedelta(days=1)
    change_job(
        job=job, due_at=job.due_at, weight=1, hours_of_steps=dict(SHORT), locked={"chip": held_at.isoformat()}, by=by
    )
    schedule = asked(outage, by)
    chip = next(row for row in schedule.result["steps"] if row["step"] == "chip")
    assert dt.datetime.fromisoformat(chip["starts_at"]) == held_at
    assert chip["locked"]


def test_days_off_are_kept_free(outage: Outage, by: User) -> None:
    first = (outage.starts_at + dt.timedelta(days=1)).date()
    days = [(first + dt.timedelta(days=number)).isoformat() for number in range(2)]
    set_means(outage=outage, mixers=1, alignment_tools=1, days_off=days, by=by)
    schedule = asked(outage, by)
    zone = outage.site.tz
    begun = {
        dt.datetime.fromisoformat(row["starts_at"]).astimezone(zone).date().isoformat()
        for row in schedule.result["steps"]
        if row["crews"]
    }
    assert begun
    assert not begun & set(days)


def test_without_a_crew_of_a_skill_it_says_which_step_lacks_it(outage: Outage, by: User) -> None:
    take_crew_off(crew=crews_of(outage)[0], by=by)
    add_crew(outage=outage, by=by, **crew("Mechanics", skills=["mechanical"]))
    schedule = asked(outage, by)
    assert schedule.state == ScheduleState.INFEASIBLE
    assert any("chip the concrete" in reason and "concrete" in reason for reason in schedule.result["reasons"])


def test_without_mixers_no_schedule_keeps_every_rule(outage: Outage, by: User) -> None:
    set_means(outage=outage, mixers=0, alignment_tools=1, days_off=[], by=by)
    assert asked(outage, by).state == ScheduleState.INFEASIBLE
    one_more = asked(outage, by, what_if={"mixers": 1})
    assert one_more.state == ScheduleState.SOLVED
    with pytest.raises(NotAllowed, match="other means"):
        accept_schedule(schedule=one_more, by=by)


def test_a_date_that_cannot_be_kept_is_late_with_its_reason(outage: Outage, by: User) -> None:
    job = OutageJob.objects.get()
    due_at = outage.starts_at + dt.timedelta(hours=20)
    change_job(job=job, due_at=due_at, weight=3, hours_of_steps=dict(SHORT), locked={}, by=by)
    schedule = asked(outage, by)
    row = schedule.result["jobs"][0]
    assert row["late_h"] > 24
    assert schedule.result["score"]["late_h"] == pytest.approx(3 * row["late_h"], abs=0.05)
    assert schedule.result["late_bound_h"] <= schedule.result["score"]["late_h"] + 0.01
    assert any("cure" in words for words in row["why"])
    with pytest.raises(NotAllowed, match="would be late"):
        accept_schedule(schedule=schedule, by=by)
    accept_schedule(schedule=schedule, by=by, reason="agreed with operations")
    assert ScheduledPour.objects.get(is_current=True).reason == "agreed with operations"


def test_accepting_chooses_the_pour_hours_and_replaces_the_one_before(outage: Outage, by: User) -> None:
    first, second = asked(outage, by), asked(outage, by)
    accept_schedule(schedule=first, by=by)
    accept_schedule(schedule=second, by=by)
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.state, second.state) == (ScheduleState.REPLACED, ScheduleState.ACCEPTED)
    chosen = scheduled_pour(OutageJob.objects.get().plan)
    assert chosen
    assert chosen.starts_at == dt.datetime.fromisoformat(second.result["jobs"][0]["pour_at"])
    assert Event.objects.filter(kind="outage_schedule.accepted").count() == 2
    with pytest.raises(NotAllowed, match="only one that was found"):
        accept_schedule(schedule=first, by=by)


def test_an_hour_that_left_the_outage_meanwhile_is_accepted_only_with_a_reason(outage: Outage, by: User) -> None:
    schedule = asked(outage, by)
    change_outage(
        outage=outage, name="Spring", starts_at=outage.ends_at, ends_at=outage.ends_at + dt.timedelta(days=9), by=by,
        reason="moved",
    )  # fmt: skip
    with pytest.raises(NotAllowed, match="write the reason"):
        accept_schedule(schedule=schedule, by=by)
    assert not ScheduledPour.objects.exists()
    schedule.refresh_from_db()
    assert schedule.state == ScheduleState.SOLVED
    accept_schedule(schedule=schedule, by=by, reason="kept although it moved")
    assert ScheduledPour.objects.get(is_current=True).findings[0]["code"] == "before_outage"


def test_only_one_is_computed_at_a_time_and_stopping_is_asked_once_it_runs(outage: Outage, by: User) -> None:
    schedule = ask_schedule(outage=outage, seconds=5, by=by)
    with pytest.raises(NotAllowed, match="being computed"):
        ask_schedule(outage=outage, seconds=5, by=by)
    state = SolveState.objects.filter(schedule=schedule)
    state.update(working_until=timezone.now() + dt.timedelta(seconds=30))
    stop_schedule(schedule=schedule, by=by)
    assert state.get().stop_asked
    state.update(working_until=None)
    assert solve_if_waiting(schedule.pk) in {"solved", "out_of_time"}
    assert solve_if_waiting(schedule.pk) == "not waiting"
    with pytest.raises(NotAllowed, match="nothing to stop"):
        stop_schedule(schedule=OutageSchedule.objects.get(pk=schedule.pk), by=by)


def test_stopping_one_that_nobody_computes_ends_it_and_another_can_be_asked_for(outage: Outage, by: User) -> None:
    schedule = stop_schedule(schedule=ask_schedule(outage=outage, seconds=5, by=by), by=by)
    assert schedule.state == ScheduleState.FAILED
    assert solve_if_waiting(schedule.pk) == "not waiting"
    assert asked(outage, by).state == ScheduleState.SOLVED


def test_a_leased_schedule_is_not_computed_twice_and_a_dead_lease_is_taken_over(outage: Outage, by: User) -> None:
    schedule = ask_schedule(outage=outage, seconds=5, by=by)
    state = SolveState.objects.filter(schedule=schedule)
    OutageSchedule.objects.filter(pk=schedule.pk).update(state=ScheduleState.SOLVING)
    state.update(working_until=utc(1, 0) + dt.timedelta(days=4000))
    assert solve_if_waiting(schedule.pk) == "not waiting"
    state.update(working_until=utc(1, 0) - dt.timedelta(days=4000))
    assert solve_if_waiting(schedule.pk) == "solved"


def test_the_search_ends_when_the_tick_says_so_and_keeps_the_best(outage: Outage, by: User) -> None:
    schedule = ask_schedule(outage=outage, seconds=60, by=by)
    told: list[Watched] = []

    def tick(watched: Watched) -> bool:
        told.append(watched)
        return True

    result = computed(asked_for(schedule), tick)
    assert result["steps"]
    assert result["stopped"] == bool(told)


def test_what_is_missing_is_said_before_anything_is_computed(outage: Outage, by: User) -> None:
    take_job_out(job=OutageJob.objects.get(), by=by)
    take_crew_off(crew=crews_of(outage)[0], by=by)
    with pytest.raises(NotAllowed, match=r"no crew.*no job"):
        ask_schedule(outage=outage, seconds=5, by=by)
    never_searched = planned(machine=make_machine(site=outage.site, tag="P-300"))
    add_job(outage=outage, plan=never_searched, due_at=None, weight=1, by=by)
    with pytest.raises(NotAllowed, match="P-300 has no pour hours"):
        ask_schedule(outage=outage, seconds=5, by=by)


def test_a_plan_of_another_site_a_draft_or_a_machine_twice_is_not_scheduled(outage: Outage, by: User) -> None:
    with pytest.raises(NotAllowed, match="another site"):
        add_job(outage=outage, plan=planned(), due_at=None, weight=1, by=by)
    draft = make_plan(machine=make_machine(site=outage.site, tag="P-301"))
    with pytest.raises(NotAllowed, match="approve it"):
        add_job(outage=outage, plan=draft, due_at=None, weight=1, by=by)
    with pytest.raises(NotAllowed, match="already"):
        add_job(outage=outage, plan=OutageJob.objects.get().plan, due_at=None, weight=1, by=by)


def colder(outage: Outage, by_k: float) -> Any:
    """The same twelve days, issued later and colder."""
    first = PourHours.objects.get().forecast
    hours = first.hours | {name: [value - by_k for value in first.values(name)] for name in ("temp_c", "dew_point_c")}
    return make_forecast(
        site=outage.site, hour_count=288, hours=hours, starts_at=first.starts_at,
        issued_at=first.issued_at + dt.timedelta(hours=6),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("by_k", "words", "stands"), [(3.0, "h later", True), (14.0, "not acceptable any more", False)]
)
def test_after_a_colder_forecast_it_says_what_moved_and_why(
    outage: Outage, by: User, by_k: float, words: str, stands: bool
) -> None:
    schedule = accept_schedule(schedule=asked(outage, by), by=by)
    client = signed_in(outage.site, Role.ENGINEER)
    url = page("schedule_detail", schedule.pk)
    assert "Nothing has moved" in client.get(url).content.decode()
    forecast = colder(outage, by_k)
    assert client.post(page("hours_again", outage.pk), {"forecast": forecast.pk}).status_code == 302
    assert search_hours_again(outage.pk, forecast.pk, by.pk) == 1
    assert search_hours_again(outage.pk, forecast.pk, by.pk) == 0
    moved = moved_since(schedule, newest_searches(outage), "metric")
    assert [(each.tag, each.stands) for each in moved] == [(OutageJob.objects.get().plan.machine.tag, stands)]
    assert any(words in sentence for sentence in moved[0].words)
    assert "What moved since it was accepted" in client.get(url).content.decode()
    assert PourHours.objects.count() == 2


def test_a_search_in_the_same_weather_moves_nothing(outage: Outage, by: User) -> None:
    schedule = accept_schedule(schedule=asked(outage, by), by=by)
    search_hours_again(outage.pk, colder(outage, 0.0).pk, by.pk)
    assert PourHours.objects.count() == 2
    assert moved_since(schedule, newest_searches(outage), "metric") == []


def test_a_live_forecast_has_accepted_schedules_judged_by_it_once_in_twelve_hours(outage: Outage, by: User) -> None:
    """Of all outages only the accepted one that the forecast reaches and that has not ended."""
    live = colder(outage, 3.0)
    forecast_kept.send(sender=None, forecast=live)
    assert not HoursNews.objects.exists()  # nothing is accepted yet
    accept_schedule(schedule=asked(outage, by), by=by)
    with time_machine.travel(outage.starts_at):
        early = make_forecast(site=outage.site, hour_count=24, starts_at=outage.starts_at - dt.timedelta(days=3))
        assert judge_accepted(forecast=early) == 0
        forecast_kept.send(sender=None, forecast=live)
        assert HoursNews.objects.get().forecast == live
        assert judge_accepted(forecast=live) == 0
    with time_machine.travel(outage.starts_at + dt.timedelta(hours=13)):
        assert judge_accepted(forecast=live) == 1
    with time_machine.travel(outage.ends_at + dt.timedelta(hours=1)):
        assert judge_accepted(forecast=live) == 0


def test_what_another_forecast_cannot_judge_is_told_on_the_page(outage: Outage, by: User) -> None:
    """A forecast of two hours is shorter than the placement."""
    short = make_forecast(site=outage.site, hour_count=2, issued_at=dt.datetime(2026, 5, 3, 20, tzinfo=dt.UTC))
    client, url = signed_in(outage.site, Role.ENGINEER), page("outage_work", outage.pk)
    assert client.post(page("hours_again", outage.pk), {"forecast": short.pk}).status_code == 302
    assert "under way" in client.get(url).content.decode()
    assert search_hours_again(outage.pk, short.pk, by.pk) == 0
    told = client.get(url).content.decode()
    assert "0 machines done, 1 not" in told
    assert f"{OutageJob.objects.get().plan.machine.tag} was not judged" in told
    assert "shorter than the placement" in told


def test_the_forecast_of_another_site_is_refused(outage: Outage, by: User) -> None:
    with pytest.raises(NotAllowed, match="another site"):
        ask_hours_again(outage=outage, forecast=make_forecast(), by=by)


def page(name: str, *args: Any) -> str:
    return reverse(f"outages:{name}", args=args)


def test_the_engineer_adds_asks_and_accepts_on_the_pages(outage: Outage, by: User) -> None:
    client = signed_in(outage.site, Role.ENGINEER)
    given = {"name": "Crew 2", "skills": ["grout"], "shift_starts": "07:00", "shift_ends": "17:00"}
    assert client.post(page("crew_add", outage.pk), given | {"working_days": ["0", "1"]}).status_code == 302
    assert {crew.name for crew in crews_of(outage)} == {"Crew 1", "Crew 2"}
    counts = ("mixers", "alignment_tools", "mechanical", "concrete", "grout", "later_h")
    answer = client.post(page("schedule_ask", outage.pk), {"seconds": "5"} | {f"{name}": "0" for name in counts})
    schedule = OutageSchedule.objects.get()
    solve_if_waiting(schedule.pk)
    assert answer.headers["Location"] == page("schedule_detail", schedule.pk)
    shown = client.get(page("schedule_detail", schedule.pk)).content.decode()
    assert "Accept this schedule" in shown
    assert client.post(page("schedule_accept", schedule.pk), {"reason": ""}).status_code == 302
    listed = client.get(page("outage_work", outage.pk)).content.decode()
    assert "accepted" in listed
    assert "proven: no schedule is better" in listed


def test_while_it_is_computed_the_page_tells_how_far_it_is(outage: Outage, by: User) -> None:
    schedule = ask_schedule(outage=outage, seconds=5, by=by)
    news = {"doing": "making it less late", "looked_at": 321, "seconds": 2.0, "best": {"late_h": 7.5}}
    SolveState.objects.filter(schedule=schedule).update(progress=news)
    client = signed_in(outage.site, Role.ENGINEER)
    fragment = client.get(page("schedule_detail", schedule.pk), headers={"HX-Request": "true"}).content.decode()
    assert "321 orders" in fragment
    assert "<html" not in fragment
    solve_if_waiting(schedule.pk)
    ended = client.get(page("schedule_detail", schedule.pk), headers={"HX-Request": "true"})
    assert ended.headers["HX-Refresh"] == "true"


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"skills": []}, "none is ticked"),
        ({"skills": ["welding"]}, "is none of"),
        ({"shift_ends": "06:00"}, "give a shift some length"),
        ({"name": "Crew 1"}, "already has a crew"),
    ],
)
def test_a_wrong_crew_is_refused_by_its_field(outage: Outage, given: dict[str, Any], words: str) -> None:
    client = signed_in(outage.site, Role.ENGINEER)
    usual = {
        "name": "Crew 9", "skills": ["grout"], "shift_starts": "06:00", "shift_ends": "16:00", "working_days": ["0"],
    }  # fmt: skip
    answer = client.post(page("crew_add", outage.pk), usual | given)
    assert answer.status_code == 422
    assert words in errors_in(answer)


def test_hours_and_held_times_of_a_job_are_kept_and_wrong_ones_refused(outage: Outage) -> None:
    client, job = signed_in(outage.site, Role.ENGINEER), OutageJob.objects.get()
    url = page("job_change", job.pk)
    usual = {
        "due_at": "",
        "weight": "2",
        "hours_chip": "90",
        "hours_chip_unit": "min",
        "held_chip": "2026-04-05T08:00",
    }
    assert client.post(url, usual).status_code == 302
    job.refresh_from_db()
    assert job.hours_of_steps == {"chip": 1.5}
    assert set(job.locked) == {"chip"}
    assert job.weight == 2
    refused = client.post(url, usual | {"hours_chip": "9000", "hours_chip_unit": "h"})
    assert refused.status_code == 422
    assert "Hours of “chip the concrete” 9000 h is above 720" in errors_in(refused)
    assert "2026-04-31" in errors_in(client.post(page("means_change", outage.pk), {"days_off": "2026-04-31"}))


POSTED = ("crew_take_off", "job_take_out", "schedule_stop")


def places(outage: Outage) -> dict[str, str]:
    schedule = OutageSchedule.objects.get()
    crew_id, job_id = crews_of(outage)[0].pk, OutageJob.objects.get().pk
    return {
        "outage_work": page("outage_work", outage.pk),
        "schedule_detail": page("schedule_detail", schedule.pk),
        "crew_add": page("crew_add", outage.pk),
        "crew_change": page("crew_change", crew_id),
        "crew_take_off": page("crew_take_off", crew_id),
        "means_change": page("means_change", outage.pk),
        "job_add": page("job_add", outage.pk),
        "job_change": page("job_change", job_id),
        "job_take_out": page("job_take_out", job_id),
        "hours_again": page("hours_again", outage.pk),
        "schedule_ask": page("schedule_ask", outage.pk),
        "schedule_stop": page("schedule_stop", schedule.pk),
        "schedule_accept": page("schedule_accept", schedule.pk),
    }


def test_crew_reads_but_only_the_engineer_changes(outage: Outage, by: User) -> None:
    asked(outage, by)
    crew_person = signed_in(outage.site, Role.CREW)
    for name, url in places(outage).items():
        reads = name in {"outage_work", "schedule_detail"}
        answer = crew_person.post(url) if name in POSTED else crew_person.get(url)
        assert answer.status_code == (200 if reads else 403), name


def test_a_stranger_finds_nothing_and_the_wrong_method_is_refused(outage: Outage, by: User) -> None:
    asked(outage, by)
    other, engineer = stranger(), signed_in(outage.site, Role.ENGINEER)
    for name, url in places(outage).items():
        assert (other.post(url) if name in POSTED else other.get(url)).status_code == 404, name
        wrong = engineer.get(url) if name in POSTED else engineer.put(url)
        assert wrong.status_code == 405, name
    assert Client().get(page("outage_work", outage.pk)).status_code == 302
