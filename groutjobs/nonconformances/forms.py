"""Forms of nonconformances."""

from collections.abc import Iterable
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.core.exceptions import ValidationError

from groutjobs.accounts.models import User
from groutjobs.curing.models import CureInspection
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.fields import PickField, QuantityField, RowPickField, SheetForm, TextField
from groutjobs.nonconformances.models import Disposition, NonconformanceState
from groutjobs.pours import photos
from groutjobs.pours.models import PourEntry


class PictureField(forms.FileField):
    """One photograph, checked by its content before anything is kept."""

    def __init__(self, *, label: str, **kwargs: Any) -> None:
        widget = forms.ClearableFileInput(attrs={"accept": "image/jpeg,image/png"})
        super().__init__(label=label, widget=widget, required=False, **kwargs)

    def clean(self, data: Any, initial: Any = None) -> bytes | None:
        if not data:
            return None
        content: bytes = data.read(photos.MAX_BYTES + 1)
        try:
            photos.keep(content)
        except (OutOfRange, Unusable) as error:
            raise ValidationError(str(error), code="photo") from error
        return content


class RaiseForm(SheetForm):
    found = TextField(
        label="What was found, and against what", max_length=2000, long=True,
        help_text="What it is, how big, and the drawing, specification or limit that it misses.",
    )  # fmt: skip
    place = TextField(label="Where", max_length=200, required=False)
    x_mm = QuantityField("plan_mm", label="x on the plan drawing", required=False)
    y_mm = QuantityField("plan_mm", label="y on the plan drawing", required=False)
    photo = PictureField(label="Photograph", help_text="JPEG or PNG. Its place and hidden content are taken out.")

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if not self.errors and (given.get("x_mm") is None) != (given.get("y_mm") is None):
            missing = "x_mm" if given.get("x_mm") is None else "y_mm"
            self.add_error(missing, "A spot on the drawing has both x and y; write both or none [GROUTJOBS].")
        return given

    def spot(self) -> tuple[float, float] | None:
        x, y = self.cleaned_data["x_mm"], self.cleaned_data["y_mm"]
        return (x.si, y.si) if x is not None and y is not None else None


class DecideForm(SheetForm):
    disposition = PickField(label="Disposition", choices=[("", ""), *Disposition.choices])
    source = TextField(
        label="Source of the acceptance", max_length=120,
        help_text="Drawing, specification, data sheet, standard or calculation that it is accepted by.",
    )  # fmt: skip
    because = TextField(label="Reason", max_length=2000, long=True)


class ProofForm(SheetForm):
    words = TextField(label="What was done and seen", max_length=2000, long=True)
    dealt_by = RowPickField(queryset=User.objects.none(), label="Who did the work")
    photo = PictureField(label="Photograph")
    entry = PickField(label="Entry of the pour log", required=False, choices=[("", "none")])
    inspection = PickField(label="Inspection", required=False, choices=[("", "none")])

    def __init__(
        self,
        *args: Any,
        people: Any,
        entries: Iterable[PourEntry],
        inspections: Iterable[CureInspection],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["dealt_by"]
        assert isinstance(field, RowPickField)  # noqa: S101
        field.queryset = people
        field.label_from_instance = _name  # type: ignore[method-assign]
        self.entries = {str(row.pk): row for row in entries}
        self.inspections = {str(row.pk): row for row in inspections}
        zone = kwargs.get("zone", "UTC")
        self._choose("entry", self.entries, lambda row: f"{row.get_kind_display()}, {_there(row.happened_at, zone)}")
        self._choose(
            "inspection", self.inspections, lambda row: f"{row.get_kind_display()}, {_there(row.made_at, zone)}"
        )

    def _choose(self, name: str, rows: dict[str, Any], words: Any) -> None:
        field = self.fields[name]
        assert isinstance(field, PickField)  # noqa: S101
        field.choices = [("", "none"), *((key, words(row)) for key, row in rows.items())]

    def columns(self) -> dict[str, Any]:
        given = self.cleaned_data
        return {
            "words": given["words"],
            "dealt_by": given["dealt_by"],
            "entry": self.entries.get(given["entry"]),
            "inspection": self.inspections.get(given["inspection"]),
        }


class WordsForm(SheetForm):
    """One sentence: closing, sending back, opening again."""

    words = TextField(label="In words", max_length=2000, long=True)

    def __init__(self, *args: Any, label: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["words"].label = label


class FilterForm(SheetForm):
    """Filters of the list; all may be empty."""

    state = PickField(
        label="State", required=False, choices=[("", "any"), ("open", "Not closed"), *NonconformanceState.choices]
    )
    disposition = PickField(label="Disposition", required=False, choices=[("", "any"), *Disposition.choices])
    words = TextField(label="Tag, number or words", max_length=60, required=False)


def _name(obj: Any) -> str:
    return str(obj.name)


def _there(moment: Any, zone: str) -> str:
    return f"{moment.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M}"
