"""What each kind of entry holds: one table, used by the forms, by the check before storing, and by the printed log.

Bodies hold SI values under names with unit suffixes; `as_entered` keeps the text and unit of each as typed. `photos`
lists ids of photographs of the same pour; `blobs` names pictures of a phone by the hash of their bytes, which may still
be on their way; `from_paper` says that the entry was copied from the paper sheet.
"""

import enum
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from groutjobs import units
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.fields import quoted
from groutjobs.limits import LIMITS
from groutjobs.pours.models import EntryKind

SOURCE = "GROUTJOBS"
PHOTOS_MAX = 20
ENTRIES_MAX = 20
FROM_PAPER = "from_paper"
"""Marks an entry that was copied from the paper sheet; it then needs a photograph of the sheet, whatever its kind."""
HASH = re.compile(r"[0-9a-f]{64}")


class SlotKind(enum.StrEnum):
    NUMBER = "number"
    TEXT = "text"
    CHOICE = "choice"
    PLACE = "place"
    PERSON = "person"
    POINT = "point"
    ENTRY = "entry"
    ENTRIES = "entries"


@dataclass(frozen=True)
class Slot:
    """One value of a body. A number takes its unit and limits from `limit_key`; texts have a length."""

    name: str
    label: str
    kind: SlotKind
    limit_key: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    max_length: int = 120
    required: bool = True
    help: str = ""
    cement_only: bool = False


def _number(name: str, label: str, limit_key: str, **more: Any) -> Slot:
    return Slot(name, label, SlotKind.NUMBER, limit_key, **more)


def _text(name: str, label: str, max_length: int = 120, **more: Any) -> Slot:
    return Slot(name, label, SlotKind.TEXT, max_length=max_length, **more)


ACCEPTED, NOT_ACCEPTED, NOT_APPLICABLE = "accepted", "not_accepted", "not_applicable"
ANSWERS = ((ACCEPTED, "Accepted"), (NOT_ACCEPTED, "Not accepted"), (NOT_APPLICABLE, "Does not apply"))
EMPTY, SOME = "none", "some"
LEFT = ((EMPTY, "Nothing left"), (SOME, "Some left to place"))
READ_ON = (
    ("plate", "Plate"),
    ("concrete", "Concrete"),
    ("air", "Air"),
    ("material", "Material before mixing"),
    ("grout", "Grout in place"),
)
_BATCH = _number("batch", "Batch number", "batch")
_PLACE = Slot("compartment", "Compartment", SlotKind.PLACE, max_length=12)

BODIES: dict[str, tuple[Slot, ...]] = {
    EntryKind.POINT_ANSWER: (
        Slot("point_id", "Hold point", SlotKind.POINT),
        Slot("answer", "Answer", SlotKind.CHOICE, choices=ANSWERS),
        _text("measured", "Measured, with unit and instrument", required=False),
        _text("remark", "Remark", 300, required=False, help="Needed where the answer is not “Accepted”."),
        Slot("witness_id", "Witness", SlotKind.PERSON, required=False, help="Another person who saw it."),
    ),
    EntryKind.READING: (
        Slot("what", "Read on", SlotKind.CHOICE, choices=READ_ON),
        _number("temp_c", "Temperature", "surface_c"),
        _number("humidity_ratio", "Relative humidity", "humidity_ratio", required=False, help="For air."),
        _text("instrument", "Instrument and number", 80, required=False),
    ),
    EntryKind.LIQUIDS_STARTED: (
        _BATCH,
        _number("kits", "Whole kits or bags in this batch", "batch_kits"),
        _text("lot", "Lot", 40),
        _number("water_l", "Water", "volume_l", required=False, cement_only=True),
    ),
    EntryKind.AGGREGATE_IN: (
        _BATCH,
        _number("bags", "Bags in the mixer", "bags"),
    ),
    EntryKind.WETTED_OUT: (
        _BATCH,
        _number("grout_c", "Temperature of the mixed grout", "material_c"),
    ),
    EntryKind.PLACED: (
        _BATCH,
        _PLACE,
        _number("volume_l", "Volume placed", "volume_l"),
        Slot("left", "Left in the mixer", SlotKind.CHOICE, choices=LEFT),
        _number(
            "filled_ratio", "How full it looks", "share_ratio", required=False,
            help="Share of the grout depth, through vent or form. Shows a leak or trapped air early.",
        ),
    ),
    EntryKind.DISCARDED: (_BATCH, _text("why", "Why it was discarded", 200)),
    EntryKind.COMPARTMENT_FULL: (_PLACE, _text("remark", "Remark", 200, required=False)),
    EntryKind.LEAK: (_PLACE, _text("where", "Where it leaks", 200)),
    EntryKind.LEAK_CLOSED: (
        Slot("leak", "Leak", SlotKind.ENTRY),
        _text("how", "How it was closed", 200),
    ),
    EntryKind.STOPPED: (_text("why", "Why work stopped", 200),),
    EntryKind.RESUMED: (_text("remark", "Remark", 200, required=False),),
    EntryKind.SAMPLE: (
        _text("label", "Label on the sample", 40),
        _BATCH,
        _text("kept", "Where it cures", 120, required=False),
    ),
    EntryKind.NOTE: (_text("text", "Note", 1000),),
    EntryKind.DECLARED_COMPLETE: (_text("remark", "Remark", 300, required=False),),
    EntryKind.STRUCK: (),
    EntryKind.RESOLVED: (
        Slot("keeps", "Entry that counts", SlotKind.ENTRY),
        Slot("over", "Entries that do not", SlotKind.ENTRIES),
    ),
}  # fmt: skip
KINDS_WITH_PHOTOS = frozenset(
    {EntryKind.POINT_ANSWER, EntryKind.READING, EntryKind.COMPARTMENT_FULL, EntryKind.LEAK, EntryKind.LEAK_CLOSED,
     EntryKind.SAMPLE, EntryKind.NOTE}
)  # fmt: skip
CEMENT_TITLES = {
    EntryKind.LIQUIDS_STARTED: "Water in, mixing started",
    EntryKind.AGGREGATE_IN: "Powder in",
    EntryKind.WETTED_OUT: "Mixed",
}


