"""Cases of the fold, for Python and for the phone; write_golden() makes fixtures/golden/fold.json again.

The file holds what the fold of pours/fold.py said when it was written; both folds are held to it. It is no outside
source: it proves that the two agree, and tests/pours says what is right.
"""

# ruff: noqa: E501  one case a line

import datetime as dt
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from uuid import UUID

from groutjobs.pours.calc import batch_life
from groutjobs.pours.log import Fact, PourLog
from groutjobs.pours.steps import next_step
from tests.pours import facts as made
from tests.pours.test_fold_order import untidy_pour

PATH = Path(__file__).resolve().parents[2] / "fixtures" / "golden" / "fold.json"
# Findings that the phone makes itself; the others need engineering, or knowledge of who knew of whom.
OF_THE_PHONE = {
    "batch.before_release", "batch.past_life", "batch.life_unknown", "batch.not_measured", "batch.temperature",
    "batch.volume", "fill.unknown_place", "lot.unknown", "lot.expired", "kits.more", "reading.temperature",
    "entry.double", "entry.corrected_twice", "entry.after_end",
}  # fmt: skip
SAME_WORDS = OF_THE_PHONE - {"batch.life_unknown", "entry.double", "entry.corrected_twice", "entry.after_end"}
LATER_MIN = (0.0, 45.0, 99.0, 300.0)


def cases() -> dict[str, list[Fact]]:
    """Tidy and untidy pours, cut off at different places."""
    whole, untidy = made.whole_pour(), untidy_pour()
    late = [made.answer(0), *made.batch(1, 10, "A", grout_c=30.0), made.fact("discarded", 130, batch=1, why="thick")]
    slow = [
        made.fact("liquids_started", 0, batch=1, kits=1, lot="L9"),
        made.fact("placed", 120, batch=1, compartment="C", volume_l=70.0, left="some"),
    ]
    hot = [
        made.answer(0),
        made.fact("wetted_out", 5, batch=1, grout_c=45.0),
        made.fact("reading", 6, what="plate", temp_c=41.0),
        made.fact("reading", 7, what="air", temp_c=41.0),
    ]
    again = [*whole, made.fact("reading", 95, what="grout", temp_c=30.0), *made.batch(5, 100, "A")]
    refused = [
        made.answer(0),
        made.answer(9, answer="not_accepted", remark="moved"),
        made.answer(12, witness_id=made.LEAD),
        *made.batch(1, 20, "A"),
    ]
    found = {
        "nothing": [],
        "whole": whole,
        "untidy": untidy,
        "late": late,
        "slow": slow,
        "hot": hot,
        "again": again,
        "copied": [
            *whole,
            made.fact("note", 96, text="rain", from_paper=True),
            made.fact("note", 97, text="wind", from_paper=True, blobs=["0" * 64]),
        ],
        "refused": refused,
    }
    found |= {f"whole to {cut}": whole[:cut] for cut in range(1, len(whole))}
    found |= {f"untidy to {cut}": untidy[:cut] for cut in range(1, len(untidy), 3)}
    return found  # fmt: skip


def said(log: PourLog) -> dict[str, Any]:
    """What both folds must say of a case."""
    return {
        "state": str(log.state),
        "released_at": _ms(log.released_at), "poured_at": _ms(log.poured_at), "placed_at": _ms(log.placed_at),
        "declared_at": _ms(log.declared_at),
        "missing": [[one.code, one.message] for one in log.missing_before_complete],
        "findings": sorted([one.code, one.message if one.code in SAME_WORDS else ""] for one in log.findings if one.code in OF_THE_PHONE),
        "batches": [
            [batch.number, batch.lot, batch.kits, batch.is_open, _ms(batch.ends_at), round(batch.placed_l, 6)]
            for batch in log.batches
        ],
        "fills": [[fill.name, round(fill.placed_l, 6), _ms(fill.full_at), fill.filled_ratio] for fill in log.fills],
        "leaks": [[str(leak.entry_id), str(leak.key), _ms(leak.closed_at)] for leak in log.leaks],
        "stops": [[stop.why, _ms(stop.resumed_at)] for stop in log.stoppages],
        "points": [[point.id, point.is_closed, point.what_is_open] for point in log.points],
        "struck": [str(line.fact.id) for line in log.lines if line.struck_by],
        "next": [
            [step.sentence, step.kind, step.button, step.is_urgent]
            for minutes in LATER_MIN
            for step in [next_step(log, made.START + dt.timedelta(minutes=minutes))]
        ],
    }  # fmt: skip


