"""The form of a comparison: which measures are tried for one plan in one forecast, each in a search of its own."""

from collections.abc import Iterator
from typing import Any

from django.db import models
from django.forms import BoundField

from groutjobs.equipment.forms import ClockField
from groutjobs.fields import QuantityField, SheetForm, TicksField, WhenField
from groutjobs.planning.models import PourPlan
from groutjobs.weather.models import Forecast
from groutjobs.weather.queries import forecasts_to_pick
from groutjobs.windows.calc import usual_protection
from groutjobs.windows.forms import ForecastField
from groutjobs.windows.models import PourHours, Weight
from groutjobs.windows.question import CoverAsked, CoverKind, asked_before


class Measure(models.TextChoices):
    """What can be done against cold, sun and rain, besides waiting."""

    SHADE = "shade", "shade"
    ENCLOSURE = "enclosure", "enclosure, not heated"
    HEATED = "heated", "heated enclosure"
    SHIFT = "shift", "another shift"
    STORE = "store", "warmer or cooler material"


_COVERS = {
    Measure.SHADE: CoverKind.SHADE,
    Measure.ENCLOSURE: CoverKind.ENCLOSURE,
    Measure.HEATED: CoverKind.HEATED,
}
_NEEDED = {
    Measure.SHADE: ("cover_from", "cover_to"),
    Measure.ENCLOSURE: ("cover_from", "cover_to"),
    Measure.HEATED: ("cover_from", "cover_to", "cover_held_c"),
    Measure.STORE: ("material_c", "store_c"),
}


class CompareForm(SheetForm):
    template_name = "windows/compare_fields.html"

    forecast = ForecastField(Forecast.objects.none(), label="Forecast")
    tried = TicksField(
        label="Measures to try",
        choices=Measure.choices,
        help_text="Each is searched by itself, beside the work as it is without any.",
    )
    cover_from = WhenField(
        label="Shade or enclosure stands from", required=False, help_text="Heating begins then, too."
    )
    cover_to = WhenField(label="It stands to", required=False)
    cover_held_c = QuantityField(
        "enclosure_c", label="Air that the heater holds", required=False, help_text="For a heated enclosure."
    )
    shift_starts = ClockField(label="Another shift starts")
    shift_ends = ClockField(label="Another shift ends")
    material_c = QuantityField(
        "material_c",
        label="Material at the mixer",
        required=False,
        help_text="How warm the other store makes it; the plan's own temperature is tried without this measure.",
    )
    store_c = QuantityField(
        "material_c", label="Store for it", required=False, help_text="Tells how long it must stand there, opened."
    )

    def __init__(self, *args: Any, plan: PourPlan, earlier: PourHours | None, **kwargs: Any) -> None:
        self.plan, self.earlier = plan, earlier
        super().__init__(*args, zone=plan.machine.site.zone, **kwargs)
        rows = forecasts_to_pick(plan.machine.site)
        self.fields["forecast"].queryset = rows  # type: ignore[attr-defined]
        newest, site = rows.first(), plan.machine.site
        self.initial.update(
            forecast=newest,
            tried=[Measure.SHADE, Measure.HEATED],
            shift_starts=f"{site.shift_starts:%H:%M}",
            shift_ends=f"{site.shift_ends:%H:%M}",
        )
        if newest:
            self.initial.update(cover_from=newest.plan_starts_at, cover_to=newest.ends_at)

    def groups(self) -> Iterator[tuple[str, list[BoundField]]]:
        """The fields under their headings."""
        yield "What is tried", [self["forecast"], self["tried"]]
        yield "Shade and enclosures", [self["cover_from"], self["cover_to"], self["cover_held_c"]]
        yield "Another shift", [self["shift_starts"], self["shift_ends"]]
        yield "Warmer or cooler material", [self["material_c"], self["store_c"]]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        for measure in map(Measure, given.get("tried", [])):
            for name in _NEEDED.get(measure, ()):
                if given.get(name) is None and name not in self.errors:
                    words = f"{self.fields[name].label} is empty; the measure “{measure.label}” needs it [GROUTJOBS]."
                    self.add_error(name, words)
        self._check_times(given)
        return given

    def _check_times(self, given: dict[str, Any]) -> None:
        from_at, to_at = given.get("cover_from"), given.get("cover_to")
        if from_at and to_at and to_at <= from_at:
            self.add_error("cover_to", "It stands to a time that is not after its beginning [GROUTJOBS].")
        is_shift = Measure.SHIFT in given.get("tried", [])
        if is_shift and given.get("shift_starts") and given.get("shift_starts") == given.get("shift_ends"):
            self.add_error("shift_ends", "Another shift ends when it starts; write two different times [GROUTJOBS].")

    def questions(self) -> list[dict[str, Any]]:
        """What search_pour_hours takes for each search: first the work as it is, then each measure alone.

        The work as it is is left out where the search that the plan rests on is just that, in the same forecast.
        """
        values = self.values()
        base = self._base(values["forecast"])
        tried = [base | self._changed(Measure(text), values) for text in values["tried"]]
        return tried if self._is_known(values["forecast"]) else [base, *tried]

    def _is_known(self, forecast: Forecast) -> bool:
        if self.earlier is None or self.earlier.forecast_id != forecast.pk:
            return False
        asked = self.earlier.result["inputs"]
        return not any(asked.get(name) for name in ("cover", "shift_hours", "store"))

    def _base(self, forecast: Forecast) -> dict[str, Any]:
        """The question of the search that the plan rests on, without its measures."""
        asked: dict[str, Any] = {
            "material_c": self.plan.planned_grout_c,
            "protection_h": usual_protection(self.plan)[0],
            "shift": Weight.MUST,
            "daylight": Weight.PREFERRED,
        }
        if self.earlier:
            asked = asked_before(self.earlier, forecast)
        return asked | {"forecast": forecast, "cover": None, "shift_hours": None, "store_c": None}

    def _changed(self, measure: Measure, values: dict[str, Any]) -> dict[str, Any]:
        if kind := _COVERS.get(measure):
            held_c = values["cover_held_c"] if measure == Measure.HEATED else None
            cover = CoverAsked(kind=kind, from_at=values["cover_from"], to_at=values["cover_to"], held_c=held_c)
            return {"cover": cover}
        if measure == Measure.SHIFT:
            return {"shift": Weight.MUST, "shift_hours": (values["shift_starts"], values["shift_ends"])}
        entered = {"material_c": self.entered()["material_c"]} if "material_c" in self.entered() else {}
        return {"material_c": values["material_c"], "store_c": values["store_c"], "as_entered": entered}
