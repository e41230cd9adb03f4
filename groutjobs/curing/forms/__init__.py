"""Forms of the cure and of its inspections."""

from groutjobs.curing.forms.inspection import InspectionForm
from groutjobs.curing.forms.kinds import BoltsForm, JudgeForm, LevelForm, SoundingForm
from groutjobs.curing.forms.readings import ImportForm, ReadingForm, SetAsideForm

__all__ = [
    "BoltsForm",
    "ImportForm",
    "InspectionForm",
    "JudgeForm",
    "LevelForm",
    "ReadingForm",
    "SetAsideForm",
    "SoundingForm",
]
