"""What a turnover still lacks, and who owes it. A blocker refuses to freeze unless it is accepted with a reason."""

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any

from groutjobs import units
from groutjobs.accounts.models import Role
from groutjobs.curing.models import KINDS_ALWAYS_MADE, CureInspection, InspectionKind, Verdict
from groutjobs.findings import Finding, Level
from groutjobs.pours.log import HoldPoint
from groutjobs.pours.models import Pour
from groutjobs.pours.photos import path_of
from groutjobs.signing.models import RecordState
from groutjobs.sync.queries import phones_of
from groutjobs.turnover.gathering import Standing, standing_of
from groutjobs.turnover.readiness_after import nonconformances, reading_instruments, releases, samples
from groutjobs.turnover.type_cover import uncovered
from groutjobs.wording import counted

NEVER_ACCEPTED = (
    "turnover.not_declared",
    "turnover.photo_lost",
    "turnover.entry.conflict",
    "turnover.phone_",
    "turnover.nonconformance_undecided",
    "turnover.record_",
)
"""Codes, by their beginning, that no reason makes acceptable: they are settled on the record itself."""
SOURCE = "GROUTJOBS"
ROLE_OF_WORD = {role.label: role for role in Role}
CODE_LEVEL = {"H": Level.BLOCKER, "W": Level.WARNING, "M": Level.WARNING, "R": Level.WARNING}


def readiness(pour: Pour, *, system: str = units.METRIC) -> list[Finding]:
    """Everything that is missing from a pour of pour_whole(), blockers first; `about` names the role that owes it."""
    job = standing_of(pour, system=system)
    found = _told_apart(finding for rule in RULES for finding in rule(job))
    order = list(Level)
    return sorted(found, key=lambda finding: order.index(finding.level))


def _told_apart(findings: Iterable[Finding]) -> Iterator[Finding]:
    """A number behind a code that comes again, so that each finding can be accepted by its own code."""
    seen: Counter[str] = Counter()
    for finding in findings:
        code = re.sub(r"[^A-Za-z0-9._-]+", "_", finding.code).rstrip("._")
        seen[code] += 1
        yield replace(finding, code=code if seen[code] == 1 else f"{code}-{seen[code]}")


def blockers_of(findings: Sequence[Finding]) -> list[Finding]:
    return [finding for finding in findings if finding.level is Level.BLOCKER]


def by_debtor(findings: Sequence[Finding]) -> list[tuple[str, list[Finding]]]:
    """Findings under the role that owes them, in the order of the list of roles."""
    names = [role.label for role in Role]
    debtors = sorted({finding.about for finding in findings}, key=lambda name: names.index(name))
    return [(name, [finding for finding in findings if finding.about == name]) for name in debtors]


def _finding(level: Level, code: str, message: str, owes: Role, hint: str = "", source: str = SOURCE) -> Finding:
    return Finding(level=level, code=f"turnover.{code}", message=message, about=owes.label, hint=hint, source=source)


def declared(job: Standing) -> list[Finding]:
    if job.log.declared_at is not None:
        return []
    hint = "The crew lead declares it complete on the phone, last step of the pour log."
    return [_finding(Level.BLOCKER, "not_declared", "The pour is not declared complete.", Role.CREW_LEAD, hint)]


def hold_points(job: Standing) -> list[Finding]:
    return [_open_point(point) for point in job.log.points if not point.is_closed]


def witnesses(job: Standing) -> list[Finding]:
    """Hold points that were seen by somebody without the role that the plan names."""
    found = []
    for point in job.log.points:
        seen = point.latest
        if point.code != "H" or not point.is_closed or not point.witness_role or seen is None or not seen.witness_id:
            continue
        if point.witness_role not in job.roles.get(seen.witness_id, ()):
            role = point.witness_role.lower()
            words = f"Step {point.position}, {point.step}: seen by {seen.witness}, who is no {role} of this site."
            hint = f"The plan names the {role}. Let one see it and answer again, or accept it by freezing."
            found.append(
                _finding(Level.WARNING, f"witness_{point.position}", words, Role.CREW_LEAD, hint, point.source)
            )
    return found


def _open_point(point: HoldPoint) -> Finding:
    level = Level.BLOCKER if point.latest and not point.latest.is_acceptable else CODE_LEVEL[point.code]
    return _finding(
        level,
        f"point_{point.position}",
        f"Step {point.position}, {point.step}: {point.what_is_open}.",
        ROLE_OF_WORD.get(point.witness_role, Role.CREW_LEAD),
        f"Acceptable is: {point.acceptance}",
        point.source,
    )


