"""Forms of the cure and of its inspections."""

from groutjobs.curing.forms.inspection import InspectionForm
from groutjobs.curing.forms.kinds import BoltsForm, JudgeForm, LevelForm, SoundingForm
from groutjobs.curing.forms.loggers import LoggerForm, StandForm
from groutjobs.curing.forms.readings import ImportForm, ReadingForm, SetAsideForm
from groutjobs.curing.forms.watch import HeatForm, SpanAsideForm, SpanBackForm, StrikeForm, WetForm

__all__ = [
    "BoltsForm",
    "HeatForm",
    "ImportForm",
    "InspectionForm",
    "JudgeForm",
    "LevelForm",
    "LoggerForm",
    "ReadingForm",
    "SetAsideForm",
    "SoundingForm",
    "SpanAsideForm",
    "SpanBackForm",
    "StandForm",
    "StrikeForm",
    "WetForm",
]
