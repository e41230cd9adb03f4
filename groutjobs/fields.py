"""Form fields that turn what people type into SI values, and refuse in one sentence: field, value, limit, source."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.core.exceptions import ValidationError

from groutjobs import units
from groutjobs.limits import LIMITS, Limit
from groutjobs.reasons import REASON_LEAST, REASON_MOST, is_reason
from groutjobs.wording import counted

SHOWN_OF_LONG_TEXT = 40


def quoted(text: str) -> str:
    """A typed text as an error repeats it: whole when short, its beginning and length when long."""
    if len(text) <= SHOWN_OF_LONG_TEXT:
        return f"“{text}”"
    return f"“{text[:SHOWN_OF_LONG_TEXT]}…” ({len(text)} characters)"


@dataclass(frozen=True)
class Quantity:
    """A number as stored (SI) and as typed."""

    si: float
    text: str
    unit: str

    def entered(self) -> dict[str, str]:
        return {"text": self.text, "unit": self.unit}


def check_limit(label: str, typed: str, si: float, limit: Limit, *, confirmed: bool, system: str) -> None:
    """Raise ValidationError where the value is beyond a hard limit, or beyond the likely range and not confirmed."""

    def show(value: float) -> str:
        return limit.shown(value, system)

    if limit.whole and si != int(si):
        raise ValidationError(f"{label} {typed} is not a whole number [{limit.source}].", code="whole")
    if si < limit.low:
        raise ValidationError(
            f"{label} {typed} is below {show(limit.low)}, the lowest value taken [{limit.source}].", code="low"
        )
    if si > limit.high:
        raise ValidationError(
            f"{label} {typed} is above {show(limit.high)}, the highest value taken [{limit.source}].", code="high"
        )
    if not confirmed and not limit.likely_low <= si <= limit.likely_high:
        raise ValidationError(
            f"{label} {typed} is outside the usual {show(limit.likely_low)} to {show(limit.likely_high)} "
            f"[{limit.source}]. Correct it, or tick “It is right” and save again.",
            code="unlikely",
        )


class QuantityWidget(forms.MultiWidget):
    """Number, unit beside it, and the tick that confirms an unusual value."""

    template_name = "components/quantity_widget.html"

    def __init__(self, suffix: str) -> None:
        self.suffix = suffix
        choices = [(unit.key, unit.label) for unit in units.UNITS_OF[suffix]] if suffix else [("", "")]
        super().__init__(
            widgets={
                "": forms.TextInput(attrs={"inputmode": "text", "autocomplete": "off", "maxlength": None}),
                "unit": forms.Select(choices=choices),
                "sure": forms.CheckboxInput(),
            }
        )

    def id_for_label(self, id_: str) -> str:
        return f"{id_}_0" if id_ else id_

    def decompress(self, value: Any) -> list[Any]:
        if value is None:
            return ["", "", False]
        if isinstance(value, Quantity):
            return [value.text, value.unit, True]
        return list(value)


class QuantityField(forms.Field):
    """A number with a unit from the table of limits. Cleans to a Quantity, or None where nothing is required."""

    widget: Any = QuantityWidget

    def __init__(self, limit_key: str, *, label: str, fractions: bool = False, **kwargs: Any) -> None:
        self.limit = LIMITS[limit_key]
        self.fractions = fractions or self.limit.suffix == "mm"
        self.system = units.METRIC
        super().__init__(label=label, widget=QuantityWidget(self.limit.suffix), **kwargs)

    def clean(self, value: list[Any]) -> Quantity | None:
        text, unit, sure = (str(value[0] or ""), str(value[1] or ""), bool(value[2])) if value else ("", "", False)
        if not text.strip():
            if self.required:
                raise ValidationError(f"{self.label} is empty; {self._range()}.", code="required")
            return None
        si = self._read(text, unit)
        typed = f"{text.strip()} {units.unit_for(self.limit.suffix, unit).label}" if self.limit.suffix else text.strip()
        check_limit(str(self.label), typed, si, self.limit, confirmed=sure, system=self.system)
        return Quantity(si, text.strip(), unit)

    def _read(self, text: str, unit: str) -> float:
        try:
            number = units.read_number(text, fractions=self.fractions)
        except units.NotANumber as error:
            raise ValidationError(f"{self.label}: {_short(str(error))}; {self._range()}.", code="number") from error
        if not self.limit.suffix:
            return number
        try:
            return units.to_si(number, self.limit.suffix, unit)
        except KeyError as error:
            raise ValidationError(
                f"{self.label}: {quoted(unit)} is not one of its units [GROUTJOBS].", code="unit"
            ) from error

    def _range(self) -> str:
        low, high = (self.limit.shown(value, self.system) for value in (self.limit.low, self.limit.high))
        return f"{low} to {high} is taken [{self.limit.source}]"

    def initial_for(self, si: float | None, entered: dict[str, str] | None, system: str) -> list[Any]:
        """What the widget shows for a stored value: the text as it was typed, else the value in the reader's unit."""
        if si is None:
            unit = units.preferred_unit(self.limit.suffix, system).key if self.limit.suffix else ""
            return ["", unit, False]
        if entered:
            return [entered["text"], entered["unit"], True]
        if not self.limit.suffix:
            return [f"{si:g}", "", True]
        unit = units.preferred_unit(self.limit.suffix, system).key
        return [f"{units.from_si(si, self.limit.suffix, unit):.6g}", unit, True]


