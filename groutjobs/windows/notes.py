"""What holds for a whole search, and weakens or bounds its answer."""

from dataclasses import dataclass

from groutjobs import units
from groutjobs.equipment.models import Exposure
from groutjobs.findings import Finding, Level
from groutjobs.planning.models import PourPlan
from groutjobs.weather.models import Forecast
from groutjobs.windows.question import Question
from groutjobs.wording import counted


@dataclass(frozen=True)
class BeforeForecast:
    """What was put before the forecast to bring the foundation to its temperature, and the error left of its start."""

    repeated_h: int
    typical_h: int
    left_error_k: float


def notes_about(
    plan: PourPlan, forecast: Forecast, question: Question, put_before: BeforeForecast, system: str
) -> list[Finding]:
    """What holds for the whole search, and weakens or bounds its answer."""
    return [
        *_weather_notes(forecast),
        _start_note(forecast, question, put_before, system),
        *_place_notes(plan, question),
        *_material_notes(plan, question, system),
    ]


def _note(level: Level, code: str, message: str, hint: str, source: str = "GROUTJOBS") -> Finding:
    return Finding(level=level, code=code, message=message, hint=hint, source=source)


def _weather_notes(forecast: Forecast) -> list[Finding]:
    notes = []
    if forecast.is_typical:
        message = f"{forecast.source_name}."
        hint = "It shows what is usual. Search again when a forecast reaches these days, before anything is promised."
        notes.append(_note(Level.WARNING, "typical_year", message, hint))
    if "rain_probability" not in forecast.hours:
        message = "The source tells no chance of rain, so rain was not judged."
        notes.append(_note(Level.WARNING, "no_rain", message, "Look at another forecast and at the sky."))
    return notes


def _start_note(forecast: Forecast, question: Question, put_before: BeforeForecast, system: str) -> Finding:
    """From what the foundation takes its temperature at the first hour, and how far off that may be."""
    message = f"{forecast.past_hours} past hours of the forecast bring the foundation to its temperature."
    before = []
    if put_before.repeated_h:
        before.append(f"its first day {put_before.repeated_h // 24} times")
    if put_before.typical_h:
        before.append(f"{counted(put_before.typical_h, 'hour')} of the typical year of this site")
    if before:
        message += f" Before them it was given {' and, further back, '.join(before)}."
    if question.measured_c is None:
        off = units.shown(put_before.left_error_k, "k", system)
        message += f" The concrete surface may be off by about {off} in the first three days."
    level, code = (
        (Level.WARNING, "few_past_hours") if put_before.repeated_h else (Level.NOTE, "start_of_the_foundation")
    )
    return _note(level, code, message, "Measure the concrete and search again with the reading; it corrects the start.")


def _place_notes(plan: PourPlan, question: Question) -> list[Finding]:
    notes = []
    if question.measured_c is None:
        message = "No measured concrete temperature was given; concrete and plate are computed from the weather alone."
        notes.append(
            _note(Level.NOTE, "not_measured", message, "Measure the concrete under the plate and search again.")
        )
    if plan.machine.site.annual_mean_c is None:
        message = "The site has no mean temperature of the year; the mean of this weather stands for the deep ground."
        notes.append(_note(Level.WARNING, "no_annual_mean", message, "Enter it on the sheet of the site."))
    if plan.machine.foundation.exposure == Exposure.INDOORS:
        message = "The foundation stands indoors; the air of the forecast was taken for the air of the hall."
        hint = "Enter the hours of the hall by hand where it is heated or cooled."
        notes.append(_note(Level.WARNING, "indoors", message, hint))
    return notes


def _material_notes(plan: PourPlan, question: Question, system: str) -> list[Finding]:
    sheet = plan.result["inputs"]["data_sheet"]
    low, high = sheet["placing_min_c"], sheet["placing_max_c"]
    if low <= question.material_c <= high:
        return []
    shown = [units.shown(value, "c", system) for value in (question.material_c, low, high)]
    message = f"Material at {shown[0]} is outside {shown[1]} to {shown[2]}, the placing limits of the data sheet."
    hint = "Store it warmer or cooler in time, with the pallet opened so that air reaches every bag and pail."
    source = f"DATASHEET {sheet['name']} rev {sheet['revision']}"
    return [_note(Level.BLOCKER, "material_c", message, hint, source)]
