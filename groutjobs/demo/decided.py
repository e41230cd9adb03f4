"""What the demonstration decides after the pour: instruments, samples, releases, nonconformances, last inspections."""

import datetime as dt
from typing import Any

from groutjobs.curing import actions
from groutjobs.curing.actions import InspectionHead
from groutjobs.curing.calc import after
from groutjobs.curing.evidence import all_evidence, text_and_hash
from groutjobs.curing.models import Verdict
from groutjobs.curing.release_actions import release_milestone
from groutjobs.curing.sample_actions import record_sample
from groutjobs.demo.pouring import Crew, picture
from groutjobs.instruments.actions import add_calibration, add_instrument, retire_instrument
from groutjobs.instruments.models import Instrument, InstrumentKind
from groutjobs.nonconformances.actions import close, decide, give_proof, raise_nonconformance
from groutjobs.nonconformances.models import Disposition
from groutjobs.pours.models import EntryKind, PourEntry
from groutjobs.pours.queries import pour_whole

DAY = dt.timedelta(days=1)
LAB = "Gannet Reach works laboratory (invented)"
TOOLS = (
    (InstrumentKind.LEVEL, "master level", "0417", "±1 mm/m, 0.005 mm", -225, 140),
    (InstrumentKind.WRENCH, "torque wrench", "2291", "100 to 800 N·m", -225, 140),
    (InstrumentKind.HAMMER, "sounding hammer, 0.5 kg", "H-3", "", None, None),
    (InstrumentKind.INDICATOR, "dial indicator", "D-52", "10 mm, 0.01 mm", -340, 25),
    (InstrumentKind.THERMOMETER, "contact thermometer", "T-118", "-20 to 150 °C, 0.1 K", -400, -35),
    (InstrumentKind.LOGGER, "four-channel logger", "L-07", "-40 to 120 °C", -120, 245),
    (InstrumentKind.CRACK, "crack gauge", "C-2", "0.05 to 2 mm", -30, 700),
)


def add_instruments(site: Any, people: dict[str, Any], today: dt.date) -> dict[str, Instrument]:
    """Instruments by their number: one overdue, one that falls due, one retired."""
    by, found = people["engineer"], {}
    for kind, name, serial, span, calibrated, due in TOOLS:
        row = add_instrument(site=site, kind=kind, name=name, serial=serial, span=span, by=by)
        found[serial] = row
        if calibrated is not None and due is not None:
            add_calibration(
                instrument=row,
                calibrated_on=today + calibrated * DAY,
                due_on=today + due * DAY,
                certificate_no=f"GR-{serial}-1 (invented)",
                by_whom=LAB,
                by=by,
            )
    old = add_instrument(site=site, kind=InstrumentKind.WRENCH, name="torque wrench", serial="1988", span="", by=by)
    retire_instrument(instrument=old, reason="ratchet worn, 11 % low at its last calibration", by=by)
    return found


def break_samples(crew: Crew, at: dt.datetime, loads_kn: tuple[float, ...]) -> None:
    """Cubes of 50 mm of the first sample of the log, that lay beside the pour."""
    entry = PourEntry.objects.filter(pour=crew.pour, kind=EntryKind.SAMPLE)[0]
    for number, load_kn in enumerate(loads_kn, 1):
        inputs: dict[str, Any] = {
            "side_mm": 50.0, "width_mm": 50.0, "height_mm": 50.0, "load_kn": load_kn, "reported_mpa": None,
            "required_mpa": 55.0, "required_source": "PRACTICE", "shape": "cube", "kept": "beside", "as_entered": {},
        }  # fmt: skip
        record_sample(
            pour=crew.pour, entry=entry, specimen=f"{number} of {len(loads_kn)}", tested_at=at, lab=LAB,
            report_no=f"GR-{crew.pour.pk}-{number}", inputs=inputs, by=crew.person("inspector"),
        )  # fmt: skip


