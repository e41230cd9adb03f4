"""Invented crews of the outage, its machines, and one schedule computed for them."""

import datetime as dt
from collections.abc import Callable, Mapping

from groutjobs.accounts.models import User
from groutjobs.outages.models import Outage
from groutjobs.outages.queries import plans_to_schedule
from groutjobs.outages.schedule_actions import add_crew, add_job, ask_schedule
from groutjobs.outages.solving import solve_if_waiting
from groutjobs.windows.models import PourHours
from groutjobs.wording import counted

CREWS = (
    ("Day mechanics 1", ["mechanical"]),
    ("Day mechanics 2", ["mechanical"]),
    ("Concrete crew", ["concrete"]),
    ("Grout crew", ["grout"]),
)
IN_CREW = {"Grout crew": ("lead", "crew")}
LONG_DAY = (dt.time(6), dt.time(18))
MOST_MACHINES = 6
HOURS_OF_STEPS = {"isolate": 2.0, "chip": 5.0, "clean": 2.0, "formwork": 5.0}
BEFORE_END = (dt.timedelta(0), dt.timedelta(hours=36), dt.timedelta(hours=60))


def schedule_outage(outage: Outage, people: Mapping[str, User], say: Callable[[str], None]) -> None:
    """Crews that work every day of the outage, and the machines whose pour hours were searched."""
    by = people["engineer"]
    for name, skills in CREWS:
        add_crew(
            people=[people[key].pk for key in IN_CREW.get(name, ())],
            outage=outage,
            by=by,
            name=name,
            skills=skills,
            shift_starts=LONG_DAY[0],
            shift_ends=LONG_DAY[1],
            working_days=list(range(7)),
        )
    searched = set(PourHours.objects.values_list("plan_id", flat=True))
    plans = [plan for plan in plans_to_schedule(outage) if plan.pk in searched]
    for number, plan in enumerate(plans[:MOST_MACHINES]):
        add_job(
            outage=outage,
            plan=plan,
            due_at=outage.ends_at - BEFORE_END[number % len(BEFORE_END)],
            weight=1 + number % 2,
            hours_of_steps=dict(HOURS_OF_STEPS),
            by=by,
        )
    say(f"{outage.name}: schedule of {counted(min(len(plans), MOST_MACHINES), 'machine')}")
    schedule = ask_schedule(outage=outage, seconds=5, by=by)
    solve_if_waiting(schedule.pk)