class TextField(forms.CharField):
    """Plain text with a stated length; an answer too long comes back whole, with its length named."""

    def __init__(self, *, label: str, max_length: int = 120, long: bool = False, **kwargs: Any) -> None:
        widget = forms.Textarea(attrs={"rows": 4}) if long else forms.TextInput()
        self.limit_length = max_length
        super().__init__(label=label, widget=kwargs.pop("widget", widget), **kwargs)

    def clean(self, value: Any) -> str:
        text = str(self.to_python(value))
        if not text and self.required:
            raise ValidationError(
                f"{self.label} is empty; up to {self.limit_length} characters fit [GROUTJOBS].", code="required"
            )
        if len(text) > self.limit_length:
            raise ValidationError(
                f"{self.label} {quoted(text)} is longer than {self.limit_length} characters, the limit [GROUTJOBS].",
                code="long",
            )
        if "\x00" in text:
            raise ValidationError(f"{self.label} holds a character that cannot be stored (NUL).", code="nul")
        return text


class ReasonField(TextField):
    """Why: a sentence of 10 to 300 characters."""

    def __init__(self, *, label: str, **kwargs: Any) -> None:
        super().__init__(label=label, max_length=REASON_MOST, long=True, **kwargs)

    def clean(self, value: Any) -> str:
        text = super().clean(value).strip()
        if text and not is_reason(text):
            raise ValidationError(
                f"{self.label} {quoted(text)} has {len(text)} characters; a reason has at least {REASON_LEAST} "
                "[GROUTJOBS].",
                code="short",
            )
        return text


class StatedField(forms.BooleanField):
    """A statement that must be ticked."""

    def clean(self, value: Any) -> bool:
        if not self.to_python(value):
            raise ValidationError(f"“{self.label}” is not ticked; it is part of the signature [GROUTJOBS].")
        return True


class PickField(forms.ChoiceField):
    """One of a list; any other answer is named."""

    def clean(self, value: Any) -> str:
        text = str(value or "")
        names = ", ".join(str(label) for key, label in self.choices if key != "")  # type: ignore[union-attr,misc]
        if not text and self.required:
            raise ValidationError(f"{self.label} is not chosen; it is one of: {names} [GROUTJOBS].", code="required")
        if text and not self.valid_value(text):
            raise ValidationError(
                f"{self.label} {quoted(text)} is none of: {names} [GROUTJOBS].", code="invalid_choice"
            )
        return text


class TicksField(forms.MultipleChoiceField):
    """One or more of a few choices, each with a box to tick. Cleans to texts in the order of the choices."""

    def __init__(self, *, label: str, choices: Any, help_text: str = "") -> None:
        super().__init__(label=label, choices=choices, help_text=help_text, widget=forms.CheckboxSelectMultiple)
        self._words = {str(key): str(words) for key, words in choices}

    def clean(self, value: Any) -> list[str]:
        known = self._words
        texts, names = [str(item) for item in value or []], ", ".join(known.values())
        if not texts:
            raise ValidationError(f"{self.label}: none is ticked; tick one or more of: {names} [GROUTJOBS].")
        for text in texts:
            if text not in known:
                raise ValidationError(f"{self.label}: {quoted(text)} is none of: {names} [GROUTJOBS].")
        return [key for key in known if key in texts]


class RowPickField(forms.ModelChoiceField):  # type: ignore[type-arg]
    """One row of a queryset that the form narrows to the person's site."""

    def clean(self, value: Any) -> Any:
        text = str(value or "")
        if not text and self.required:
            raise ValidationError(f"{self.label} is not chosen; pick one of the list [GROUTJOBS].", code="required")
        try:
            return super().clean(value)
        except ValidationError as error:
            raise ValidationError(
                f"{self.label} {quoted(text)} is not in the list [GROUTJOBS].", code="invalid_choice"
            ) from error


