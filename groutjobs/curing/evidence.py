"""What the release of a milestone stands on, gathered as plain JSON that does not change by itself with the clock."""

import hashlib
from typing import Any

from groutjobs import units
from groutjobs.audit.chain import canonical
from groutjobs.curing.models import CureInspection, Verdict
from groutjobs.curing.queries import cure_of, effective_inspections
from groutjobs.curing.release_models import MilestoneRelease
from groutjobs.curing.sample_models import SampleResult
from groutjobs.pours.models import Pour

SCHEMA = "groutjobs release evidence 1"
MILESTONE_KEYS = (
    "code", "label", "needed_h", "source", "strength_mpa", "state", "reached_at", "reached_surely_at", "expected_at",
    "band",
)  # fmt: skip


def results_of(pour: Pour) -> list[SampleResult]:
    """Sample results of a pour that count, by the time of the test; one query."""
    rows = SampleResult.objects.filter(pour=pour, replaced_by=None).select_related("entered_by", "entry")
    return list(rows.order_by("tested_at", "pk"))


def releases_of(pour: Pour) -> list[MilestoneRelease]:
    """All releases of a pour with their withdrawals, in the order they were given; one query."""
    rows = MilestoneRelease.objects.filter(pour=pour).select_related("released_by", "withdrawal__withdrawn_by")
    return list(rows.order_by("pk"))


def standing_releases(pour: Pour) -> dict[str, MilestoneRelease]:
    """Code of the milestone → the release that holds; one query."""
    return {row.milestone: row for row in releases_of(pour) if not hasattr(row, "withdrawal")}


def all_evidence(pour: Pour) -> dict[str, dict[str, Any]]:
    """Code of each milestone → what a release of it would stand on now."""
    cure = cure_of(pour, system=units.METRIC)
    made = effective_inspections(pour)
    samples = [_sample(row) for row in results_of(pour)]
    return {item["code"]: _evidence(pour, cure, item, made, samples) for item in cure["milestones"]}


def _evidence(
    pour: Pour,
    cure: dict[str, Any],
    item: dict[str, Any],
    made: dict[str, CureInspection],
    samples: list[dict[str, Any]],
) -> dict[str, Any]:
    last = cure.get("last") or {}
    found: dict[str, Any] = {
        "schema": SCHEMA,
        "engine_version": cure["engine_version"],
        "pour": pour.pk,
        "machine": pour.plan.machine.tag,
        "pour_number": pour.number,
        "placed_at": cure["started_at"],
        "basis": cure["basis"],
        "clock": cure["clock"],
        "milestone": {name: item.get(name) for name in MILESTONE_KEYS},
        "last_reading": {name: last.get(name) for name in ("at", "temp_c", "age_h", "age_low_h", "strength_mpa")},
        "gaps": cure.get("gaps", []),
        "samples": samples,
        "inspections": [_inspection(row) for row in made.values()],
        "sources": cure["sources"],
    }
    return found | {"against": _against(found)}


def _sample(row: SampleResult) -> dict[str, Any]:
    return {
        "label": row.label,
        "specimen": row.specimen,
        "tested_at": row.tested_at.isoformat(),
        "strength_mpa": row.strength_mpa,
        "required_mpa": row.inputs.get("required_mpa"),
        "required_source": row.inputs.get("required_source"),
        "verdict": row.verdict,
        "report_no": row.report_no,
    }


def _inspection(row: CureInspection) -> dict[str, Any]:
    return {
        "kind": row.kind,
        "kind_words": row.get_kind_display(),
        "made_at": row.made_at.isoformat(),
        "verdict": row.standing_verdict.value,
        "verdict_words": str(row.standing_verdict.label),
    }


def _against(found: dict[str, Any]) -> list[str]:
    """What speaks against a release, in words; empty where the evidence carries it."""
    item = found["milestone"]
    words = []
    if item["state"] == "reached_unless_cold":
        words.append("The clock has reached it by the readings, but not if the gaps between readings ran cold.")
    elif item["state"] != "reached":
        words.append(f"The clock has not reached the equivalent age of {item['needed_h']:.0f} h that it needs.")
    failed = [f"{row['label']} {row['specimen']}" for row in found["samples"] if row["verdict"] == Verdict.REFUSED]
    if failed:
        words.append(f"Samples below the strength required: {', '.join(failed)}.")
    refused = [row["kind_words"].lower() for row in found["inspections"] if row["verdict"] == Verdict.REFUSED]
    if refused:
        words.append(f"Inspections not accepted: {', '.join(refused)}.")
    return words


def text_and_hash(evidence: dict[str, Any]) -> tuple[str, str]:
    """The canonical text of the evidence and its hash, which is what is signed."""
    text = canonical(evidence)
    return text, hashlib.sha256(text.encode()).hexdigest()


def sentence_of(evidence: dict[str, Any]) -> str:
    """The sentence that a release puts a name under."""
    label = evidence["milestone"]["label"]
    what = f"“{label}” at {evidence['machine']}, pour {evidence['pour_number']}"
    return f"I release {what}; I have read the evidence shown and answer for this decision."[:300]


def release_json(row: MilestoneRelease) -> dict[str, Any]:
    """One release with its evidence and withdrawal, as plain JSON for the turnover."""
    gone = getattr(row, "withdrawal", None)
    return {
        "id": row.pk,
        "milestone": row.milestone,
        "label": row.label,
        "sentence": row.sentence,
        "released_at": row.released_at.isoformat(),
        "released_by": row.printed_name,
        "released_by_id": row.released_by_id,
        "is_against": row.is_against,
        "reason": row.reason,
        "evidence_text": row.evidence_text,
        "evidence_sha256": row.evidence_sha256,
        "withdrawn_at": gone.withdrawn_at.isoformat() if gone else None,
        "withdrawn_by": gone.withdrawn_by.name if gone else None,
        "withdrawn_because": gone.reason if gone else "",
    }
