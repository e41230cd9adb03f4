"""Forms of the cure and of its inspections."""

from groutjobs.curing.forms.inspection import InspectionForm
from groutjobs.curing.forms.kinds import BoltsForm, LevelForm, SoundingForm
from groutjobs.curing.forms.readings import ImportForm, ReadingForm, SetAsideForm

__all__ = ["BoltsForm", "ImportForm", "InspectionForm", "LevelForm", "ReadingForm", "SetAsideForm", "SoundingForm"]
