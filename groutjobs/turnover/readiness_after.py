"""What nonconformances, releases and instruments of readings still owe to a turnover."""

from groutjobs.accounts.models import Role
from groutjobs.findings import Finding, Level
from groutjobs.nonconformances.models import NonconformanceState
from groutjobs.turnover.gathering import Standing

SOURCE = "GROUTJOBS"


def nonconformances(job: Standing) -> list[Finding]:
    """Each one that is not closed stands in the way; one without a disposition cannot be accepted as a deviation."""
    found = []
    for row in job.nonconformances:
        if not row.is_open:
            continue
        is_raised = row.state == NonconformanceState.RAISED
        code = f"nonconformance_undecided_{row.number}" if is_raised else f"nonconformance_{row.number}"
        words = f"{row} is not closed ({row.get_state_display().lower()}): {row.found[:160].rstrip('.')}."
        hint = (
            "The engineer decides: use as is, repair or redo, with reason and source."
            if is_raised
            else "Give the proof; an engineer who did not do the repair closes it."
        )
        found.append(_finding(Level.BLOCKER, code, words, Role.ENGINEER, hint))
    return found


def releases(job: Standing) -> list[Finding]:
    """Milestones that no engineer released, and those released against the evidence."""
    holds = {row.milestone: row for row in job.releases if not hasattr(row, "withdrawal")}
    found = []
    for item in job.cure["milestones"]:
        row = holds.get(item["code"])
        if row is None and item["code"] != "full_cure":
            words = f"No engineer released “{item['label']}”."
            hint = "Release it under Releases, or freeze without: the report says so."
            found.append(_finding(Level.WARNING, f"no_release_{item['code']}", words, Role.ENGINEER, hint))
        if row is not None and row.is_against:
            words = f"“{row.label}” was released against the evidence by {row.printed_name}: {row.reason.rstrip('.')}."
            found.append(_finding(Level.WARNING, f"release_against_{row.milestone}", words, Role.ENGINEER))
    return found


def samples(job: Standing) -> list[Finding]:
    """Samples that broke below the strength required."""
    return [
        _finding(
            Level.WARNING,
            "sample_failed",
            f"Sample {row} broke at {row.strength_mpa:.1f} MPa, below the strength required.",
            Role.ENGINEER,
            "Raise a nonconformance, and let the engineer decide about the grout.",
        )
        for row in job.samples
        if row.verdict == "refused"
    ]


def reading_instruments(job: Standing) -> list[Finding]:
    """Readings taken with an instrument whose calibration was past on that day."""
    if not job.owed.has_instruments:
        return []
    past = {used.instrument.pk: used for used in job.read_with.values() if used.problem}
    hint = "Have it checked and say what was found, or set the readings aside."
    return [
        _finding(
            Level.WARNING,
            f"reading_calibration_{number}",
            f"Cure readings of {used.days} were taken with {used.instrument}, whose calibration {used.problem}.",
            Role.INSPECTOR,
            hint,
        )
        for number, used in past.items()
    ]


def _finding(level: Level, code: str, message: str, owes: Role, hint: str = "") -> Finding:
    return Finding(level=level, code=f"turnover.{code}", message=message, about=owes.label, hint=hint, source=SOURCE)