class DayField(forms.DateField):
    """A calendar day between 1900 and 2200."""

    def __init__(self, *, label: str, **kwargs: Any) -> None:
        super().__init__(label=label, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), **kwargs)

    def clean(self, value: Any) -> dt.date | None:
        text = str(value or "").strip()
        if not text:
            if self.required:
                raise ValidationError(f"{self.label} is empty; write a day as 2026-04-30 [ISO8601].", code="required")
            return None
        try:
            day = dt.date.fromisoformat(text)
        except ValueError as error:
            raise ValidationError(
                f"{self.label} {quoted(text)} is not a day; write it as 2026-04-30 [ISO8601].", code="invalid"
            ) from error
        if not 1900 <= day.year <= 2200:
            raise ValidationError(f"{self.label} {text} is not between 1900 and 2200 [GROUTJOBS].", code="range")
        return day


class WhenField(forms.Field):
    """A moment in the zone of the site. A time that a clock change skips or repeats is a question, not a guess."""

    def __init__(self, *, label: str, **kwargs: Any) -> None:
        widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
        self.zone = ZoneInfo("UTC")
        super().__init__(label=label, widget=widget, **kwargs)

    def prepare_value(self, value: Any) -> Any:
        return value.astimezone(self.zone).strftime("%Y-%m-%dT%H:%M") if isinstance(value, dt.datetime) else value

    def clean(self, value: Any) -> dt.datetime | None:
        text = str(value or "").strip()
        if not text:
            if self.required:
                raise ValidationError(
                    f"{self.label} is empty; write it as 2026-04-30 07:00, site time [ISO8601].", code="required"
                )
            return None
        try:
            moment = read_moment(text, self.zone)
        except ValueError as error:
            raise ValidationError(f"{self.label} {quoted(text)}: {error} [ISO8601].", code="invalid") from error
        if not 1990 <= moment.year <= 2200:
            raise ValidationError(f"{self.label} {quoted(text)} is not between 1990 and 2200 [GROUTJOBS].")
        return moment


def read_moment(text: str, zone: ZoneInfo) -> dt.datetime:
    """Read an ISO 8601 time; without an offset it is local to the zone. ValueError says what to write instead."""
    try:
        moment = dt.datetime.fromisoformat(text[:60])
    except ValueError as error:
        raise ValueError("not a time; write it as 2026-04-30 07:00, site time") from error
    if moment.tzinfo is not None:
        return moment
    early = moment.replace(tzinfo=zone, fold=0)
    late = moment.replace(tzinfo=zone, fold=1)
    if early.utcoffset() == late.utcoffset():
        return early
    if early.astimezone(dt.UTC).astimezone(zone).replace(tzinfo=None) != moment:
        raise ValueError(f"the clocks of {zone.key} skip this time; write a time before or after the change")
    options = " or ".join(f"{text}{option.strftime('%z')}" for option in (early, late))
    raise ValueError(f"the clocks of {zone.key} show this time twice that day; write {options}")


@dataclass(frozen=True)
class Column:
    """One column of a pasted table: a quantity by limit key, or text where the key is empty."""

    name: str
    label: str
    limit_key: str = ""
    required: bool = True
    max_length: int = 60


class TableWidget(forms.MultiWidget):
    """Lines of cells, the unit of their lengths, and the tick that confirms unusual values."""

    template_name = "components/table_widget.html"

    def __init__(self, columns: Sequence[Column]) -> None:
        self.columns = columns
        super().__init__(
            widgets={
                "": forms.Textarea(attrs={"rows": 6, "spellcheck": "false"}),
                "unit": forms.Select(choices=[(units.METRIC, "mm, °C, kg"), (units.US, "in, °F, lb")]),
                "sure": forms.CheckboxInput(),
            }
        )

    def id_for_label(self, id_: str) -> str:
        return f"{id_}_0" if id_ else id_

    def decompress(self, value: Any) -> list[Any]:
        return list(value) if value else ["", units.METRIC, False]

    def get_context(self, name: str, value: Any, attrs: Any) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        context["columns"] = self.columns
        return context


