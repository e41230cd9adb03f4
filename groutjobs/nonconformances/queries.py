"""Reads of nonconformances that pages, the Day sheet and the turnover share."""

from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Prefetch, QuerySet

from groutjobs.curing.models import CureInspection, CureReading
from groutjobs.equipment.models import Site
from groutjobs.nonconformances.models import STATES_THAT_BLOCK, Nonconformance, NonconformanceStep
from groutjobs.pours.models import Photo, Pour, PourEntry

PEOPLE = ("raised_by", "decided_by", "dealt_by", "closed_by")


def nonconformances() -> QuerySet[Nonconformance]:
    rows = Nonconformance.objects.select_related("site", "pour__plan__machine", *PEOPLE)
    return rows.defer("pour__plan__result")


def with_steps(rows: QuerySet[Nonconformance]) -> QuerySet[Nonconformance]:
    steps = NonconformanceStep.objects.select_related("by", "entry", "inspection").order_by("pk")
    return rows.select_related("entry", "inspection", "reading").prefetch_related(Prefetch("steps", steps))


def nonconformances_of(pour: Pour) -> list[Nonconformance]:
    """All nonconformances of a pour with their steps, in the order they were raised; two queries."""
    return list(with_steps(nonconformances()).filter(pour=pour).order_by("number"))


def open_ones(site: Site, count: int = 8) -> list[Nonconformance]:
    """The oldest that are not closed at a site."""
    return list(nonconformances().filter(site=site, state__in=STATES_THAT_BLOCK).order_by("number")[:count])


def origin_of(pour: Pour, asked: dict[str, str]) -> dict[str, Any] | None:
    """The entry, inspection or reading of this pour that a page names; {} for none, None where it is not of it."""
    for name, rows in (
        ("entry", PourEntry.objects.filter(pour=pour)),
        ("inspection", CureInspection.objects.filter(pour=pour)),
        ("reading", CureReading.objects.filter(pour=pour)),
    ):
        if not (text := asked.get(name, "")):
            continue
        try:
            row = rows.filter(pk=text).first()
        except (ValueError, OverflowError, ValidationError):
            return None
        return None if row is None else {name: row}
    return {}


def photos_by_id(pour: Pour) -> dict[int, Photo]:
    return {photo.pk: photo for photo in Photo.objects.filter(pour=pour)}


def origin_words(row: Nonconformance) -> str:
    """What it was raised from, in words."""
    if row.entry is not None:
        return f"entry of the pour log: {row.entry.get_kind_display().lower()}"
    if row.inspection is not None:
        return f"inspection: {row.inspection.get_kind_display().lower()}"
    if row.reading is not None:
        return f"reading: {row.reading.get_probe_display().lower()} {row.reading.typed or row.reading.temp_c}"
    return "raised freely"


def nonconformance_json(row: Nonconformance) -> dict[str, Any]:
    """One nonconformance with its steps, as plain JSON for the turnover."""
    return {
        "id": row.pk,
        "number": row.number,
        "label": str(row),
        "origin": origin_words(row),
        "entry_id": str(row.entry_id) if row.entry_id else None,
        "inspection_id": row.inspection_id,
        "reading_id": row.reading_id,
        "found": row.found,
        "place": row.place,
        "x_mm": row.x_mm,
        "y_mm": row.y_mm,
        "state": row.state,
        "state_words": row.get_state_display(),
        "disposition": row.disposition,
        "disposition_words": row.get_disposition_display() if row.disposition else "",
        "decided_because": row.decided_because,
        "acceptance_source": row.acceptance_source,
        **{name: person.name if (person := getattr(row, name)) else None for name in PEOPLE},
        "raised_at": row.raised_at.isoformat(),
        "closed_at": row.closed_at.isoformat() if row.closed_at else None,
        "steps": [
            {
                "kind": step.kind,
                "kind_words": step.get_kind_display(),
                "at": step.at.isoformat(),
                "by": step.by.name,
                "by_id": step.by_id,
                "words": step.words,
                "disposition": step.disposition,
                "acceptance_source": step.source,
                "entry_id": str(step.entry_id) if step.entry_id else None,
                "inspection_id": step.inspection_id,
                "photos": step.photos,
            }
            for step in row.steps.all()
        ],
    }
