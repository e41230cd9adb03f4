"""What a phone screen shows: the controls of a form, one big thing to press each, and the words beside them."""

import datetime as dt
from dataclasses import dataclass, field
from typing import Any

from django import forms

from groutjobs import units
from groutjobs.fields import QuantityField, WhenField
from groutjobs.pours.bodies import KINDS_WITH_PHOTOS, title_of
from groutjobs.pours.cautions import CAUTION_END, CAUTIONS
from groutjobs.pours.forms import EntryForm
from groutjobs.pours.log import Batch, PourLog
from groutjobs.pours.models import EntryKind, PourState

# what can be entered at any time, in the order of use, and the words on its button
ALWAYS = (
    (EntryKind.READING, "Reading"),
    (EntryKind.LEAK, "Leak"),
    (EntryKind.STOPPED, "Stop work"),
    (EntryKind.COMPARTMENT_FULL, "Vent bleeds, full"),
    (EntryKind.SAMPLE, "Sample"),
    (EntryKind.NOTE, "Note"),
)
AFTER_ALL = frozenset({EntryKind.READING, EntryKind.NOTE})
ON_A_BATCH = ((EntryKind.PLACED, "Place"), (EntryKind.DISCARDED, "Discard"))


@dataclass(frozen=True)
class Control:
    """One control of a phone screen. `shape` picks its markup: number, pick, text, long, moment, tick or hidden."""

    name: str
    id: str
    label: str
    shape: str
    help: str = ""
    text: str = ""
    errors: tuple[str, ...] = ()
    options: tuple[tuple[str, str, bool], ...] = ()
    unit: str = ""
    unit_label: str = ""
    is_whole: bool = False
    is_sure: bool = False
    is_required: bool = True
    readback: "Readback | None" = None


@dataclass(frozen=True)
class Readback:
    """How keypad.js prints a number in the other unit: value × scale + offset."""

    scale: float
    offset: float
    unit_label: str


@dataclass(frozen=True)
class Screen:
    """A form as the phone shows it."""

    title: str
    button: str
    controls: tuple[Control, ...]
    errors: tuple[str, ...]
    caution: str = ""
    takes_photos: bool = False
    photos: tuple[int, ...] = ()
    told: tuple[str, ...] = field(default_factory=tuple)


def screen_of(form: EntryForm, log: PourLog, *, fixed: frozenset[str], title: str = "", button: str = "Save") -> Screen:
    """The screen of a form; `fixed` names the fields that the link has settled, which are shown in words only."""
    with_epoxy, with_cement = CAUTIONS.get(form.kind, ("", ""))
    caution = with_epoxy if log.grout_kind == "epoxy" else with_cement
    photos = str(form["photos"].value() or "") if "photos" in form.fields else ""
    return Screen(
        title=title or title_of(form.kind, log.grout_kind),
        button=button,
        controls=tuple(_control(form, name, is_fixed=name in fixed) for name in form.fields),
        errors=tuple(str(error) for errors in form.errors.values() for error in errors),
        caution=f"{caution} {CAUTION_END}" if caution else "",
        takes_photos=form.kind in KINDS_WITH_PHOTOS,
        photos=tuple(int(word) for word in photos.split(",") if word.isascii() and word.isdigit()),
    )


def _control(form: EntryForm, name: str, *, is_fixed: bool) -> Control:
    bound, made = form[name], form.fields[name]
    common: dict[str, Any] = {
        "name": bound.html_name,
        "id": bound.auto_id,
        "label": str(bound.label),
        "help": bound.help_text,
        "errors": tuple(bound.errors),
        "is_required": made.required,
    }
    if isinstance(made, QuantityField):
        return _number(bound, made, common, is_fixed=is_fixed)
    value = bound.value()
    text = "" if value is None else str(value)
    if bound.is_hidden or is_fixed:
        return Control(shape="hidden", text=text, **common)
    if isinstance(made, forms.ChoiceField):
        options = tuple((str(key), str(label), str(key) == text) for key, label in _flat(made.choices))
        return Control(shape="pick", options=options, **common)
    if isinstance(made, WhenField):
        shown = made.prepare_value(value) if isinstance(value, dt.datetime) else text
        return Control(shape="moment", text=shown, **common)
    if isinstance(made, forms.BooleanField):
        return Control(shape="tick", is_sure=bool(value), **common)
    return Control(shape="long" if isinstance(made.widget, forms.Textarea) else "text", text=text, **common)


