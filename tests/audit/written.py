"""A record of some events for tests, its export as lines of bytes, and its anchors."""

from groutjobs.audit.actions import action, record, snapshot
from groutjobs.audit.anchors import anchor_lines, make_anchor
from groutjobs.audit.export import export_lines
from groutjobs.audit.verify_record import Anchors, Bad, Record
from groutjobs.equipment.models import Machine


@action
def rename(machine: Machine, service: str, reason: str = "") -> None:
    before = snapshot(machine)
    machine.service = service
    machine.save()
    record(machine, by=None, kind="machine.changed", before=before, reason=reason)


def write_events(machine: Machine, count: int, *, start: int = 0) -> None:
    for number in range(start, start + count):
        rename(machine, f"duty {number}", reason=f"reason {number}, Ø 3⁄4 in")


def exported(site_id: int | None = None) -> list[bytes]:
    make_anchor()
    return [line.encode() for line in export_lines(site_id=site_id)]


def fault_of(lines: list[bytes], anchors: list[str] | None = None) -> str:
    """What the verifier says; empty where it passes."""
    try:
        Record(Anchors(list(anchor_lines()) if anchors is None else anchors)).check(lines)
    except Bad as bad:
        return str(bad)
    return ""
