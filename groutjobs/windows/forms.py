"""The form of a search: what is asked of which forecast, and the limits that hours are judged by."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.forms import BoundField

from groutjobs.fields import PickField, QuantityField, RowPickField, SheetForm, TextField, WhenField
from groutjobs.planning.models import PourPlan
from groutjobs.weather.models import Forecast
from groutjobs.weather.queries import forecasts_to_pick
from groutjobs.windows.calc import usual_limits, usual_protection
from groutjobs.windows.models import PourHours, Weight
from groutjobs.windows.question import CoverAsked, CoverKind

LIMIT_KEYS = {
    "c": "surface_c",
    "k": "difference_k",
    "ratio": "share_ratio",
    "km_h": "wind_km_h",
    "kg_m2_h": "evaporation_kg_m2_h",
}
SAME = 1e-6


class ForecastField(RowPickField):
    def label_from_instance(self, obj: Any) -> str:
        return f"{obj.source_name}, issued {obj.issued_at.astimezone(obj.site.tz):%Y-%m-%d %H:%M}"


@dataclass(frozen=True)
class LimitRow:
    """One limit with its two fields, for the table of the form."""

    limit: dict[str, Any]
    value: BoundField
    source: BoundField


class SearchForm(SheetForm):
    template_name = "windows/search_fields.html"

    forecast = ForecastField(Forecast.objects.none(), label="Forecast")
    material_c = QuantityField(
        "material_c", label="Material at the mixer", help_text="Temperature that the grout is mixed at."
    )
    measured_concrete_c = QuantityField(
        "surface_c",
        label="Measured concrete",
        required=False,
        help_text="Surface under the plate, in shade. It corrects the computed temperature from then on.",
    )
    measured_at = WhenField(label="Measured at", required=False)
    align_by_at = WhenField(
        label="Alignment must start by", required=False, help_text="Leave empty without a deadline."
    )
    protection_h = QuantityField(
        "protection_h", label="Protection after the pour", help_text="How long the air limits must hold after placing."
    )
    shift = PickField(label="Placing inside the working shift", choices=Weight.choices)
    daylight = PickField(label="Placing by daylight", choices=Weight.choices)
    cover = PickField(label="Over plate and block", choices=CoverKind.choices, required=False)
    cover_from = WhenField(label="It stands from", required=False, help_text="Heating begins then.")
    cover_to = WhenField(label="It stands to", required=False)
    cover_held_c = QuantityField(
        "enclosure_c", label="Air that the heater holds", required=False, help_text="For a heated enclosure."
    )

    def __init__(self, *args: Any, plan: PourPlan, earlier: PourHours | None, **kwargs: Any) -> None:
        self.plan = plan
        self.usual = {limit["code"]: limit for limit in usual_limits(plan)}
        super().__init__(*args, zone=plan.machine.site.zone, **kwargs)
        rows = forecasts_to_pick(plan.machine.site)
        self.fields["forecast"].queryset = rows  # type: ignore[attr-defined]
        self._show(earlier, rows.first())
        shown = {limit["code"]: limit for limit in earlier.result["limits"]} if earlier else {}
        for code, limit in self.usual.items():
            self._add_limit(limit, shown.get(code, limit))

    def _show(self, earlier: PourHours | None, newest: Forecast | None) -> None:
        """The values of the search before this one, else what the plan says."""
        protection_h = earlier.result["inputs"]["protection_h"] if earlier else usual_protection(self.plan)[0]
        self.initial.update(
            {
                "forecast": newest,
                "material_c": self._initial("material_c", self.plan.planned_grout_c),
                "protection_h": self._initial("protection_h", protection_h),
                "shift": earlier.result["inputs"]["shift"] if earlier else Weight.MUST,
                "daylight": earlier.result["inputs"]["daylight"] if earlier else Weight.PREFERRED,
                "cover": CoverKind.NONE,
            }
        )
        if earlier:
            self.show_row(earlier, "material_c", "measured_concrete_c")
            self.initial.update(measured_at=earlier.measured_at, align_by_at=earlier.align_by_at)

    def _initial(self, name: str, value: float) -> list[Any]:
        field = self.fields[name]
        return field.initial_for(value, None, self.system) if isinstance(field, QuantityField) else [value]

    def _add_limit(self, limit: dict[str, Any], shown: dict[str, Any]) -> None:
        label = f"{limit['label']}, at {'least' if limit['is_minimum'] else 'most'}"
        value = QuantityField(LIMIT_KEYS[limit["suffix"]], label=label)
        value.system = self.system
        self.fields[f"limit_{limit['code']}"] = value
        self.initial[f"limit_{limit['code']}"] = value.initial_for(shown["value"], None, self.system)
        self.fields[f"source_{limit['code']}"] = TextField(label=f"Source of {label}", max_length=80)
        self.initial[f"source_{limit['code']}"] = shown["source"]

    def main_fields(self) -> list[BoundField]:
        return [self[name] for name in self.base_fields]

    def limit_rows(self) -> Iterator[LimitRow]:
        for code, limit in self.usual.items():
            yield LimitRow(limit, self[f"limit_{code}"], self[f"source_{code}"])

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if (given.get("measured_concrete_c") is None) != (given.get("measured_at") is None) and not self.errors:
            self.add_error(
                "measured_at",
                "Measured concrete and the time of the measurement belong together; give both or neither.",
            )
        self._check_cover(given)
        for code, limit in self.usual.items():
            value, source = given.get(f"limit_{code}"), given.get(f"source_{code}")
            if value and source == limit["source"] and abs(value.si - limit["value"]) > SAME:
                self.add_error(
                    f"source_{code}",
                    f"{limit['label']} {value.text} differs from the value in [{source}]; write where it comes from.",
                )
        return given

    def _check_cover(self, given: dict[str, Any]) -> None:
        kind, from_at, to_at = (given.get(name) for name in ("cover", "cover_from", "cover_to"))
        if kind in ("", CoverKind.NONE, None):
            return
        for name, at in (("cover_from", from_at), ("cover_to", to_at)):
            if at is None and name not in self.errors:
                self.add_error(name, f"{self.fields[name].label} is empty; a cover needs both its times [GROUTJOBS].")
        if from_at and to_at and to_at <= from_at:
            self.add_error("cover_to", "It stands to a time that is not after its beginning [GROUTJOBS].")
        if kind == CoverKind.HEATED and given.get("cover_held_c") is None and "cover_held_c" not in self.errors:
            self.add_error(
                "cover_held_c", "Air that the heater holds is empty; a heated enclosure needs it [GROUTJOBS]."
            )

    def _cover(self, values: dict[str, Any]) -> CoverAsked | None:
        kind = CoverKind(values["cover"] or CoverKind.NONE)
        if kind == CoverKind.NONE:
            return None
        held_c = values["cover_held_c"] if kind == CoverKind.HEATED else None
        return CoverAsked(kind=kind, from_at=values["cover_from"], to_at=values["cover_to"], held_c=held_c)

    def question(self) -> dict[str, Any]:
        """What search_pour_hours takes, besides the plan and the person."""
        values = self.values()
        asked = {name: values[name] for name in self.base_fields if not name.startswith("cover")}
        return asked | {"cover": self._cover(values), "limits": self._other_limits(), "as_entered": self.entered()}

    def _other_limits(self) -> dict[str, tuple[float, str]]:
        values = self.values()
        found = {}
        for code, limit in self.usual.items():
            value, source = values[f"limit_{code}"], values[f"source_{code}"]
            if abs(value - limit["value"]) > SAME or source != limit["source"]:
                found[code] = (value, source)
        return found
