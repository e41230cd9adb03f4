"""Who took part in a pour: names, roles at the site, and what each recorded or witnessed."""

from collections import Counter
from collections.abc import Iterator
from typing import Any

from groutjobs.accounts.models import User
from groutjobs.turnover.gathering import Gathered


def people_json(job: Gathered, *, frozen_by_id: int) -> list[dict[str, Any]]:
    """Everybody who made, recorded or witnessed a part, in the order of their ids."""
    parts = Counter(_parts(job))
    planners = (job.plan.made_by_id, job.plan.approved_by_id, frozen_by_id)
    ids = {person_id for person_id, _ in parts} | {person_id for person_id in planners if person_id}
    return [
        {
            "id": person.pk,
            "name": person.name,
            "roles": list(job.standing.roles.get(person.pk, ())),
            "parts": {word: count for (person_id, word), count in parts.items() if person_id == person.pk},
        }
        for person in User.objects.filter(pk__in=ids).order_by("pk")
    ]


def _parts(job: Gathered) -> Iterator[tuple[int, str]]:
    """One pair of person and word for each thing that the person did."""
    yield from ((line.fact.author_id, "entries") for line in job.standing.log.lines)
    answers = [answer for point in job.standing.log.points for answer in point.answers]
    yield from ((answer.witness_id, "hold points witnessed") for answer in answers if answer.witness_id)
    yield from ((photo.added_by_id, "photos") for photo in job.standing.photos)
    yield from ((row.made_by_id, "inspections") for row in job.standing.inspections)
    yield from ((row.brought_by_id, "sets of cure readings") for row in job.reading_imports)
    yield from ((row.set_by_id, "spans of readings set aside") for row in job.readings_aside)
    yield from ((row.back_by_id, "spans of readings taken back") for row in job.readings_aside if row.back_by_id)
