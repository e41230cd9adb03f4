"""The tap grid as one form field: a box for each tap that rang hollow, a box for each row that was tapped."""

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groutjobs.curing.calc import HOLLOW, NOT_REACHED, SOLID, UNSURE
from groutjobs.fields import quoted

TapPoint = dict[str, Any]


def row_name(tap: TapPoint) -> str:
    """The row of a tap: compartment and number, such as A3."""
    return f"{tap['compartment']}{tap['row']}"


class TapsWidget(forms.Widget):
    """Rows of boxes, grouped by compartment; each name is a word of its own in the posted data."""

    template_name = "curing/taps_widget.html"

    def __init__(self, points: Sequence[TapPoint] = ()) -> None:
        self.points = points
        super().__init__()

    def value_from_datadict(self, data: Any, files: Any, name: str) -> dict[str, Any]:
        return {
            "hollow": data.getlist(f"{name}_hollow"),
            "rows": data.getlist(f"{name}_row"),
            "missed": str(data.get(f"{name}_missed", "")),
            "unsure": str(data.get(f"{name}_unsure", "")),
        }

    def get_context(self, name: str, value: Any, attrs: Any) -> dict[str, Any]:
        context: dict[str, Any] = super().get_context(name, value, attrs)
        given = value or {"hollow": [], "rows": [], "missed": "", "unsure": ""}
        hollow, done = set(given["hollow"]), set(given["rows"])
        compartments = []
        for compartment, taps in groupby(self.points, key=lambda tap: tap["compartment"]):
            rows = [
                {
                    "name": key,
                    "is_done": key in done,
                    "taps": [
                        {"name": tap["name"], "short": tap["name"].split(".")[-1], "is_hollow": tap["name"] in hollow}
                        for tap in row
                    ],
                }
                for key, row in groupby(taps, key=row_name)
            ]
            compartments.append({"name": compartment, "rows": rows})
        return context | {
            "name": name,
            "compartments": compartments,
            "missed": given["missed"],
            "unsure": given["unsure"],
        }


class TapsField(forms.Field):
    """Cleans to the taps with their sound. A tap is solid only where its row was marked as tapped."""

    widget: Any = TapsWidget

    def __init__(self, points: Sequence[TapPoint], *, label: str) -> None:
        self.points = points
        super().__init__(label=label, widget=TapsWidget(points), required=True)

    def clean(self, value: Any) -> list[TapPoint]:
        known = {tap["name"] for tap in self.points}
        done, hollow = set(value["rows"]), set(value["hollow"])
        missed, unsure = (set(value[name].replace(",", " ").replace(";", " ").split()) for name in ("missed", "unsure"))
        rows = {row_name(tap) for tap in self.points}
        for names, allowed, words in ((hollow | missed | unsure, known, "tap"), (done, rows, "row")):
            if strange := sorted(names - allowed):
                raise ValidationError(
                    f"{self.label}: {quoted(strange[0])} is no {words} of this grid [GROUTJOBS].", code="strange"
                )
        if not done:
            raise ValidationError(
                f"{self.label}: no row is marked as tapped; mark each row that you tapped [GROUTJOBS].", code="required"
            )
        if both := sorted(hollow & missed):
            raise ValidationError(
                f"{self.label}: {both[0]} is marked hollow and not reached; it is one of them [GROUTJOBS].", code="both"
            )
        if both := sorted(unsure & (hollow | missed)):
            raise ValidationError(
                f"{self.label}: {both[0]} is marked unsure and something else; it is one of them [GROUTJOBS].",
                code="both",
            )
        for tap in self.points:
            if tap["name"] in hollow and row_name(tap) not in done:
                raise ValidationError(
                    f"{self.label}: {tap['name']} is hollow, but its row {row_name(tap)} is not marked as tapped "
                    "[GROUTJOBS].",
                    code="row",
                )
        return [tap | {"sound": self._sound(tap, hollow, missed, done, unsure)} for tap in self.points]

    @staticmethod
    def _sound(tap: TapPoint, hollow: set[str], missed: set[str], done: set[str], unsure: set[str]) -> str:
        if tap["name"] in missed or row_name(tap) not in done:
            return NOT_REACHED
        if tap["name"] in unsure:
            return UNSURE
        return HOLLOW if tap["name"] in hollow else SOLID