class TableField(forms.Field):
    """Several rows at once, pasted or typed: one line a row, cells apart by tab, semicolon or comma and space.

    Cleans to a list of dicts by column name: SI floats, text, None for an empty optional cell.
    """

    MAX_ROWS = 2000
    MAX_TEXT = 400_000

    def __init__(self, columns: Sequence[Column], *, label: str, min_rows: int = 0, **kwargs: Any) -> None:
        self.columns = columns
        self.min_rows = min_rows
        self.system = units.METRIC
        super().__init__(label=label, widget=TableWidget(columns), required=min_rows > 0, **kwargs)

    def clean(self, value: list[Any]) -> list[dict[str, Any]]:
        text, system, sure = (str(value[0] or ""), str(value[1] or ""), bool(value[2])) if value else ("", "", False)
        if system not in {units.METRIC, units.US}:
            raise ValidationError(f"{self.label}: {quoted(system)} is not one of the units.", code="unit")
        if len(text) > self.MAX_TEXT:
            raise ValidationError(
                f"{self.label} has {len(text)} characters; up to {self.MAX_TEXT} are taken [GROUTJOBS].", code="long"
            )
        lines = [(number, line) for number, line in enumerate(text.splitlines(), 1) if line.strip()]
        if not self.min_rows <= len(lines) <= self.MAX_ROWS:
            raise ValidationError(
                f"{self.label} has {counted(len(lines), 'row')}; "
                f"{self.min_rows} to {self.MAX_ROWS} are taken [GROUTJOBS].",
                code="rows",
            )
        rows, problems = [], []
        for number, line in lines:
            try:
                rows.append(self._row(line, system, sure))
            except ValidationError as error:
                problems.append(f"Line {number}: {error.messages[0]}")
        if problems:
            raise ValidationError(problems[:20])
        return rows

    def _row(self, line: str, system: str, sure: bool) -> dict[str, Any]:
        cells = split_cells(line)
        if len(cells) > len(self.columns):
            raise ValidationError(
                f"{len(cells)} cells, but {self.label} has {len(self.columns)}: "
                + "; ".join(column.label for column in self.columns)
                + " [GROUTJOBS]."
            )
        cells += [""] * (len(self.columns) - len(cells))
        return {
            column.name: self._cell(column, cell, system, sure)
            for column, cell in zip(self.columns, cells, strict=True)
        }

    def _cell(self, column: Column, cell: str, system: str, sure: bool) -> Any:
        if column.limit_key:
            field = QuantityField(column.limit_key, label=column.label, required=column.required)
            field.system = self.system
            suffix = field.limit.suffix
            unit = units.preferred_unit(suffix, system).key if suffix else ""
            quantity = field.clean([cell, unit, sure])
            return quantity.si if quantity else None
        return TextField(label=column.label, max_length=column.max_length, required=column.required).clean(cell)

    def initial_for(self, rows: Sequence[dict[str, Any]], system: str) -> list[Any]:
        """The rows as lines, in the reader's units."""
        return ["\n".join(self._line(row, system) for row in rows), system, bool(rows)]

    def _line(self, row: dict[str, Any], system: str) -> str:
        return "; ".join(self._shown(column, row.get(column.name), system) for column in self.columns)

    @staticmethod
    def _shown(column: Column, value: Any, system: str) -> str:
        if value is None or not column.limit_key:
            return str(value or "")
        suffix = LIMITS[column.limit_key].suffix
        if not suffix:
            return f"{value:g}"
        return f"{units.from_si(value, suffix, units.preferred_unit(suffix, system).key):.7g}"


def split_cells(line: str) -> list[str]:
    """Cells of one line: by tab if there is one, else by semicolon, else by comma followed by a space."""
    separator = "\t" if "\t" in line else ";" if ";" in line else ", "
    return [cell.strip() for cell in line.split(separator)]


class SheetForm(forms.Form):
    """The base of our forms: knows the reader's units and the site's zone, and hands out SI values."""

    template_name = "components/sheet_form.html"

    def __init__(self, *args: Any, system: str = units.METRIC, zone: str = "UTC", **kwargs: Any) -> None:
        self.system = system
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            if isinstance(field, QuantityField | TableField):
                field.system = system
            if isinstance(field, QuantityField) and name not in self.initial:
                self.initial[name] = field.initial_for(None, None, system)
            if isinstance(field, TableField) and name not in self.initial:
                self.initial[name] = ["", system, False]
            if isinstance(field, WhenField):
                field.zone = ZoneInfo(zone)

    def show_row(self, row: Any, *names: str) -> None:
        """Fill the initial values of these fields (all that the row has, without names) from a stored row."""
        entered = getattr(row, "as_entered", {})
        for name in names or [name for name in self.fields if hasattr(row, name)]:
            field, value = self.fields[name], getattr(row, name)
            if isinstance(field, QuantityField):
                self.initial[name] = field.initial_for(value, entered.get(name), self.system)
            else:
                self.initial[name] = value

    def values(self) -> dict[str, Any]:
        """Cleaned values, quantities as SI floats (whole ones as int)."""
        return {name: self._value(name, value) for name, value in self.cleaned_data.items()}

    def _value(self, name: str, value: Any) -> Any:
        if not isinstance(value, Quantity):
            return value
        field = self.fields[name]
        return int(value.si) if isinstance(field, QuantityField) and field.limit.whole else value.si

    def entered(self) -> dict[str, dict[str, str]]:
        """Text and unit of each quantity as typed, to be stored beside the SI values."""
        return {name: value.entered() for name, value in self.cleaned_data.items() if isinstance(value, Quantity)}

    def refuse(self, error: Exception, *, field: str | None = None) -> None:
        """Put an error of the engineering on the field it speaks of, or on the whole form."""
        self.add_error(field if field in self.fields else None, str(error))


def _short(message: str) -> str:
    return message if len(message) < 200 else message[:120] + "…"