def title_of(kind: str, grout_kind: str = "") -> str:
    """What an entry of this kind is called; mixing steps of a cementitious grout have their own words."""
    if grout_kind == "cement" and kind in CEMENT_TITLES:
        return CEMENT_TITLES[EntryKind(kind)]
    return str(EntryKind(kind).label)


def checked_body(kind: str, body: Mapping[str, Any]) -> dict[str, Any]:
    """The body as it is stored, empty values left out; refused with field, value, limit and source.

    This asks only whether the body is well formed. Whether the fact is good news is judged later, by the fold.
    """
    if kind not in BODIES:
        raise Unusable("kind of entry", f"{quoted(kind)} is none of {', '.join(BODIES)}", source=SOURCE)
    slots = {slot.name: slot for slot in BODIES[kind]}
    extra = sorted(set(body) - set(slots) - {"as_entered", "photos", "blobs", FROM_PAPER})
    if extra:
        raise Unusable("body", f"{quoted(extra[0])} is no field of {title_of(kind)}", source=SOURCE)
    kept: dict[str, Any] = {}
    for slot in slots.values():
        value = body.get(slot.name)
        if value is None or value == "":
            if slot.required:
                raise Unusable(slot.label, f"is missing in {title_of(kind)}", source=SOURCE)
            continue
        kept[slot.name] = _CHECKS[slot.kind](slot, value)
    if body.get(FROM_PAPER):
        if body[FROM_PAPER] is not True:
            raise Unusable("Transcribed from paper", "is neither yes nor left out", source=SOURCE)
        kept[FROM_PAPER] = True
    _check_photos(kind, body, kept)
    _check_blobs(kind, body, kept)
    _check_as_entered(slots, body, kept)
    return kept


def _check_number(slot: Slot, value: Any) -> float | int:
    limit = LIMITS[slot.limit_key]
    unit = units.UNITS_OF[limit.suffix][0].label if limit.suffix and limit.suffix != "ratio" else ""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise Unusable(slot.label, f"{quoted(str(value))} is not a number", source=limit.source)
    if not math.isfinite(value) or not limit.low <= value <= limit.high:
        raise OutOfRange(slot.label, value, low=limit.low, high=limit.high, unit=unit, source=limit.source)
    if limit.whole and value != int(value):
        raise Unusable(slot.label, f"{value:g} is not a whole number", source=limit.source)
    return int(value) if limit.whole else float(value)


def _check_text(slot: Slot, value: Any) -> str:
    if not isinstance(value, str) or "\x00" in value:
        raise Unusable(slot.label, f"{quoted(str(value))} is not text that can be stored", source=SOURCE)
    if len(value) > slot.max_length:
        reason = f"{quoted(value)} is longer than {slot.max_length} characters"
        raise Unusable(slot.label, reason, source=SOURCE)
    return value


