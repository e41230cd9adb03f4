"""The schedule of an outage: orders of jobs are searched first, then a constraint solver betters the best of them.

Lateness first, then risk, then the finish: the solver runs twice, the second time with the lateness of the first as a
limit. Its bound says how little lateness is possible at all; where that is weak it is told as it is.
"""

import math
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from groutjobs.engineering.checks import require_between
from groutjobs.scheduling.alone import JobAlone
from groutjobs.scheduling.bounds import lateness_bound_min
from groutjobs.scheduling.goals import finish, lateness, risk
from groutjobs.scheduling.in_minutes import OutageInMinutes
from groutjobs.scheduling.local_search import Effort, Progress, Stop, Tell, never, nobody, search_orders
from groutjobs.scheduling.problem import Answer, Kind, Outage, Schedule
from groutjobs.scheduling.reasons import reasons_of_jobs, reasons_together
from groutjobs.scheduling.rules import Model, model_of
from groutjobs.scheduling.serial import shifted_left

POLL_S = 0.1
SEARCH_SHARE = 0.2
FIRST_SHARE = 0.9
PROBED_JOBS = 10
"""Up to so many jobs the solver studies the model at length before it begins; more of them would take its time."""


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What a run of the solver found: starts and crews of the steps, and the bound of what it minimised."""

    proven: bool
    impossible: bool
    bound: int
    schedule: Schedule | None


def solve(
    outage: Outage, effort: Effort, *, gap_h: float = 0.0, should_stop: Stop = never, tell: Tell = nobody
) -> Answer:
    """Return the best schedule of an outage that is found with the effort, or why there is none.

    Parameters
    ----------
    outage : What is to be scheduled.
    effort : How long to search and to solve.
    gap_h : Weighted lateness over the bound with which the answer still counts as solved. [h], 0 or more
    should_stop : Asked several times a second; everything ends soon after it says so, with the best until then.
    tell : Told where the search stands.

    Returns
    -------
    Solved, infeasible or out of time, see Answer.

    Source
    ------
    [GROUTJOBS] serial generation, local search on the order of jobs, then constraint programming from its answer.
    """
    return Solver(outage, effort, gap_h, should_stop, tell).answer()


class Solver:
    """One search for one answer."""

    def __init__(self, outage: Outage, effort: Effort, gap_h: float, should_stop: Stop, tell: Tell) -> None:
        require_between("gap", gap_h, 0.0, None, unit="h", source="GROUTJOBS")
        self.outage, self.effort, self.gap_h = outage, effort, gap_h
        self.should_stop, self.tell = should_stop, tell
        self.plan = OutageInMinutes(outage)
        self.begun = time.perf_counter()
        self.best: Schedule | None = None
        self.late_bound_min = 0
        self.looked_at = 0

    def answer(self) -> Answer:
        reasons = reasons_of_jobs(self.plan)
        if reasons:
            return Answer(kind=Kind.INFEASIBLE, reasons=reasons)
        self.late_bound_min = lateness_bound_min(self.plan)
        self._search()
        first = self._less_late()
        if first.impossible:
            return Answer(kind=Kind.INFEASIBLE, reasons=reasons_together(self.outage))
        proven = self._less_risk() and first.proven
        return self._told(proven)

    def _told(self, proven: bool) -> Answer:
        score = None if self.best is None else self.best.score(self.outage)
        bound_h = self.late_bound_min / 60
        near = score is not None and score.late_h <= bound_h + self.gap_h + 1e-9
        return Answer(
            kind=Kind.SOLVED if near else Kind.OUT_OF_TIME,
            schedule=self.best,
            score=score,
            late_bound_h=bound_h,
            proven=proven,
        )

    def _search(self) -> None:
        seconds = None if self.effort.seconds is None else self.effort.seconds * SEARCH_SHARE
        effort = replace(self.effort, seconds=seconds)
        found, self.best = search_orders(self.plan, effort, should_stop=self.should_stop, tell=self._pass_on)
        self.looked_at = found.looked_at

    def say(self, doing: str) -> None:
        best = None if self.best is None else self.best.score(self.outage)
        seconds = time.perf_counter() - self.begun
        late_bound_h = self.late_bound_min / 60
        self.tell(
            Progress(doing=doing, looked_at=self.looked_at, seconds=seconds, best=best, late_bound_h=late_bound_h)
        )

    def _pass_on(self, progress: Progress) -> None:
        self.tell(replace(progress, late_bound_h=self.late_bound_min / 60))

    def _less_late(self) -> Outcome:
        if self.should_stop():
            return Outcome(proven=False, impossible=False, bound=0, schedule=None)
        plan = self._plan_to_better()
        built = model_of(plan)
        built.model.minimize(lateness(built, self.late_bound_min))
        self._forbid_hopeless_hours(built)
        outcome = self._run(built, "making it less late", FIRST_SHARE)
        self.keep(outcome.schedule)
        if plan is self.plan and not outcome.impossible:
            self.late_bound_min = max(self.late_bound_min, outcome.bound)
        proven = self.best is not None and self._late_min(self.best) <= self.late_bound_min
        return replace(outcome, proven=proven, impossible=outcome.impossible and plan is self.plan)

    def _plan_to_better(self) -> OutageInMinutes:
        """The whole outage; of many jobs only the part up to the end of the best schedule, which proves nothing.

        Its model is much smaller, and the bound that the solver finds for many jobs is no better than ours.
        """
        if self.best is None or len(self.plan.jobs) <= PROBED_JOBS:
            return self.plan
        return OutageInMinutes(replace(self.outage, ends_at=self.best.score(self.outage).finish_at))

    def _less_risk(self) -> bool:
        """Better risk and finish at the lateness there is; whether the end of that is proven."""
        if self.best is None or self._left_s() == 0.0 or self.should_stop():
            return False
        plan = self._plan_to_better()
        built = model_of(plan)
        built.model.add(lateness(built, 0) <= self._late_min(self.best))
        built.model.minimize(risk(built) * (built.axis.total_min + 1) + finish(built))
        outcome = self._run(built, "lowering the risk", 1.0)
        self.keep(outcome.schedule)
        return outcome.proven and plan is self.plan

    def keep(self, schedule: Schedule | None) -> None:
        """Keep the better one, every step moved to the left as far as it goes."""
        if schedule is None:
            return
        moved = shifted_left(self.plan, schedule)
        if self.best is None or moved.score(self.outage).order < self.best.score(self.outage).order:
            self.best = moved

    def _forbid_hopeless_hours(self, built: Model) -> None:
        """A pour hour after which its job alone is later than all jobs of the best schedule is not taken."""
        if self.best is None:
            return
        most_min = self._late_min(self.best)
        for job in built.plan.jobs:
            alone = JobAlone(built.plan, job)
            for literal, option in zip(built.hour.get(job.index, []), job.options, strict=True):
                if alone.late_min(alone.done_min(option, alone.before, {})) > most_min:
                    built.model.add(literal == 0)

    def _late_min(self, schedule: Schedule) -> int:
        """Weighted minutes late, counted in whole minutes as the model does."""
        done = [self.plan.minute_of(schedule.done_at(job.job), up=True) for job in self.plan.jobs]
        return sum(
            max(0, done_min - job.due_min) * job.job.weight
            for job, done_min in zip(self.plan.jobs, done, strict=True)
            if job.due_min is not None
        )

    def _left_s(self) -> float | None:
        if self.effort.seconds is None:
            return None
        return max(0.0, self.effort.seconds - (time.perf_counter() - self.begun))

    def _run(self, built: Model, doing: str, share: float) -> Outcome:
        if self.best is not None:
            _add_hint(built, self.best)
        solver = cp_model.CpSolver()
        self._limit(solver, share)
        with self._watched(solver):
            status = solver.solve(built.model, _News(self, built, doing))
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return Outcome(proven=False, impossible=status == cp_model.INFEASIBLE, bound=_whole(solver), schedule=None)
        schedule = _read_back(built, solver.value)
        return Outcome(proven=status == cp_model.OPTIMAL, impossible=False, bound=_whole(solver), schedule=schedule)

    def _limit(self, solver: cp_model.CpSolver, share: float) -> None:
        parameters, left_s = solver.parameters, self._left_s()
        parameters.num_workers = self.effort.workers
        parameters.random_seed = self.effort.seed
        if len(self.plan.jobs) > PROBED_JOBS:
            parameters.cp_model_probing_level = 0
            parameters.symmetry_level = 0
            parameters.max_presolve_iterations = 1
        if self.effort.workers == 1:
            parameters.interleave_search = True
        if left_s is not None:
            parameters.max_time_in_seconds = max(0.01, left_s * share)
        if self.effort.solver_units is not None:
            parameters.max_deterministic_time = self.effort.solver_units * share

    @contextmanager
    def _watched(self, solver: cp_model.CpSolver) -> Iterator[None]:
        """Ask again and again, beside the solver, whether to stop."""
        over = threading.Event()

        def watch() -> None:
            while not over.wait(POLL_S):
                if self.should_stop():
                    solver.stop_search()

        watcher = threading.Thread(target=watch, daemon=True)
        if self.should_stop is not never:
            watcher.start()
        try:
            yield
        finally:
            over.set()
            if watcher.is_alive():
                watcher.join()


class _News(cp_model.CpSolverSolutionCallback):
    """Keeps and tells of each schedule that the solver finds."""

    def __init__(self, solver: Solver, built: Model, doing: str) -> None:
        super().__init__()
        self._solver, self._built, self._doing = solver, built, doing

    def on_solution_callback(self) -> None:
        self._solver.keep(_read_back(self._built, self.value))
        self._solver.say(self._doing)


def _whole(solver: cp_model.CpSolver) -> int:
    """The bound as a whole number: what is minimised is whole, so that a bound rounds up."""
    bound = solver.best_objective_bound
    return math.ceil(bound - 1e-6) if math.isfinite(bound) else 0


def _add_hint(built: Model, schedule: Schedule) -> None:
    """Lay a schedule before the solver, to begin with."""
    plan, model = built.plan, built.model
    for job in plan.jobs:
        for literal, option in zip(built.hour.get(job.index, []), job.options, strict=True):
            pour = job.job.pour
            taken = pour is not None and schedule.by_step[job.job.tag, pour.code].starts_at == plan.at(option.at_min)
            model.add_hint(literal, int(taken))
    for index, start in built.start.items():
        one = plan.steps[index]
        placed = schedule.by_step[plan.jobs[one.job].job.tag, one.step.code]
        model.add_hint(start, built.work_at(plan.minute_of(placed.starts_at, up=True)))
        model.add_hint(built.end[index], built.work_at(plan.minute_of(placed.ends_at, up=True)))
        for kind, count in built.crews[index].items():
            names = {plan.crew_name(unit) for unit in built.kinds[kind]}
            model.add_hint(count, len(names & set(placed.crews)))


def _read_back(built: Model, value: Callable[[cp_model.IntVar], int]) -> Schedule:
    """The schedule that the solver found, with names for the crews."""
    plan = built.plan
    starts, ends = [0] * len(plan.steps), [0] * len(plan.steps)
    for index in built.start:
        starts[index] = plan.common.begins[value(built.start[index])]
        ends[index] = plan.common.ends[value(built.end[index])]
    for job in plan.jobs:
        for literal, option in zip(built.hour.get(job.index, []), job.options, strict=True):
            if job.pour is not None and value(literal):
                for index in job.conditions:
                    starts[index] = option.at_min - plan.steps[index].step.duration_min
                    ends[index] = option.at_min
                for index in job.cures:
                    starts[index], ends[index] = ends[job.pour], option.cured_min
    return plan.schedule(starts, ends, _crews_named(built, value, starts, ends))


def _crews_named(
    built: Model, value: Callable[[cp_model.IntVar], int], starts: Sequence[int], ends: Sequence[int]
) -> list[tuple[int, ...]]:
    """Crews of one kind take turns: of those that are free, the first ones."""
    units: list[tuple[int, ...]] = [()] * len(built.plan.steps)
    for kind, members in enumerate(built.kinds):
        free_from = dict.fromkeys(members, 0)
        using = sorted((starts[index], index) for index, counts in built.crews.items() if kind in counts)
        for start, index in using:
            count = value(built.crews[index][kind])
            free = [unit for unit in members if free_from[unit] <= start][:count]
            for unit in free:
                free_from[unit] = ends[index]
            units[index] += tuple(free)
    return units
