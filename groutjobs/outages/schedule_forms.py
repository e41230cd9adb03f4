"""Forms of crews, jobs and schedules of an outage."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.core.exceptions import ValidationError

from groutjobs.accounts.queries import colleagues
from groutjobs.equipment.forms import ClockField, DaysField
from groutjobs.equipment.models import Site
from groutjobs.fields import QuantityField, RowPickField, SheetForm, TextField, TicksField, WhenField, quoted
from groutjobs.outages.models import OutageCrew, OutageJob, Skill
from groutjobs.planning.models import PourPlan
from groutjobs.weather.models import Forecast
from groutjobs.windows.forms import ForecastField
from groutjobs.windows.result import iso
from groutjobs.wording import counted

StepHours = Sequence[tuple[str, str, float]]
MOST_DAYS_OFF = 60


class PeopleField(forms.MultipleChoiceField):
    """People of the site, by number; none is an answer too."""

    def __init__(self, *, label: str, help_text: str) -> None:
        widget = forms.CheckboxSelectMultiple
        super().__init__(label=label, required=False, widget=widget, help_text=help_text)

    def clean(self, value: Any) -> list[int]:
        texts = [str(item) for item in value or []]
        for text in texts:
            if not self.valid_value(text):
                raise ValidationError(f"{self.label}: {quoted(text)} is nobody of this site [GROUTJOBS].")
        return sorted({int(text) for text in texts})


class DaysOffField(TextField):
    """Calendar days, apart by commas or spaces. Cleans to ISO 8601 texts, rising."""

    def clean(self, value: Any) -> Any:
        days = super().clean(value).replace(",", " ").split()
        if len(days) > MOST_DAYS_OFF:
            raise ValidationError(
                f"{self.label} has {counted(len(days), 'day')}; up to {MOST_DAYS_OFF} are taken [GROUTJOBS].",
                code="rows",
            )
        return sorted({self._day(day) for day in days})

    def _day(self, text: str) -> str:
        try:
            day = dt.date.fromisoformat(text)
        except ValueError as error:
            raise ValidationError(
                f"{self.label} {quoted(text)} is not a day; write it as 2026-04-30 [ISO8601].", code="invalid"
            ) from error
        if not 1990 <= day.year <= 2200:
            raise ValidationError(f"{self.label} {text} is not between 1990 and 2200 [GROUTJOBS].", code="range")
        return day.isoformat()

    def prepare_value(self, value: Any) -> Any:
        return ", ".join(value) if isinstance(value, list) else value


class CrewForm(SheetForm):
    name = TextField(label="Name of the crew", max_length=40)
    skills = TicksField(label="Skills", choices=Skill.choices)
    shift_starts = ClockField(label="Shift starts")
    shift_ends = ClockField(label="Shift ends")
    working_days = DaysField(label="Working days")
    people = PeopleField(label="People", help_text="Their own calendars then hold the steps of this crew.")

    def __init__(self, *args: Any, site: Site, row: OutageCrew | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        names = [(str(one.user.pk), one.user.name) for one in colleagues(site.pk)]
        self.fields["people"].choices = names  # type: ignore[attr-defined]
        like = row or site
        for name in ("shift_starts", "shift_ends"):
            self.initial[name] = getattr(like, name).strftime("%H:%M")
        self.initial["working_days"] = [str(day) for day in like.working_days]
        if row is not None:
            self.initial["name"], self.initial["skills"] = row.name, row.skills
            self.initial["people"] = [str(pk) for pk in row.people.values_list("pk", flat=True)]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if given.get("shift_starts") and given.get("shift_starts") == given.get("shift_ends"):
            self.add_error("shift_ends", "Shift ends when it starts; give a shift some length [GROUTJOBS].")
        return given


class MeansForm(SheetForm):
    mixers = QuantityField("outage_mixers", label="Mixers", help_text="Each pour takes one while it is placed.")
    alignment_tools = QuantityField("outage_aligners", label="Sets of alignment tools")
    days_off = DaysOffField(
        label="Days off", required=False, max_length=1000, help_text="Days on which nobody works, as 2026-04-30."
    )


@dataclass(frozen=True)
class StepFields:
    """One step of a job in the form: its usual hours, the field of other hours, the field of a held start."""

    label: str
    usual_h: float
    hours: forms.BoundField
    held: forms.BoundField | None


class JobForm(SheetForm):
    """Date, weight, and what differs from the usual steps. A field is made for each step."""

    template_name = "outages/job_fields.html"

    due_at = WhenField(
        label="Handed over to alignment by", required=False, help_text="Leave empty where no date is set."
    )
    weight = QuantityField("job_weight", label="Weight", help_text="What an hour of lateness costs beside other jobs.")

    def __init__(
        self, *args: Any, usual: StepHours, lockable: set[str], row: OutageJob | None = None, **kwargs: Any
    ) -> None:
        self.usual, self.lockable, zone = usual, lockable, kwargs.get("zone", "UTC")
        super().__init__(*args, **kwargs)
        self.initial["weight"] = ["1", "", False]
        for code, label, _ in usual:
            self._add(f"hours_{code}", QuantityField("step_h", label=f"Hours of “{label}”", required=False))
            if code in lockable:
                self._add(f"held_{code}", WhenField(label=f"“{label}” held at", required=False), zone)
        if row is not None:
            self.initial["due_at"] = row.due_at
            self.initial["weight"] = [str(row.weight), "", True]
            self._show(row)

    def _add(self, name: str, field: Any, zone: str = "UTC") -> None:
        self.fields[name] = field
        if isinstance(field, QuantityField):
            field.system = self.system
            self.initial[name] = field.initial_for(None, None, self.system)
        else:
            field.zone = ZoneInfo(zone)

    def _show(self, row: OutageJob) -> None:
        for code, hours in row.hours_of_steps.items():
            field: Any = self.fields[f"hours_{code}"]
            self.initial[f"hours_{code}"] = field.initial_for(hours, None, self.system)
        for code, at in row.locked.items():
            self.initial[f"held_{code}"] = dt.datetime.fromisoformat(at)

    def main_fields(self) -> list[forms.BoundField]:
        return [self["due_at"], self["weight"]]

    def step_rows(self) -> list[StepFields]:
        return [
            StepFields(label, hours, self[f"hours_{code}"], self[f"held_{code}"] if code in self.lockable else None)
            for code, label, hours in self.usual
        ]

    def values(self) -> dict[str, Any]:
        given = super().values()
        codes = [code for code, _, _ in self.usual]
        return {
            "due_at": given["due_at"],
            "weight": given["weight"],
            "hours_of_steps": {code: given[f"hours_{code}"] for code in codes if given[f"hours_{code}"] is not None},
            "locked": {code: iso(given[f"held_{code}"]) for code in codes if given.get(f"held_{code}")},
        }


class PlanForm(SheetForm):
    plan = RowPickField(PourPlan.objects.none(), label="Approved plan")

    def __init__(self, *args: Any, plans: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["plan"].queryset = plans  # type: ignore[attr-defined]


class AgainForm(SheetForm):
    forecast = ForecastField(Forecast.objects.none(), label="Forecast", help_text="The one to judge every machine by.")

    def __init__(self, *args: Any, forecasts: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["forecast"].queryset = forecasts  # type: ignore[attr-defined]
        self.initial["forecast"] = next(iter(forecasts), None)


class AskForm(SheetForm):
    seconds = QuantityField("solve_s", label="Seconds to compute", help_text="Longer finds better schedules.")
    mixers = QuantityField("more_count", label="More mixers")
    alignment_tools = QuantityField("more_count", label="More sets of alignment tools")
    mechanical = QuantityField("more_count", label="More crews for mechanical work")
    concrete = QuantityField("more_count", label="More crews for concrete preparation")
    grout = QuantityField("more_count", label="More crews for formwork and grout")
    later_h = QuantityField("later_h", label="Hours by which the outage ends later")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.fields:
            self.initial[name] = ["30" if name == "seconds" else "0", "", False]

    def values(self) -> dict[str, Any]:
        given = super().values()
        return {"seconds": given.pop("seconds"), "what_if": {name: count for name, count in given.items() if count}}


class AcceptForm(SheetForm):
    reason = TextField(
        label="Reason", max_length=200, required=False, help_text="Needed where a job is late: who agreed to that."
    )
