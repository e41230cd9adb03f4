"""The schedule of an outage: its crews and jobs, schedules asked for, one of them accepted."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from groutjobs.accounts.access import allowed, may, person, posted, row_or_404
from groutjobs.accounts.models import EVERY_ROLE, Role
from groutjobs.errors import GroutJobsError
from groutjobs.fields import SheetForm
from groutjobs.outages import schedule_actions as actions
from groutjobs.outages.models import (
    STATES_TO_ACCEPT,
    STATES_UNDER_WAY,
    HoursNews,
    Outage,
    OutageCrew,
    OutageJob,
    OutageSchedule,
    ScheduleState,
)
from groutjobs.outages.moved import Moved, moved_since
from groutjobs.outages.queries import (
    crews_of,
    jobs_listed,
    newest_searches,
    plans_to_schedule,
    schedules_listed,
    steps_of,
)
from groutjobs.outages.schedule_drawing import schedule_picture
from groutjobs.outages.schedule_forms import AcceptForm, AgainForm, AskForm, CrewForm, JobForm, MeansForm, PlanForm
from groutjobs.outages.schedule_tables import STATES_WITH_SCHEDULE, days_of_steps, job_rows, schedule_row
from groutjobs.weather.queries import forecasts_to_pick

WRITERS = (Role.ENGINEER,)
SHOWN = 20


def _outage(request: HttpRequest, outage_id: int) -> Outage:
    return row_or_404(request, Outage.objects.select_related("site"), pk=outage_id)


def _schedule(request: HttpRequest, schedule_id: int) -> OutageSchedule:
    rows = OutageSchedule.objects.select_related("outage__site", "asked_by", "accepted_by")
    return row_or_404(request, rows, pk=schedule_id)


def _to_work(outage: Outage) -> HttpResponse:
    return redirect("outages:outage_work", outage.pk)


@allowed(read=EVERY_ROLE)
def outage_work(request: HttpRequest, outage_id: int) -> HttpResponse:
    """Crews, jobs, and the schedules that were asked for."""
    outage = _outage(request, outage_id)
    schedules = list(schedules_listed(outage)[:SHOWN])
    context = {
        "site": outage.site,
        "outage": outage,
        "crews": crews_of(outage),
        "jobs": list(jobs_listed(outage)),
        "plans": plans_to_schedule(outage),
        "rows": [schedule_row(schedule, vars(schedule)) for schedule in schedules],
        "under_way": any(schedule.state in STATES_UNDER_WAY for schedule in schedules),
        "may_write": may(request, outage, WRITERS),
        "news": HoursNews.objects.filter(outage=outage).select_related("forecast").defer("forecast__hours").first(),
    }
    return render(request, "outages/outage_work.html", context)


def _moved(request: HttpRequest, schedule: OutageSchedule) -> list[Moved]:
    if schedule.state != ScheduleState.ACCEPTED:
        return []
    return moved_since(schedule, newest_searches(schedule.outage), person(request).unit_system)


@allowed(read=EVERY_ROLE)
def schedule_detail(request: HttpRequest, schedule_id: int) -> HttpResponse:
    schedule = _schedule(request, schedule_id)
    site, is_there = schedule.outage.site, schedule.state in STATES_WITH_SCHEDULE
    is_computing = schedule.state in STATES_UNDER_WAY
    context = {
        "site": site,
        "schedule": schedule,
        "row": schedule_row(schedule, schedule.result),
        "is_there": is_there,
        "is_computing": is_computing,
        "news": schedule.solving.progress if is_computing else {},
        "stop_asked": is_computing and schedule.solving.stop_asked,
        "picture": schedule_picture(schedule, site.zone) if is_there else "",
        "jobs": job_rows(schedule) if is_there else [],
        "days": days_of_steps(schedule, site.zone) if is_there else [],
        "may_write": may(request, schedule, WRITERS),
        "moved": _moved(request, schedule),
        "may_accept": schedule.state in STATES_TO_ACCEPT and not any(schedule.what_if.values()),
    }
    if not request.htmx:  # type: ignore[attr-defined]
        return render(request, "outages/schedule_detail.html", context)
    if not is_computing:
        return HttpResponse(headers={"HX-Refresh": "true"})
    return render(request, "outages/schedule_detail.html#schedule-news", context)


def _saved(request: HttpRequest, form: SheetForm, save: Any, words: str) -> bool:
    """Whether a valid form was saved; what the action refuses goes back to the form."""
    if request.method != "POST" or not form.is_valid():
        return False
    try:
        save()
    except GroutJobsError as error:
        form.refuse(error)
        return False
    messages.success(request, words)
    return True


def _form_page(request: HttpRequest, outage: Outage, form: SheetForm, title: str, **more: Any) -> HttpResponse:
    context = {"site": outage.site, "outage": outage, "form": form, "title": title, "button": "Keep"} | more
    return render(request, "outages/work_form.html", context, status=422 if form.errors else 200)


@allowed(read=WRITERS, write=WRITERS)
def crew_add(request: HttpRequest, outage_id: int) -> HttpResponse:
    outage = _outage(request, outage_id)
    form = CrewForm(posted(request), site=outage.site)
    if _saved(request, form, lambda: actions.add_crew(outage=outage, by=person(request), **form.values()), "Kept."):
        return _to_work(outage)
    return _form_page(request, outage, form, "Add a crew")


@allowed(read=WRITERS, write=WRITERS)
def crew_change(request: HttpRequest, crew_id: int) -> HttpResponse:
    crew = row_or_404(request, OutageCrew.objects.select_related("outage__site"), pk=crew_id)
    form = CrewForm(posted(request), site=crew.outage.site, row=crew)
    if _saved(request, form, lambda: actions.change_crew(crew=crew, by=person(request), **form.values()), "Kept."):
        return _to_work(crew.outage)
    return _form_page(request, crew.outage, form, f"Change crew {crew.name}")


@allowed(write=WRITERS)
def crew_take_off(request: HttpRequest, crew_id: int) -> HttpResponse:
    crew = row_or_404(request, OutageCrew.objects.select_related("outage"), pk=crew_id)
    actions.take_crew_off(crew=crew, by=person(request))
    messages.success(request, f"Crew {crew.name} is not scheduled any more.")
    return _to_work(crew.outage)


@allowed(read=WRITERS, write=WRITERS)
def means_change(request: HttpRequest, outage_id: int) -> HttpResponse:
    outage = _outage(request, outage_id)
    form = MeansForm(posted(request))
    form.show_row(outage)
    if _saved(request, form, lambda: actions.set_means(outage=outage, by=person(request), **form.values()), "Kept."):
        return _to_work(outage)
    return _form_page(request, outage, form, "Tools and days off")


@allowed(read=WRITERS, write=WRITERS)
def job_add(request: HttpRequest, outage_id: int) -> HttpResponse:
    """Put the plan of a machine into the outage; then the page of its date, weight and steps."""
    outage = _outage(request, outage_id)
    form = PlanForm(posted(request), plans=plans_to_schedule(outage))
    made: list[OutageJob] = []

    def save() -> None:
        plan = form.values()["plan"]
        made.append(actions.add_job(outage=outage, plan=plan, due_at=outage.ends_at, weight=1, by=person(request)))

    if _saved(request, form, save, "It is in, to be handed over when the outage ends; change its date here."):
        return redirect("outages:job_change", made[0].pk)
    return _form_page(request, outage, form, "Add a machine")


@allowed(read=WRITERS, write=WRITERS)
def job_change(request: HttpRequest, job_id: int) -> HttpResponse:
    rows = OutageJob.objects.select_related("outage__site", "plan__machine")
    job = row_or_404(request, rows, pk=job_id)
    usual, lockable = steps_of(job)
    form = JobForm(posted(request), zone=job.outage.site.zone, usual=usual, lockable=lockable, row=job)
    if _saved(request, form, lambda: actions.change_job(job=job, by=person(request), **form.values()), "Kept."):
        return _to_work(job.outage)
    return _form_page(request, job.outage, form, f"Job of {job.plan.machine.tag}", wide=True)


@allowed(write=WRITERS)
def job_take_out(request: HttpRequest, job_id: int) -> HttpResponse:
    job = row_or_404(request, OutageJob.objects.select_related("outage", "plan__machine"), pk=job_id)
    actions.take_job_out(job=job, by=person(request))
    messages.success(request, f"{job.plan.machine.tag} is not scheduled any more.")
    return _to_work(job.outage)


@allowed(read=WRITERS, write=WRITERS)
def schedule_ask(request: HttpRequest, outage_id: int) -> HttpResponse:
    outage = _outage(request, outage_id)
    form = AskForm(posted(request))
    made: list[OutageSchedule] = []

    def save() -> None:
        made.append(actions.ask_schedule(outage=outage, by=person(request), **form.values()))

    if _saved(request, form, save, "It is being computed; this page follows it."):
        return redirect("outages:schedule_detail", made[0].pk)
    return _form_page(request, outage, form, "Compute a schedule", button="Compute", asking=True)


@allowed(read=WRITERS, write=WRITERS)
def hours_again(request: HttpRequest, outage_id: int) -> HttpResponse:
    """Judge all machines of the outage by another forecast."""
    outage = _outage(request, outage_id)
    form = AgainForm(posted(request), forecasts=forecasts_to_pick(outage.site))

    def save() -> None:
        actions.ask_hours_again(outage=outage, by=person(request), **form.values())

    if _saved(request, form, save, "The hours of every machine are being searched; look at the schedule in a minute."):
        return _to_work(outage)
    return _form_page(request, outage, form, "Judge all machines by another forecast", button="Search", again=True)


@allowed(write=WRITERS)
def schedule_stop(request: HttpRequest, schedule_id: int) -> HttpResponse:
    schedule = _schedule(request, schedule_id)
    try:
        actions.stop_schedule(schedule=schedule, by=person(request))
    except GroutJobsError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, "It stops in a moment; the best until then is kept.")
    return redirect("outages:schedule_detail", schedule.pk)


@allowed(read=WRITERS, write=WRITERS)
def schedule_accept(request: HttpRequest, schedule_id: int) -> HttpResponse:
    schedule = _schedule(request, schedule_id)
    form = AcceptForm(posted(request))

    def save() -> None:
        actions.accept_schedule(schedule=schedule, by=person(request), **form.values())

    if _saved(request, form, save, "The schedule is accepted; its pour hours are chosen."):
        return redirect("outages:schedule_detail", schedule.pk)
    title = f"Accept schedule {schedule.number}"
    return _form_page(request, schedule.outage, form, title, button="Accept", accepting=schedule)