def pour_log(job: Standing) -> list[Finding]:
    """What the pour log says about itself: what keeps it from being complete, and what cannot be undone."""
    lacks = [item for item in job.log.missing_before_complete if not item.code.startswith("point.")]
    facts = [item for item in job.log.findings if item.level is not Level.NOTE]
    return [
        *(replace(item, about=Role.CREW_LEAD.label, code=f"turnover.{item.code}.{item.about}") for item in lacks),
        *(replace(item, about=Role.ENGINEER.label, code=f"turnover.{item.code}.{item.about}") for item in facts),
    ]


def phones(job: Standing) -> list[Finding]:
    """Entries that are still on phones, or came and wait for a decision: the record is not whole without them."""
    found = []
    for number, phone in enumerate(phones_of(job.pour), 1):
        words = f"{phone.device.name} still holds at least {phone.at_least} entries that it has not sent."
        hint = "Open the app on it where there is signal. If it is lost, say so under Phones, with a reason."
        found.append(_finding(Level.BLOCKER, f"phone_holds_{number}", words, Role.CREW_LEAD, hint))
    waiting = job.owed.waiting
    if waiting:
        words = f"From phones came {counted(waiting, 'entry', 'entries')} without a decision, or before another."
        hint = "Decide about each under Phones, with a reason."
        found.append(_finding(Level.BLOCKER, "phone_waiting", words, Role.ENGINEER, hint))
    return found


def record_signed(job: Standing) -> list[Finding]:
    """The pour record is locked by two names, and what came after that was decided about."""
    row = job.owed.record
    state = RecordState(row.state) if row else RecordState.OPEN
    if state == RecordState.VOID:
        return [_finding(Level.BLOCKER, "record_void", "The record of this pour is void.", Role.ENGINEER)]
    if row is None or state != RecordState.LOCKED:
        words = f"The pour record is not locked: {state.label.lower()}."
        hint = "The crew lead makes it ready and signs, an engineer who recorded nothing reviews it: page Pour record."
        return [_finding(Level.BLOCKER, "record_not_locked", words, Role.CREW_LEAD, hint)]
    late = job.owed.undecided
    if not late:
        return []
    words = f"After the pour record was locked came {counted(late, 'entry', 'entries')} without a decision."
    hint = "Decide on the page Pour record: an addendum, or no effect, with a reason."
    return [_finding(Level.BLOCKER, "record_late", words, Role.ENGINEER, hint)]


def milestones(job: Standing) -> list[Finding]:
    """Every milestone of the cure must be reached, by its lower bound."""
    found = []
    for item in job.cure["milestones"]:
        if item["state"] == "reached":
            continue
        hint = "Take grout readings until it is reached."
        if item["state"] == "reached_unless_cold":
            hint = "Reached by the readings, but not by their lower bound: a gap between readings leaves it open."
        words = f"The cure has not reached “{item['label']}” (equivalent age {item['needed_h']:.0f} h)."
        found.append(_finding(Level.BLOCKER, f"cure_{item['code']}", words, Role.CREW_LEAD, hint, item["source"]))
    if not job.cure["milestones"]:
        words = "The cure clock has not started: no grout is recorded as placed to the end."
        found.append(_finding(Level.BLOCKER, "cure_not_started", words, Role.CREW_LEAD))
    return found


def inspections(job: Standing) -> list[Finding]:
    """Level survey, sounding and bolt tightening: there, accepted, and made with an instrument in calibration."""
    made = {row.kind: row for row in job.inspections}
    found = []
    for kind in InspectionKind:
        row = made.get(kind)
        if row is None and kind not in KINDS_ALWAYS_MADE:
            continue
        if row is None:
            words = f"{kind.label} is not recorded."
            found.append(
                _finding(Level.BLOCKER, f"no_{kind.value}", words, Role.INSPECTOR, "Enter it under Inspections.")
            )
            continue
        if row.standing_verdict == Verdict.OPEN:
            words = f"{kind.label} of {row.made_at:%Y-%m-%d} came from a phone and is not judged yet."
            hint = "Open it under Inspections and give the verdict."
            found.append(_finding(Level.BLOCKER, f"open_{kind.value}", words, Role.ENGINEER, hint))
        if row.standing_verdict == Verdict.REFUSED:
            words = f"{kind.label} of {row.made_at:%Y-%m-%d} is not accepted."
            hint = "Repair and inspect again; the new inspection replaces this one and both stay on record."
            found.append(_finding(Level.BLOCKER, f"refused_{kind.value}", words, Role.INSPECTOR, hint))
        found += _overdue(row, job)
    return found


