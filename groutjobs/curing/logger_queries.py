"""Reads of loggers that pages share."""

from typing import Any

from django.db.models import Max, Prefetch

from groutjobs.curing.logger_models import Logger, LoggerStand
from groutjobs.equipment.models import Site
from groutjobs.instruments.models import Instrument, InstrumentKind
from groutjobs.instruments.queries import instruments_in_use
from groutjobs.pours.models import STATES_OPEN_FOR_READINGS, Pour

SHOWN = 20
MACHINE = "pour__plan__machine"


def logger_rows(site: Site) -> list[Logger]:
    """Loggers of a site with where they stand now and when they sent last; two queries."""
    standing = LoggerStand.objects.filter(until_at=None).select_related(MACHINE)
    rows = Logger.objects.filter(site=site).annotate(last_at=Max("batches__received_at"))
    return list(rows.prefetch_related(Prefetch("stands", standing, to_attr="standing")))


def logger_pages(logger: Logger) -> dict[str, Any]:
    """Where one logger stood, its keys, what it sent, and the instrument that it is; four or five queries."""
    return {
        "stands": list(logger.stands.select_related(MACHINE, "set_by")[:SHOWN]),
        "keys": list(logger.keys.select_related("made_by", "revoked_by")[:SHOWN]),
        "batches": list(logger.batches.all()[:SHOWN]),
        "instrument": instrument_of(logger),
    }


def instrument_of(logger: Logger) -> Instrument | None:
    """The data logger with its serial number on the list of instruments in use, where there is one."""
    if not logger.serial:
        return None
    return instruments_in_use(logger.site).filter(kind=InstrumentKind.LOGGER, serial__iexact=logger.serial).first()


def running_pours(site: Site) -> list[Pour]:
    """Pours of a site that take readings, newest first."""
    rows = Pour.objects.filter(plan__machine__site=site, state__in=STATES_OPEN_FOR_READINGS)
    return list(rows.select_related("plan__machine").order_by("-pk")[:60])


def loggers_at(pour: Pour) -> list[LoggerStand]:
    """Loggers that stand at a pour now."""
    return list(LoggerStand.objects.filter(pour=pour, until_at=None).select_related("logger"))
