"""Forms of the pour log, made from the table of bodies: the same fields on the phone and at the desk."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, cast
from uuid import UUID, uuid4

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from groutjobs.fields import PickField, QuantityField, SheetForm, TextField, WhenField, quoted
from groutjobs.pours.bodies import ACCEPTED, BODIES, KINDS_WITH_PHOTOS, PHOTOS_MAX, Slot, SlotKind
from groutjobs.pours.log import Line
from groutjobs.pours.models import EntryKind

AHEAD_MIN = 5.0
Choices = Sequence[tuple[str, str]]


@dataclass(frozen=True)
class EntryChoices:
    """What can be picked in a form of one pour."""

    grout_kind: str
    places: Choices = ()
    people: Choices = ()
    points: Choices = ()
    leaks: Choices = ()
    lots: Sequence[str] = ()
    photos: frozenset[int] = field(default_factory=frozenset)


class IdField(forms.Field):
    """The id that the entry gets, made when its page was made; a double tap sends the same one."""

    def __init__(self) -> None:
        super().__init__(label="Entry id", widget=forms.HiddenInput(), initial=uuid4)

    def clean(self, value: Any) -> UUID:
        try:
            return UUID(str(value or ""))
        except ValueError as error:
            raise ValidationError(
                f"Entry id {quoted(str(value or ''))} is not a UUID; go back and open this page again [GROUTJOBS].",
                code="invalid",
            ) from error


class PhotosField(forms.Field):
    """Ids of photographs that are stored already, apart by comma."""

    def __init__(self, known: frozenset[int]) -> None:
        self.known = known
        super().__init__(label="Photos", widget=forms.HiddenInput(), required=False)

    def clean(self, value: Any) -> list[int]:
        words = [word for word in str(value or "").split(",") if word]
        ids = [int(word) for word in words if word.isascii() and word.isdigit() and int(word) in self.known]
        if len(ids) != len(words):
            raise ValidationError(
                f"Photos {quoted(str(value))} are not photographs of this pour; take them again [GROUTJOBS].",
                code="unknown",
            )
        if len(ids) > PHOTOS_MAX:
            raise ValidationError(f"Photos: {len(ids)} is above {PHOTOS_MAX}, the limit [GROUTJOBS].", code="many")
        return list(dict.fromkeys(ids))


class EntryForm(SheetForm):
    """The base of all forms of the pour log; form_class adds the fields of one kind."""

    kind: str = ""
    entry_id = IdField()
    happened_at = WhenField(
        label="When it happened, if earlier",
        required=False,
        help_text="Leave it empty for now. Site time.",
    )

    def clean_happened_at(self) -> dt.datetime | None:
        moment = cast(dt.datetime | None, self.cleaned_data["happened_at"])
        if moment and moment > timezone.now() + dt.timedelta(minutes=AHEAD_MIN):
            raise ValidationError(
                f"When it happened {quoted(str(self['happened_at'].value()))} is still to come; enter it when it has "
                "happened [GROUTJOBS].",
                code="ahead",
            )
        return moment

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        is_plain = cleaned.get("answer", ACCEPTED) == ACCEPTED
        if self.kind == EntryKind.POINT_ANSWER and not is_plain and cleaned.get("remark") == "":
            self.add_error("remark", "Remark is empty; say why the answer is not “Accepted” [GROUTJOBS].")
        if self.kind == EntryKind.READING and cleaned.get("humidity_ratio") and cleaned.get("what", "air") != "air":
            self.add_error("humidity_ratio", "Relative humidity is read on the air only; pick “Air” [GROUTJOBS].")
        return cleaned

    def slots(self) -> list[Slot]:
        return [slot for slot in BODIES[self.kind] if slot.name in self.fields]

    def body(self) -> dict[str, Any]:
        """The cleaned values as add_entry takes them."""
        values = self.values()
        body: dict[str, Any] = {}
        for slot in self.slots():
            value = values.get(slot.name)
            if value is None or value == "":
                continue
            body[slot.name] = int(value) if slot.kind in {SlotKind.PERSON, SlotKind.POINT} else value
        entered = {name: pair for name, pair in self.entered().items() if name in body}
        if entered:
            body["as_entered"] = entered
        if values.get("photos"):
            body["photos"] = values["photos"]
        return body

    def show_body(self, body: Mapping[str, Any]) -> None:
        """Fill the first values from a stored body, numbers as they were typed."""
        entered = body.get("as_entered", {})
        for slot in self.slots():
            value, shown = body.get(slot.name), self.fields[slot.name]
            if isinstance(shown, QuantityField):
                self.initial[slot.name] = shown.initial_for(value, entered.get(slot.name), self.system)
            elif value is not None:
                self.initial[slot.name] = value
        if "photos" in self.fields:
            self.initial["photos"] = ",".join(map(str, body.get("photos", ())))


def form_class(kind: str, choices: EntryChoices, **more: forms.Field) -> type[EntryForm]:
    """The form of one kind of entry for one pour, with more fields that do not enter the body."""
    fields: dict[str, Any] = {
        slot.name: _field(slot, choices)
        for slot in BODIES[kind]
        if not slot.cement_only or choices.grout_kind == "cement"
    }
    if kind in KINDS_WITH_PHOTOS:
        fields["photos"] = PhotosField(choices.photos)
    order = ["entry_id", *fields, "happened_at", *more]
    return type("EntryFormOfKind", (EntryForm,), {**fields, **more, "kind": kind, "field_order": order})


def reason_field() -> TextField:
    """Why an entry is corrected."""
    return TextField(label="Reason for the correction", max_length=300)


def tick_field(label: str, what_is_wrong: str) -> forms.BooleanField:
    """A step that is only taken on purpose."""
    return forms.BooleanField(label=label, error_messages={"required": what_is_wrong})


class StrikeForm(SheetForm):
    """An entry that should not stand, with nothing in its place."""

    entry_id = IdField()
    reason = TextField(label="Why it is struck out", max_length=300)


class SettleForm(SheetForm):
    """Which of several entries counts, and why."""

    entry_id = IdField()
    reason = TextField(label="Why this one", max_length=300)

    def __init__(self, *args: Any, lines: Sequence[Line], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.ids = [str(line.fact.id) for line in lines]
        offered = [(str(line.fact.id), f"No. {number}, {_in_words(line)}") for number, line in enumerate(lines, 1)]
        self.fields["keeps"] = PickField(label="The entry that counts", choices=offered, widget=forms.RadioSelect())
        self.order_fields(["entry_id", "keeps", "reason"])

    def decision(self) -> dict[str, Any]:
        """The body of the entry that settles it."""
        keeps = self.cleaned_data["keeps"]
        return {"keeps": keeps, "over": [one for one in self.ids if one != keeps]}


def _in_words(line: Line) -> str:
    return ", ".join([line.fact.author, *(f"{label}: {value}" for label, value in line.details)])


def _field(slot: Slot, choices: EntryChoices) -> forms.Field:
    common: dict[str, Any] = {"label": slot.label, "required": slot.required, "help_text": slot.help}
    if slot.kind is SlotKind.NUMBER:
        return QuantityField(slot.limit_key, **common)
    if slot.name == "lot" and choices.lots:
        return _picked([(number, number) for number in choices.lots], common)
    if slot.kind is SlotKind.TEXT:
        return TextField(max_length=slot.max_length, long=slot.max_length > 200, **common)
    offered = {
        SlotKind.CHOICE: slot.choices,
        SlotKind.PLACE: choices.places,
        SlotKind.PERSON: choices.people,
        SlotKind.POINT: choices.points,
        SlotKind.ENTRY: choices.leaks,
    }
    return _picked(offered[slot.kind], common)


def _picked(offered: Choices, common: dict[str, Any]) -> PickField:
    none = [] if common["required"] else [("", "Nobody")]
    return PickField(choices=[*none, *offered], widget=forms.RadioSelect(), **common)
