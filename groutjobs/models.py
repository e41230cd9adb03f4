"""The list of all models, in flow order, for Django alone."""

from groutjobs.audit.models import Event, Head  # isort: skip
from groutjobs.accounts.models import (  # isort: skip
    Device,
    DeviceCode,
    Invitation,
    Membership,
    PhonePin,
    ShiftKey,
    User,
)
from groutjobs.equipment.models import (  # isort: skip
    AnchorBolt,
    Baseplate,
    Compartment,
    Foundation,
    Machine,
    PlatePart,
    Site,
    SurveyPoint,
)
from groutjobs.planning.models import DataSheet, GroutLot, GroutSystem, PlanPoint, PourPlan  # isort: skip
from groutjobs.weather.models import FeedState, Forecast, ForecastFeed, LearnedSpread, ServiceState  # isort: skip
from groutjobs.windows.models import PourHours  # isort: skip
from groutjobs.outages.models import (  # isort: skip
    CalendarLink,
    HoursNews,
    Outage,
    OutageCrew,
    OutageJob,
    OutageSchedule,
    ScheduledPour,
    SolveState,
)
from groutjobs.pours.models import Photo, PhotoOriginal, Pour, PourEntry  # isort: skip
from groutjobs.sync.models import (  # isort: skip
    Blob,
    DeviceContact,
    GapNote,
    OpBlob,
    OpRuling,
    PhoneOp,
    ServerMark,
)
from groutjobs.curing.models import CureInspection, CureReading, ReadingImport  # isort: skip
from groutjobs.turnover.models import Signature, TurnoverReport  # isort: skip
from groutjobs.reminders.models import (  # isort: skip
    DutyInHand,
    Mail,
    PersonalCalendar,
    ReminderChoice,
    ReminderRound,
)

__all__ = [
    "AnchorBolt",
    "Baseplate",
    "Blob",
    "CalendarLink",
    "Compartment",
    "CureInspection",
    "CureReading",
    "DataSheet",
    "Device",
    "DeviceCode",
    "DeviceContact",
    "DutyInHand",
    "Event",
    "FeedState",
    "Forecast",
    "ForecastFeed",
    "Foundation",
    "GapNote",
    "GroutLot",
    "GroutSystem",
    "Head",
    "HoursNews",
    "Invitation",
    "LearnedSpread",
    "Machine",
    "Mail",
    "Membership",
    "OpBlob",
    "OpRuling",
    "Outage",
    "OutageCrew",
    "OutageJob",
    "OutageSchedule",
    "PersonalCalendar",
    "PhoneOp",
    "PhonePin",
    "Photo",
    "PhotoOriginal",
    "PlanPoint",
    "PlatePart",
    "Pour",
    "PourEntry",
    "PourHours",
    "PourPlan",
    "ReadingImport",
    "ReminderChoice",
    "ReminderRound",
    "ScheduledPour",
    "ServerMark",
    "ServiceState",
    "ShiftKey",
    "Signature",
    "Site",
    "SolveState",
    "SurveyPoint",
    "TurnoverReport",
    "User",
]
