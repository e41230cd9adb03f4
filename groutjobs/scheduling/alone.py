"""How early a job could be done if every crew and tool were free for it: what no schedule can beat."""

from bisect import bisect_left

from groutjobs.scheduling.in_minutes import MinuteJob, MinuteStep, OutageInMinutes, PourOption


class JobAlone:
    """One job with all crews and tools to itself. A minute behind the horizon means that it does not fit at all."""

    def __init__(self, plan: OutageInMinutes, job: MinuteJob) -> None:
        self.plan, self.job = plan, job
        self.never_min = plan.horizon_min + 1
        self._options_min = [option.at_min for option in job.options]
        self.before = self.ends_before({})

    def ends_before(self, held: dict[int, int]) -> dict[int, int]:
        """Earliest ends of the work before the pour; `held` says before which minute a step cannot end."""
        ends: dict[int, int] = {}
        for stretch in self.job.before:
            for index in stretch.indices:
                one = self.plan.steps[index]
                from_min = max([self.job.from_min, *(ends[earlier] for earlier in one.after)])
                ends[index] = max(self._end_min(one, from_min), held.get(index, 0))
        return ends

    def pour_from_min(self, ends: dict[int, int]) -> int:
        """The minute from which the pour may begin, its conditioning counted."""
        job, steps = self.job, self.plan.steps
        if job.pour is None:
            return self.never_min
        from_min = max([job.from_min, *(ends.get(earlier, 0) for earlier in steps[job.pour].after)])
        for index in job.conditions:
            begins_min = max([job.from_min, *(ends[earlier] for earlier in steps[index].after)])
            from_min = max(from_min, begins_min + steps[index].step.duration_min)
        return from_min

    def options_from(self, minute: int) -> range:
        """Numbers of the pour hours that are not before a minute."""
        return range(bisect_left(self._options_min, minute), len(self._options_min))

    def done_min(self, option: PourOption | None, ends: dict[int, int], held: dict[int, int]) -> int:
        """The earliest end of the job with this pour hour and these ends of the work before it."""
        job, steps = self.job, self.plan.steps
        ends = dict(ends)
        if option is not None and job.pour is not None:
            ends[job.pour] = max(option.at_min + steps[job.pour].step.duration_min, held.get(job.pour, 0))
            ends |= dict.fromkeys(job.cures, option.cured_min)
        for stretch in job.later:
            for index in stretch.indices:
                one = steps[index]
                ready = option.ready_min[one.step.milestone] if option is not None and one.step.milestone else 0
                from_min = max([job.from_min, ready, *(ends[earlier] for earlier in one.after)])
                ends[index] = max(self._end_min(one, from_min), held.get(index, 0))
        return max(ends[index] for index in job.last)

    def earliest_min(self, held: dict[int, int]) -> int:
        """The earliest end of the job when some of its steps cannot end before given minutes."""
        ends = self.before if not held else self.ends_before(held)
        if self.job.pour is None:
            return self.done_min(None, ends, held)
        from_min = self.pour_from_min(ends)
        if self.job.pour in held:
            from_min = max(from_min, held[self.job.pour] - self.plan.steps[self.job.pour].step.duration_min)
        best = self.never_min
        for number in self.options_from(from_min):
            option = self.job.options[number]
            if option.at_min >= best:
                break
            best = min(best, self.done_min(option, ends, held))
        return best

    def _end_min(self, one: MinuteStep, from_min: int) -> int:
        if one.locked_min is not None:
            from_min = max(from_min, one.locked_min)
        best = self.never_min
        if from_min > self.plan.horizon_min:
            return best
        for group in one.groups:
            axis = self.plan.axes[group.axis]
            work = axis.done_by[from_min] + one.step.duration_min
            if work <= axis.total_min:
                best = min(best, axis.ends[work])
        return best

    def late_min(self, done_min: int) -> int:
        """Weighted minutes of lateness of an end."""
        return 0 if self.job.due_min is None else max(0, done_min - self.job.due_min) * self.job.job.weight
