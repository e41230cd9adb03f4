"""What the Cure page shows of a watched cure besides its state."""

from typing import Any

from groutjobs.curing.logger_queries import loggers_at
from groutjobs.curing.watch_drawing import SHOWN_MOVES, moves_picture
from groutjobs.curing.watch_models import KeptHeating, MilestoneMove, ReadingAside, WetEntry
from groutjobs.pours.models import Pour

SHOWN = 30
SHOWN_HEATINGS = 3


def moves_of(pour: Pour) -> list[MilestoneMove]:
    """The newest rows of the history of a pour, oldest first."""
    return list(MilestoneMove.objects.filter(pour=pour).order_by("-at", "-pk")[:SHOWN_MOVES])[::-1]


def watched(pour: Pour, state: dict[str, Any]) -> dict[str, Any]:
    """Moves, spans set aside, loggers that stand here, kept heatings, and for cement the log of wetting; five queries.

    `waiting` is set where newer readings or a newer forecast wait to be worked out.
    """
    moves = moves_of(pour) if state["started_at"] else []
    asides = ReadingAside.objects.filter(pour=pour).select_related("set_by", "back_by")
    outlook = state.get("outlook")
    return {
        "moves": moves,
        "moves_picture": moves_picture(moves, zone=pour.plan.machine.site.zone),
        "asides": list(asides[:SHOWN]),
        "stands": loggers_at(pour),
        "heatings": list(KeptHeating.objects.filter(pour=pour)[:SHOWN_HEATINGS]),
        "wet_entries": _wet_entries(pour) if state.get("cement") else [],
        "waiting": outlook is not None and not outlook["is_current"],
    }


def _wet_entries(pour: Pour) -> list[WetEntry]:
    return list(WetEntry.objects.filter(pour=pour).select_related("by", "struck_by")[:SHOWN])