def fact_read(told: Mapping[str, Any]) -> Fact:
    """A fact of the file; told when it happened."""
    at, entered = (dt.datetime.fromtimestamp(told[name] / 1000, dt.UTC) for name in ("at", "entered"))
    return Fact(
        id=UUID(told["id"]), kind=told["kind"], body=told["body"], happened_at=at, entered_at=entered, received_at=entered,
        author_id=told["author_id"], author=told["author"],
        replaces_id=UUID(told["replaces"]) if told["replaces"] else None, reason=told["reason"],
    )  # fmt: skip


def _ms(moment: dt.datetime | None) -> int | None:
    return None if moment is None else round(moment.timestamp() * 1000)


def snapshot() -> dict[str, Any]:
    """The basis of the cases in the shape in which a phone gets it."""
    basis = made.basis()
    return {
        "label": "P-1 pour 1",
        "site": {"zone": str(basis.zone)},
        "grout": {
            "kind": basis.grout_kind, "data_sheet": basis.data_sheet, "kit_yield_l": basis.kit_yield_l,
            "kits_per_batch": basis.kits_per_batch, "kits_total": basis.kits_total,
            "planned_grout_c": basis.planned_grout_c, "placing_min_c": basis.placing_min_c,
            "placing_max_c": basis.placing_max_c,
            "working_life": [[row.temp_c, row.working_life_min] for row in basis.working_life],
        },
        "takeoff": {"compartments": [{"name": one.name, "takeoff_l": one.takeoff_l, "sd_l": one.sd_l} for one in basis.fills]},
        "points": [
            {"id": one.pk, "position": one.position, "step": one.step, "acceptance": one.acceptance, "code": one.code,
             "before_pour": one.before_pour, "source": one.source}
            for one in made.points()
        ],
        "lots": [{"lot_no": lot.lot_no, "expires_on": str(lot.expires_on)} for lot in basis.lots],
        "people": [{"id": pk, "name": name} for pk, name in made.NAMES.items()],
    }  # fmt: skip


def fact_told(fact: Fact) -> dict[str, Any]:
    return {
        "id": str(fact.id), "kind": fact.kind, "body": dict(fact.body), "at": _ms(fact.happened_at),
        "entered": _ms(fact.entered_at), "author_id": fact.author_id, "author": fact.author,
        "replaces": str(fact.replaces_id) if fact.replaces_id else None, "reason": fact.reason,
    }  # fmt: skip


def golden() -> dict[str, Any]:
    told = {
        name: {"facts": [fact_told(one) for one in facts], "said": said(made.log_from(facts))}
        for name, facts in cases().items()
    }
    lives = [[temp, _life(temp)] for temp in (8.0, 12.5, 23.0, 33.0, 37.9, 38.1)]
    return {
        "source": "GROUTJOBS: what pours/fold.py said; tolerance none, both must say the same",
        "start": _ms(made.START), "later_min": list(LATER_MIN), "snapshot": snapshot(), "cases": told, "lives": lives,
    }  # fmt: skip


def _life(temp_c: float) -> float | None:
    return batch_life(made.basis(), temp_c, system="metric").minutes


def write_golden() -> None:
    PATH.write_text(
        json.dumps(golden(), ensure_ascii=False, indent=None, separators=(",", ":")) + "\n", encoding="utf-8"
    )