def _flat(choices: Any) -> list[tuple[Any, Any]]:
    return [(key, label) for key, label in choices]


def _number(bound: forms.BoundField, made: QuantityField, common: dict[str, Any], *, is_fixed: bool) -> Control:
    text, unit, _ = bound.value() or ["", "", False]
    suffix = made.limit.suffix
    unit = str(unit or "") if suffix else ""
    known = {choice.key: choice for choice in units.UNITS_OF[suffix]} if suffix else {}
    if suffix and unit not in known:
        unit = units.preferred_unit(suffix, made.system).key
    return Control(
        shape="hidden_number" if is_fixed else "number",
        text=str(text or ""),
        unit=unit,
        unit_label=known[unit].label if suffix else "",
        is_whole=made.limit.whole,
        readback=_readback(suffix, unit) if suffix else None,
        **common,
    )


def _readback(suffix: str, unit: str) -> Readback | None:
    """The other system's unit; none where both use the same one."""
    systems = [units.preferred_unit(suffix, system) for system in (units.METRIC, units.US)]
    other = next((choice for choice in systems if choice.key != unit), None)
    if other is None:
        return None
    at_0, at_1 = (units.from_si(units.to_si(value, suffix, unit), suffix, other.key) for value in (0.0, 1.0))
    return Readback(scale=at_1 - at_0, offset=at_0, unit_label=other.label)


def told(form: EntryForm, log: PourLog, fixed: frozenset[str], at: dt.datetime, zone: dt.tzinfo) -> tuple[str, ...]:
    """What a screen says before it asks: which batch, what is acceptable, how much time is left."""
    words: list[str] = []
    if "batch" in fixed:
        number = str((form["batch"].value() or [""])[0])
        words.append(f"Batch {number}")
        batch = log.batch(int(number)) if number.isascii() and number.isdigit() else None
        words += _time_left(batch, form.kind, at, zone) if batch else []
    if "point_id" in fixed:
        point_id = str(form["point_id"].value() or "")
        point = log.point(int(point_id)) if point_id.isascii() and point_id.isdigit() else None
        if point:
            words += [f"{point.position}. {point.step}", point.checked]
            words += [f"Acceptable: {point.acceptance}", f"Record: {point.recorded}"]
            words += [f"Witness by the plan: {point.witness_role}"] if point.witness_role else []
    return tuple(words)


def _time_left(batch: Batch, kind: str, at: dt.datetime, zone: dt.tzinfo) -> list[str]:
    left_min = batch.left_min(at)
    if left_min is None or batch.ends_at is None or kind not in {EntryKind.WETTED_OUT, EntryKind.PLACED}:
        return []
    ends = f"{batch.ends_at.astimezone(zone):%H:%M}"
    if left_min <= 0:
        return [f"Past its working life since {ends}. Do not place it: discard it."]
    return [f"{left_min:.0f} min of working life left, until {ends}"]


def menu(log: PourLog) -> list[tuple[str, str, str]]:
    """Other things to enter: kind, words on the button, query."""
    if log.state == PourState.SETTLED:
        return [(str(kind), words, "") for kind, words in ALWAYS if kind in AFTER_ALL]
    rows = [(str(kind), words, "") for kind, words in ALWAYS if kind != EntryKind.STOPPED or not log.open_stoppage]
    for batch in log.open_batches:
        steps = ((EntryKind.AGGREGATE_IN, batch.aggregate_at), (EntryKind.WETTED_OUT, batch.wetted_at))
        rows += [
            (str(kind), f"{title_of(kind, log.grout_kind)}, batch {batch.number}", f"batch={batch.number}")
            for kind, done_at in steps
            if done_at is None
        ]
        rows += [(str(kind), f"{words} batch {batch.number}", f"batch={batch.number}") for kind, words in ON_A_BATCH]
    for leak in log.open_leaks:
        rows.append((str(EntryKind.LEAK_CLOSED), "Leak closed", f"leak={leak.entry_id}"))
    if log.is_released or log.poured_at:
        rows.append((str(EntryKind.LIQUIDS_STARTED), f"Start batch {log.next_batch}", f"batch={log.next_batch}"))
    return rows