def _overdue(row: CureInspection, job: Standing) -> list[Finding]:
    made_on = row.made_at.astimezone(job.pour.plan.machine.site.tz).date()
    if row.calibration_due_on >= made_on:
        return []
    words = (
        f"{row.get_kind_display()}: calibration of {row.instrument} was due on {row.calibration_due_on}, "
        f"{(made_on - row.calibration_due_on).days} days before the reading on {made_on}."
    )
    hint = "Repeat with an instrument in calibration, or have this one checked and say what was found."
    return [_finding(Level.BLOCKER, f"calibration_{row.kind}", words, Role.INSPECTOR, hint, "PRACTICE")]


def accepted_against(job: Standing) -> list[Finding]:
    """What a plan or an inspection itself found in the way and a person accepted all the same: told, not hidden."""
    plan = job.pour.plan
    judged = [(f"The plan, revision {plan.revision}, was approved although", plan.result, plan.approval_note, "plan")]
    judged += [
        (f"{row.get_kind_display()} was accepted although", row.result, _grounds(row), row.kind)
        for row in job.inspections
        if row.standing_verdict == Verdict.ACCEPTED
    ]
    return [
        _finding(
            Level.WARNING,
            f"accepted_{about}",
            f"{words}: {stored['message']} Reason given: {reason.rstrip('.') or 'none'}.",
            Role.ENGINEER,
            source=stored["source"],
        )
        for words, result, reason, about in judged
        for stored in _stored_findings(result, job.system)
        if stored["level"] == Level.BLOCKER
    ]


def _grounds(row: CureInspection) -> str:
    last = row.last_decision
    return last.grounds if last else row.remarks


def _stored_findings(result: dict[str, Any], system: str) -> list[dict[str, Any]]:
    """The findings of a stored result in the reader's units."""
    found: list[dict[str, Any]] = (result.get("findings_us") if system == units.US else None) or result.get(
        "findings", []
    )
    return found


def photos(job: Standing) -> list[Finding]:
    """Photos that the plan asks for, and photos whose file is gone."""
    found = []
    for point in job.log.points:
        asks = "photo" in point.recorded.lower()
        if asks and point.latest and point.latest.answer == "accepted" and not point.latest.photos:
            words = f"Step {point.position}, {point.step}: the plan asks for photographs and none is there."
            found.append(
                _finding(Level.WARNING, f"no_photo_{point.position}", words, Role.CREW_LEAD, source=point.source)
            )
    lost = [photo for photo in job.photos if not path_of(photo.sha256).exists()]
    if lost:
        words = f"{len(lost)} photos of this pour are missing from the store, first {lost[0]}."
        hint = "The site administrator restores them from the backup; a report with a gap is never drawn."
        found.append(_finding(Level.BLOCKER, "photo_lost", words, Role.ADMINISTRATOR, hint))
    return found


def printable(job: Standing) -> list[Finding]:
    """Characters that the type of the report has no sign for."""
    machine = job.pour.plan.machine
    texts = [machine.tag, machine.service, machine.site.name, machine.site.owner]
    texts += [value for line in job.log.lines for _, value in line.details]
    texts += [line.fact.author for line in job.log.lines] + [row.remarks for row in job.inspections]
    signs = uncovered(texts)
    if not signs:
        return []
    words = f"The type of the report has no sign for {' '.join(sorted(signs)[:20])}; it prints an empty box instead."
    hint = "The manifest keeps the text as it was typed. Enter a note in Latin, Greek or Cyrillic letters beside it."
    return [_finding(Level.WARNING, "no_sign", words, Role.ENGINEER, hint)]


RULES: tuple[Callable[[Standing], list[Finding]], ...] = (
    declared,
    hold_points,
    witnesses,
    pour_log,
    phones,
    record_signed,
    milestones,
    inspections,
    nonconformances,
    releases,
    samples,
    reading_instruments,
    accepted_against,
    photos,
    printable,
)