def _check_choice(slot: Slot, value: Any) -> str:
    if value not in dict(slot.choices):
        names = ", ".join(key for key, _ in slot.choices)
        raise Unusable(slot.label, f"{quoted(str(value))} is none of {names}", source=SOURCE)
    return str(value)


def _check_row_id(slot: Slot, value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        raise Unusable(slot.label, f"{quoted(str(value))} is not the id of a row", source=SOURCE)
    return value


def _check_entry_id(slot: Slot, value: Any) -> str:
    try:
        return str(UUID(str(value)))
    except ValueError as error:
        raise Unusable(slot.label, f"{quoted(str(value))} is not the id of an entry", source=SOURCE) from error


def _check_entry_ids(slot: Slot, value: Any) -> list[str]:
    if not isinstance(value, list | tuple) or not 1 <= len(value) <= ENTRIES_MAX:
        raise Unusable(slot.label, f"1 to {ENTRIES_MAX} ids of entries are taken", source=SOURCE)
    return sorted({_check_entry_id(slot, one) for one in value})


_CHECKS = {
    SlotKind.NUMBER: _check_number,
    SlotKind.TEXT: _check_text,
    SlotKind.CHOICE: _check_choice,
    SlotKind.PLACE: _check_text,
    SlotKind.PERSON: _check_row_id,
    SlotKind.POINT: _check_row_id,
    SlotKind.ENTRY: _check_entry_id,
    SlotKind.ENTRIES: _check_entry_ids,
}


def _check_photos(kind: str, body: Mapping[str, Any], kept: dict[str, Any]) -> None:
    photos = body.get("photos") or []
    if photos and kind not in KINDS_WITH_PHOTOS and FROM_PAPER not in kept:
        raise Unusable("Photos", f"belong to no entry of the kind {title_of(kind)}", source=SOURCE)
    if not isinstance(photos, list | tuple) or len(photos) > PHOTOS_MAX:
        raise Unusable("Photos", f"up to {PHOTOS_MAX} ids are taken", source=SOURCE)
    slot = Slot("photos", "Photo", SlotKind.PERSON)
    if photos:
        kept["photos"] = [_check_row_id(slot, photo) for photo in photos]


def _check_blobs(kind: str, body: Mapping[str, Any], kept: dict[str, Any]) -> None:
    blobs = body.get("blobs") or []
    if blobs and kind not in KINDS_WITH_PHOTOS and FROM_PAPER not in kept:
        raise Unusable("Photos", f"belong to no entry of the kind {title_of(kind)}", source=SOURCE)
    if not isinstance(blobs, list | tuple) or len(blobs) > PHOTOS_MAX:
        raise Unusable("Photos", f"up to {PHOTOS_MAX} hashes are taken", source=SOURCE)
    wrong = [blob for blob in blobs if not isinstance(blob, str) or not HASH.fullmatch(blob)]
    if wrong:
        raise Unusable("Photo", f"{quoted(str(wrong[0]))} is not a SHA-256 in hex", source=SOURCE)
    if blobs:
        kept["blobs"] = list(dict.fromkeys(blobs))


def _check_as_entered(slots: Mapping[str, Slot], body: Mapping[str, Any], kept: dict[str, Any]) -> None:
    entered = body.get("as_entered") or {}
    if not isinstance(entered, Mapping):
        raise Unusable("Values as typed", "are no table of field, text and unit", source=SOURCE)
    typed: dict[str, dict[str, str]] = {}
    for name, pair in entered.items():
        slot = slots.get(name)
        if slot is None or slot.kind is not SlotKind.NUMBER or not isinstance(pair, Mapping):
            raise Unusable("Values as typed", f"{quoted(str(name))} is no number of this entry", source=SOURCE)
        if name in kept:
            typed[name] = {key: _check_text(slot, pair.get(key, "")) for key in ("text", "unit")}
    if typed:
        kept["as_entered"] = typed


def number_shown(slot: Slot, value: float, system: str) -> str:
    """A number of a body in the reader's unit; bare where it has none."""
    suffix = LIMITS[slot.limit_key].suffix
    return units.shown(value, suffix, system) if suffix else f"{value:g}"


def in_both_units(value: float, suffix: str) -> str:
    """A value read back in both systems: “23.5 °C = 74.3 °F”; once where both use the same unit."""
    metric, customary = units.shown(value, suffix, units.METRIC), units.shown(value, suffix, units.US)
    return metric if metric == customary else f"{metric} = {customary}"