def release(crew: Crew, codes: tuple[str, ...], reason: str = "") -> None:
    """The engineer releases these milestones on the evidence as it stands."""
    pour = pour_whole().get(pk=crew.pour.pk)
    for code in codes:
        evidence = all_evidence(pour)[code]
        release_milestone(
            pour=pour, code=code, evidence_sha256=text_and_hash(evidence)[1],
            reason=reason if evidence["against"] else "", by=crew.person("engineer"),
        )  # fmt: skip


def _head(crew: Crew, at: dt.datetime, tool: Instrument | None = None) -> InspectionHead:
    due = tool.calibration_on(crew.works.today) if tool else None
    return InspectionHead(
        made_at=at,
        instrument=str(tool) if tool else "none needed, by eye",
        calibration_due_on=due.due_on if due else at.date(),
        verdict=Verdict.ACCEPTED,
        made_with=tool,
    )


def last_inspections(crew: Crew, tools: dict[str, Instrument], at: dt.datetime) -> None:
    """Jackscrews, joints and edges, soft foot, and the sheet for the alignment crew."""
    pour, by = crew.pour, crew.person("inspector")
    screws = [screw | {"state": after.OUT_PLUGGED} for screw in after.screws_to_back_out(pour)]
    if screws:
        rows: dict[str, Any] = {"screws": screws, "plug": "sealant, flush with the plate"}
        actions.record_jackscrews(pour=pour, head=_head(crew, at), rows=rows, by=by)
    rows = {
        "edges": dict.fromkeys(after.EDGES, after.YES), "crack_limit_mm": None, "crack_source": "", "as_entered": {},
        "cracks": [{"place": "north shoulder, at the corner", "width_mm": 0.15, "length_mm": 120.0}],
    }  # fmt: skip
    actions.record_joints(pour=pour, head=_head(crew, at, tools["C-2"]), rows=rows, by=by)
    feet = [
        foot | {"before_mm": 0.0, "after_mm": moved, "entered": {}}
        for foot, moved in zip(after.feet_to_read(pour), (0.02, 0.01, 0.03, 0.01), strict=False)
    ]
    rows = {"feet": feet, "limit_mm": after.FOOT_LIMIT_MM, "limit_source": after.FOOT_SOURCE, "as_entered": {}}
    actions.record_soft_foot(pour=pour, head=_head(crew, at, tools["D-52"]), rows=rows, by=by)
    rows = {"accepted_on": at.date().isoformat(), "thermal": "Hall at 21 °C, piping cold.", "received_by": ""}
    actions.record_handover(pour=pour, head=_head(crew, at + dt.timedelta(hours=1)), rows=rows, by=by)


def leak_repaired(crew: Crew) -> None:
    """The leak of the pour, raised from its entry, repaired, proven by the entry that closed it, and closed."""
    entries = PourEntry.objects.filter(pour=crew.pour)
    leak, closed = entries.get(kind=EntryKind.LEAK), entries.get(kind=EntryKind.LEAK_CLOSED)
    row = raise_nonconformance(
        pour=crew.pour, found="Grout ran out under the formwork; the compartment fell 30 mm below its vent.",
        place=leak.body["where"], origin={"entry": leak}, photos=leak.body.get("photos", ()), by=crew.person("lead"),
    )  # fmt: skip
    decide(
        row=row, disposition=Disposition.REPAIR, source="pour plan, step “leaks”", by=crew.person("engineer"),
        because="Close the leak, top the compartment up within the working life, sound it after the cure.",
    )  # fmt: skip
    give_proof(
        row=row, words="Packed and braced, topped up from the next batch; no further loss.", entry=closed,
        dealt_by=crew.person("lead"), by=crew.person("lead"),
    )  # fmt: skip
    close(row=row, words="Sounded at the place of the leak: solid.", by=crew.person("engineer"))


def edge_open(crew: Crew) -> None:
    """One that is raised on the grout that still cures, and waits for the engineer."""
    shown = picture(crew, "honeycomb at the shoulder", 4)
    raise_nonconformance(
        pour=crew.pour, found="Honeycomb at the shoulder after a look under the form, 60 mm by 20 mm, 8 mm deep.",
        place="south shoulder, middle", spot=(600.0, 0.0), photos=[shown.pk], by=crew.person("inspector"),
    )  # fmt: skip
